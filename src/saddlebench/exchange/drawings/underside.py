"""The underside as it lies on the bench: upside down, pommel away, near side on the right; mm by zone."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from saddlebench.engine.alter import Alteration
from saddlebench.engine.alter.bedding import on_bench_mm
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT, side_grid
from saddlebench.engine.saddle.model import SaddleModel, Zone
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.altering import ZONE_WORDS, others_of, side_word, signed_mm, work_lines
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.bench import HEAD_MM, MARGIN_MM, BenchFrame
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

FOOT_MM = 14.0
ADD_FILL, TAKE_FILL, SHIM_FILL = "#cfe5f5", "#fbe3c8", "#e7e2f1"
ADD_HATCH, TAKE_HATCH, SHIM_HATCH = "///", "...", "xxx"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    """One piece of a panel and what is done there."""

    corners: FloatArray
    """(m, 2) float, paper plane [mm]: across (near right), along (pommel up)."""
    words: str
    fill: str
    hatch: str
    name: str


def underside(saddle: SaddleModel, alteration: Alteration, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the underside with what is to be done on the bench, zone by zone.

    Parameters
    ----------
    saddle : as it is
    alteration : as wanted on the horse; the numbers drawn are those on the bench
    width_mm : paper width [mm]
    """
    points = saddle.bearing.points_saddle
    along = (float(points[:, 0].min()) - 20.0, float(points[:, 0].max()) + 20.0)
    half = float(np.abs(points[:, 1]).max()) + 14.0
    frame = BenchFrame(half_mm=half, along_mm=along, paper_mm=width_mm)
    others = others_of(alteration)
    foot = FOOT_MM + 4.2 * len(others)
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + frame.height_mm + foot)
        sheet.heading(
            MARGIN_MM,
            6.0,
            said("Underside, as it lies on the bench"),
            (saddle.label, said("upside down, pommel away from you; on the bench, ±3 mm")),
        )
        axes = frame.drawn_on(sheet)
        for side, filling in ((LEFT, alteration.fill_left), (RIGHT, alteration.fill_right)):
            for patch in _patches(saddle, alteration, filling, side):
                _draw(axes, patch)
            _outline(axes, saddle, side)
        _zone_names(axes, saddle)
        base = HEAD_MM + frame.height_mm
        _key(sheet, base + 5.0)
        for k, words in enumerate(others):
            sheet.text(
                MARGIN_MM, base + 11.0 + 4.2 * k, said(words), weight="bold", room=width_mm - 2 * MARGIN_MM
            )
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Underside, as it lies on the bench')}: {saddle.label}",
        description=_in_words(alteration, frame.scale),
        scale=frame.scale,
    )


def _in_words(alteration: Alteration, scale: float) -> str:
    lines = "; ".join(f"{line.place} {signed_mm(line.bench_mm)}" for line in work_lines(alteration))
    return said(
        f"Upside down, pommel at the top, near side on the right, scale 1:{1 / scale:g}. "
        f"On the bench: {lines or 'no wool and no shims'}."
    )


def _corners(saddle: SaddleModel, side: int) -> FloatArray:
    """Return corners of the cells of one side, (rows + 1, columns + 1, 2), paper plane [mm]."""
    centres = side_grid(saddle.bearing, saddle.bearing.points_saddle, side)[:, :, [1, 0]]
    for axis in (0, 1):
        first = 2 * centres.take([0], axis) - centres.take([1], axis)
        last = 2 * centres.take([-1], axis) - centres.take([-2], axis)
        centres = np.concatenate([first, centres, last], axis=axis)
        low = centres.take(range(centres.shape[axis] - 1), axis)
        high = centres.take(range(1, centres.shape[axis]), axis)
        centres = 0.5 * (low + high)
    return centres


