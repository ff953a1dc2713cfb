"""A template as a flat drawing: edge, skin, centre line, level line, marks, sides, name, day."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.templates import TICK_EVERY_MM, Form, Template, TemplateMark
from saddlebench.engine.units import Length
from saddlebench.exchange.drawings.ink import shortened
from saddlebench.exchange.planar.model import Label, Layer, PlanarDrawing, Stroke
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

USES = {
    Form.HOLLOW: "hollow: stands above the skin, to lay on the horse or on a rebuild",
    Form.FULL: "full: the back's own shape, to lay in the saddle's underside",
}
TICK_MM = 3.0
_NAME_MM = 3.2
_BESIDE_MM = 8.0
_EDGE_MM = 18.0
"""Words keep so far from the edge: turned ones stand along it."""
_WIDTH_OF_HEIGHT = 0.65
"""A letter's usual width in heights of a capital."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateNames:
    """What is written on every template."""

    label: str
    measured_on: dt.date


def template_drawing(template: Template, names: TemplateNames) -> PlanarDrawing:
    """Return a template as a flat drawing at true size, in the language that is spoken."""
    inward = 1.0 if template.form is Form.HOLLOW else -1.0
    strokes = [Stroke(layer=Layer.CUT, points=template.outline, closed=True)]
    strokes += [Stroke(layer=Layer.SKIN, points=run) for run in template.curve]
    strokes += [Stroke(layer=Layer.NOT_MEASURED, points=gap) for gap in template.gaps]
    strokes += [Stroke(layer=Layer.ENGRAVE, points=line) for line in (*template.centre, template.level)]
    strokes += [
        Stroke(layer=Layer.ENGRAVE, points=_tick(np.array(tick.at), inward * TICK_MM))
        for tick in template.ticks
    ]
    strokes += [
        Stroke(layer=Layer.ENGRAVE, points=_tick(np.array(mark.at), inward * 3 * TICK_MM))
        for mark in template.marks
    ]
    return PlanarDrawing(
        name=template.code.lower().replace(" ", "-"),
        title=f"{names.label}: {said(f'{template.title}, {template.form} template')}",
        description=f"{said('Template at true size, millimetres.')} {said(USES[template.form])}.",
        strokes=tuple(strokes),
        labels=tuple(_labels(template, names, inward)),
    )


def _tick(at: FloatArray, length_mm: float) -> FloatArray:
    return np.stack([at, at + np.array([0.0, length_mm])])


def _labels(template: Template, names: TemplateNames, inward: float) -> Iterator[Label]:
    left, right = float(template.level[0, 0]), float(template.level[1, 0])
    middle, level = 0.5 * (left + right), float(template.level[0, 1])
    far = level + inward * 8.0 - (4.0 if inward < 0 else 0.0)
    shown = f"{shortened(names.label, 28)}, {reader().day(names.measured_on)}"
    titled = said(f"{template.title}, {template.form} template")
    named = f"{template.code.split()[0]}: {titled}"
    # Sheets of paper are joined along the middle: a name stands on one of them where there is room.
    width = _WIDTH_OF_HEIGHT * _NAME_MM * len(named)
    start = _BESIDE_MM if template.s_mm is not None else left + _EDGE_MM
    fits = start + width < right - _EDGE_MM
    for words, up, height in ((named, 0.0, _NAME_MM), (f"{shown}. {_thickness(template)}", 5.5, 3.0)):
        at = (start if fits else middle, far + inward * up)
        yield Label(words=words, at=at, height_mm=height, centred=not fits)
    yield Label(words=said("level"), at=(left + 26.0, level + 1.5), height_mm=3.0)
    side = level - inward * 9.0
    yield Label(words=said(template.left_words), at=(left + _EDGE_MM, side), height_mm=5.0, centred=False)
    right_words = said(template.right_words)
    # Centred, it ends before the edge however long the word is; capitals are some 0.8 of their height wide.
    half = 0.5 * 0.8 * 5.0 * len(right_words)
    yield Label(words=right_words, at=(right - half - _EDGE_MM, side), height_mm=5.0)
    for mark in template.marks:
        if mark.name != "spine strip":
            up = mark.at[1] + inward * (3 * TICK_MM + 2.0) - (3.0 if inward < 0 else 0.0)
            # Sheets of paper are joined along the midline: its name stands beside it, whole on one of them.
            beside = mark.name == "midline"
            at = (mark.at[0] + (8.0 if beside else 0.0), up)
            yield Label(words=said(mark.name), at=at, height_mm=3.0, centred=not beside)
    for tick in template.ticks:
        up = tick.at[1] + inward * (TICK_MM + 1.0) - (2.0 if inward < 0 else 0.0)
        yield Label(words=_tick_words(template, tick), at=(tick.at[0], up), height_mm=2.0)
    for end, inside in zip(template.ends, (1.0, -1.0), strict=True):
        if end.name.startswith("not measured"):
            across = _clear_of(template.ticks, end.at[0], inside)
            # The line rises from its end: further in, a hollow template's label has to stand higher above it.
            above = max(0.0, inward) * 2.0 * (abs(across - end.at[0]) - 4.0)
            at = (across, end.at[1] + inward * 26.0 + above)
            yield Label(words=said(end.name), at=at, height_mm=2.6, turned_deg=90.0, layer=Layer.NOT_MEASURED)
    for gap in template.gaps:
        at = gap.mean(axis=0)
        yield Label(
            words=said("not measured"),
            at=(float(at[0]), float(at[1]) + 3.0),
            height_mm=3.5,
            layer=Layer.NOT_MEASURED,
        )


def _clear_of(ticks: Sequence[TemplateMark], end: float, inside: float) -> float:
    """Return where a turned label stands beside an end, away from the numbers of ticks [mm]."""
    away = next(
        (by for by in (4.0, 8.0, 12.0) if all(abs(end + inside * by - tick.at[0]) > 4.5 for tick in ticks)),
        4.0,
    )
    return end + inside * away


def _tick_words(template: Template, tick: TemplateMark) -> str:
    """Return how far out a tick stands in the reader's lengths; along the topline, which section it is."""
    if template.s_mm is None:
        return tick.name
    return f"{abs(tick.at[0]) / reader().length.in_mm:.3g}"


def ticks_every_mm() -> float:
    """Return how far apart a section's ticks stand for the reader: 50 mm, or two inches."""
    return 2.0 * Length.INCH.in_mm if reader().length is Length.INCH else TICK_EVERY_MM


def _thickness(template: Template) -> str:
    if template.thickness_mm <= 0.0:
        return said("For paper and thin card.")
    return said(f"For a sheet {template.thickness_mm:g} mm thick, its middle here.")
