"""Templates at true size: cross-sections as seen from behind, the topline with the head to the left.

A template's plane has x to the right and y up, both in mm. In a section x = −y of the back frame (the near
side on the left); along the topline x is the distance behind the shoulder mark.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import (
    Envelope,
    SectionCurve,
    lengthwise_curve,
    marks_along,
    require_measured,
    section_curve,
    stations_of,
)

BODY_MM = 45.0
"""How much sheet stands above the highest, or below the lowest, place of a curve [mm]."""
LEVEL_MM = 25.0
"""The level line stands this far above (hollow) or below (full) the curve's highest or lowest place [mm]."""
TICK_EVERY_MM = 50.0


class Form(StrEnum):
    """Which side of the skin the sheet stands on."""

    HOLLOW = "hollow"
    """The sheet lies above the skin: it is laid on the horse, or on a rebuild, from above."""
    FULL = "full"
    """The sheet has the back's own shape: it is laid in the saddle's underside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateMark:
    """A place on the curve with its name."""

    name: str
    at: tuple[float, float]
    """Template plane [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """One template."""

    code: str
    """“S3 hollow”, “T full”: short, and different for each of a set."""
    title: str
    form: Form
    s_mm: float | None
    """Distance of a section behind the shoulder mark [mm]; None for the topline."""
    curve: tuple[FloatArray, ...]
    """Runs (n, 2) float, template plane, left to right: the skin where it was measured [mm]."""
    gaps: tuple[FloatArray, ...]
    """(2, 2) float each, template plane: straight lines over what was not measured [mm]."""
    outline: FloatArray
    """(n, 2) float, template plane: the sheet's edge, closed, anticlockwise [mm]."""
    centre: tuple[FloatArray, ...]
    """(2, 2) float each, template plane: the centre line (or the shoulder mark's plumb line) [mm]."""
    level: FloatArray
    """(2, 2) float, template plane: the level line [mm]."""
    marks: tuple[TemplateMark, ...]
    ticks: tuple[TemplateMark, ...]
    """Places on the curve every 50 mm from the centre line; along the topline, the sections."""
    ends: tuple[TemplateMark, ...]
    """Where the curve stops, and why."""
    left_words: str
    right_words: str
    thickness_mm: float
    """Of the sheet that was allowed for [mm]; 0: none, the curve itself."""


def template_set(
    estimated: EstimatedBack,
    distances_mm: Sequence[float] | None = None,
    *,
    forms: Sequence[Form] = (Form.HOLLOW, Form.FULL),
    thickness_mm: float = 0.0,
    ticks_every_mm: float = TICK_EVERY_MM,
    topline: bool = True,
) -> tuple[Template, ...]:
    """Return the templates of a back: its sections in turn, then its topline, each in every form.

    Parameters
    ----------
    estimated : EstimatedBack
    distances_mm : sections, behind the shoulder mark; by default the stations [mm]
    forms : hollow, full, or both
    thickness_mm : of the sheet that the templates are cut from [mm]
    ticks_every_mm : between a section's ticks, out from the centre line [mm]
    topline : whether the topline is wanted too

    Raises
    ------
    InputProblemsError
        If the back was not measured at a section.
    """
    places = tuple(sorted(distances_mm)) if distances_mm is not None else stations_of(estimated)
    require_measured(estimated, places)
    made = [
        _section_template(estimated, number, s, form, thickness_mm, ticks_every_mm)
        for number, s in enumerate(places, start=1)
        for form in forms
    ]
    if topline:
        made += [_topline_template(estimated, places, form, thickness_mm) for form in forms]
    return tuple(made)


def envelope_of(form: Form, thickness_mm: float) -> Envelope:
    """Return what a square-edged sheet follows: it must clear the back (hollow), or not overtop it (full)."""
    if thickness_mm <= 0.0:
        return Envelope.MIDDLE
    return Envelope.HIGHEST if form is Form.HOLLOW else Envelope.LOWEST


def _section_template(
    estimated: EstimatedBack,
    number: int,
    s_mm: float,
    form: Form,
    thickness_mm: float,
    ticks_every_mm: float,
) -> Template:
    found = section_curve(
        estimated, s_mm, thickness_mm=thickness_mm, envelope=envelope_of(form, thickness_mm)
    )
    if not isinstance(found, SectionCurve):
        msg = "the places were checked before"
        raise TypeError(msg)
    points = found.points * np.array([-1.0, 1.0])
    points = points[::-1]
    top = float(np.interp(0.0, points[:, 0], points[:, 1])) if _monotone(points) else found.top_mm
    kept, ends = _open_below(points) if form is Form.HOLLOW else (points, _measured_ends(points))
    way = "behind" if s_mm >= 0.0 else "in front of"
    where = f"{abs(s_mm):.0f} mm {way} the shoulder mark" if abs(s_mm) >= 0.5 else "at the shoulder mark"
    return Template(
        code=f"S{number} {form}",
        title=f"Section {number}, {where}",
        form=form,
        s_mm=s_mm,
        curve=(kept,),
        gaps=(),
        outline=_outline(kept, form),
        centre=_centre(kept, form, top),
        level=_level(kept, form),
        marks=tuple(_section_marks(estimated, kept)),
        ticks=_ticks(kept, ticks_every_mm),
        ends=ends,
        left_words="NEAR (left)",
        right_words="OFF (right)",
        thickness_mm=thickness_mm,
    )


def _monotone(points: FloatArray) -> bool:
    return bool(np.all(np.diff(points[:, 0]) > 0.0))


def _open_below(points: FloatArray) -> tuple[FloatArray, tuple[TemplateMark, ...]]:
    """Cut a section (n, 2) float, template plane [mm], at its widest places: it is laid on from above."""
    first, last = int(np.argmin(points[:, 0])), int(np.argmax(points[:, 0]))
    kept = points[first : last + 1]
    words = ["not measured below" if first == 0 else "widest place"]
    words.append("not measured below" if last == len(points) - 1 else "widest place")
    return kept, (_mark(words[0], kept[0]), _mark(words[1], kept[-1]))


def _measured_ends(points: FloatArray) -> tuple[TemplateMark, ...]:
    return (_mark("not measured below", points[0]), _mark("not measured below", points[-1]))


def _mark(name: str, at: FloatArray) -> TemplateMark:
    return TemplateMark(name=name, at=(float(at[0]), float(at[1])))


def _outline(curve: FloatArray, form: Form) -> FloatArray:
    left, right = curve[0], curve[-1]
    if form is Form.HOLLOW:
        upper = float(curve[:, 1].max()) + BODY_MM
        return np.vstack([curve, [right[0], upper], [left[0], upper]])
    lower = float(curve[:, 1].min()) - BODY_MM
    return np.vstack([[left[0], lower], [right[0], lower], curve[::-1]])


def _centre(curve: FloatArray, form: Form, at_height: float) -> tuple[FloatArray, ...]:
    far = float(curve[:, 1].max()) + BODY_MM if form is Form.HOLLOW else float(curve[:, 1].min()) - BODY_MM
    return (np.array([[0.0, at_height], [0.0, far]]),)


def _level(curve: FloatArray, form: Form) -> FloatArray:
    upper, lower = float(curve[:, 1].max()) + LEVEL_MM, float(curve[:, 1].min()) - LEVEL_MM
    height = upper if form is Form.HOLLOW else lower
    return np.array([[curve[0, 0], height], [curve[-1, 0], height]])


def _on_curve(curve: FloatArray, x_mm: float) -> FloatArray | None:
    """Return the topmost place (2,) of a curve (n, 2) float, template plane [mm], over x; None beyond it."""
    low, high = np.minimum(curve[:-1, 0], curve[1:, 0]), np.maximum(curve[:-1, 0], curve[1:, 0])
    spans = np.flatnonzero((low <= x_mm) & (x_mm <= high) & (high > low))
    if len(spans) == 0:
        return None
    share = (x_mm - curve[spans, 0]) / (curve[spans + 1, 0] - curve[spans, 0])
    heights = curve[spans, 1] + share * (curve[spans + 1, 1] - curve[spans, 1])
    return np.array([x_mm, float(heights.max())])


def _ticks(curve: FloatArray, every_mm: float) -> tuple[TemplateMark, ...]:
    reach = int(np.abs(curve[:, 0]).max() // every_mm)
    places = [every_mm * k for k in range(-reach, reach + 1) if k != 0]
    return tuple(_mark(f"{abs(x):.0f}", on) for x in places if (on := _on_curve(curve, x)) is not None)


def _section_marks(estimated: EstimatedBack, curve: FloatArray) -> Iterator[TemplateMark]:
    middle = _on_curve(curve, 0.0)
    if middle is not None:
        yield _mark("midline", middle)
    strip = estimated.landmarks.spine_strip_width
    if is_known(strip):
        for side in (-0.5, 0.5):
            edge = _on_curve(curve, side * strip.value_mm)
            if edge is not None:
                yield _mark("spine strip", edge)


def _topline_template(
    estimated: EstimatedBack, places: Sequence[float], form: Form, thickness_mm: float
) -> Template:
    found = lengthwise_curve(estimated, thickness_mm=thickness_mm, envelope=envelope_of(form, thickness_mm))
    points = np.stack([found.s_mm, found.z_mm], axis=1)
    runs, gaps = _runs(points, found.measured)
    whole = np.vstack(runs)
    named = [(name, s) for name, s in marks_along(estimated) if whole[0, 0] <= s <= whole[-1, 0]]
    stations = [(f"S{k}", s) for k, s in enumerate(places, start=1)]
    marks = [_mark(name, on) for name, s in named if (on := _on_curve(whole, s)) is not None]
    ticks = tuple(_mark(name, on) for name, s in stations if (on := _on_curve(whole, s)) is not None)
    shoulder = _on_curve(whole, 0.0)
    return Template(
        code=f"T {form}",
        title="Topline, from the side",
        form=form,
        s_mm=None,
        curve=runs,
        gaps=gaps,
        outline=_outline(whole, form),
        centre=() if shoulder is None else _centre(whole, form, float(shoulder[1])),
        level=_level(whole, form),
        marks=tuple(marks),
        ticks=ticks,
        ends=(_mark("not measured in front", whole[0]), _mark("not measured behind", whole[-1])),
        left_words="FRONT (head)",
        right_words="REAR (tail)",
        thickness_mm=thickness_mm,
    )


def _runs(
    points: FloatArray, measured: NDArray[np.bool_]
) -> tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Split points (n, 2) float, template plane [mm], into measured runs and straight lines over the gaps."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(measured, dtype=int), [0]])))
    spans = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
    runs = tuple(points[a:b] for a, b in spans)
    gaps = tuple(np.stack([before[-1], after[0]]) for before, after in pairwise(runs))
    return runs, gaps