def _patches(saddle: SaddleModel, alteration: Alteration, filling: Filling, side: int) -> Iterator[_Patch]:
    corners = _corners(saddle, side)
    zone_of_row = side_grid(saddle.bearing, saddle.bearing.zone, side)
    columns = corners.shape[1] - 1
    middle_column = zone_of_row[:, columns // 2]
    shims = {shim.zone: shim for shim in alteration.shims if shim.on_left == (side == LEFT)}
    for zone in Zone:
        rows = np.flatnonzero(middle_column == zone)
        if rows.size == 0:
            continue
        top, bottom = int(rows[0]), int(rows[-1]) + 1
        inner, outer = filling.inner_mm[zone], filling.outer_mm[zone]
        halves = [(0, columns // 2, inner), (columns // 2, columns, outer)]
        spans = [(0, columns, inner)] if inner == outer else halves
        for first, last, mm in spans:
            block = corners[top : bottom + 1, first : last + 1]
            name = f"{side_word(on_left=side == LEFT)}-{ZONE_WORDS[zone]}-{first}"
            yield _one(_around(block), mm, name)
        if zone in shims:
            block = corners[top : bottom + 1, columns // 4 : columns - columns // 4 + 1]
            thick = reader().millimetres(f"{shims[zone].thickness_mm:g}")
            words = f"{said(f'{shims[zone].stuff} shim')}\n{thick}"
            name = f"{side_word(on_left=side == LEFT)}-{ZONE_WORDS[zone]}-shim"
            yield _Patch(corners=_around(block), words=words, fill=SHIM_FILL, hatch=SHIM_HATCH, name=name)


def _around(block: FloatArray) -> FloatArray:
    """Return the outline (m, 2) of a block of corners (r, c, 2), paper plane [mm]."""
    return np.concatenate([block[0], block[1:, -1], block[-1, -2::-1], block[-2:0:-1, 0]])


def _one(edge: FloatArray, mm: float, name: str) -> _Patch:
    bench = round(on_bench_mm(mm))
    if bench > 0:
        return _Patch(
            corners=edge, words=reader().millimetres(f"+{bench}"), fill=ADD_FILL, hatch=ADD_HATCH, name=name
        )
    if bench < 0:
        return _Patch(
            corners=edge,
            words=reader().millimetres(f"\u2212{-bench}"),
            fill=TAKE_FILL,
            hatch=TAKE_HATCH,
            name=name,
        )
    return _Patch(corners=edge, words="", fill=ink.PAPER, hatch="", name=name)


def _draw(axes: Axes, patch: _Patch) -> None:
    shape = Polygon(
        patch.corners, closed=True, facecolor=patch.fill, edgecolor=ink.SOFT, lw=ink.HAIR_PT,
        hatch=patch.hatch or None, zorder=2,
    )  # fmt: skip
    shape.set_gid(f"zone-{patch.name}")
    axes.add_patch(shape)
    if patch.words:
        at = 0.5 * (patch.corners.min(axis=0) + patch.corners.max(axis=0))
        axes.text(
            float(at[0]), float(at[1]), patch.words, ha="center", va="center", weight="bold", zorder=9,
            linespacing=1.0, size=7.5 if "\n" in patch.words else 11.0,
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 1.2, "alpha": 0.92},
        )  # fmt: skip


def _outline(axes: Axes, saddle: SaddleModel, side: int) -> None:
    corners = _corners(saddle, side)
    edge = _around(corners)
    edge = np.concatenate([edge, edge[:1]])
    (drawn,) = axes.plot(edge[:, 0], edge[:, 1], color=ink.INK, lw=ink.LINE_PT, zorder=6)
    drawn.set_gid(f"panel-{side_word(on_left=side == LEFT)}")


def _zone_names(axes: Axes, saddle: SaddleModel) -> None:
    bearing = saddle.bearing
    for zone in Zone:
        here = (bearing.zone == zone) & (bearing.side == LEFT)
        if here.any():
            x = bearing.points_saddle[here, 0]
            axes.text(
                0.0, 0.5 * float(x.min() + x.max()), said(ZONE_WORDS[zone]), ha="center", va="center",
                size=ink.TEXT_PT, color=ink.SOFT, rotation=90, zorder=9,
            )  # fmt: skip


def _key(sheet: Sheet, top: float) -> None:
    left = MARGIN_MM
    for fill, hatch, words in (
        (ADD_FILL, ADD_HATCH, "add wool"),
        (TAKE_FILL, TAKE_HATCH, "take wool out"),
        (SHIM_FILL, SHIM_HATCH, "shim"),
    ):
        sheet.box(left, top - 2.6, 6.0, 3.2, facecolor=fill, hatch=hatch, edgecolor=ink.INK, lw=0.3)
        left += 7.5 + sheet.text(left + 7.0, top, said(words)) + 4.0
