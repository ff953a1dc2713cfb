"""Drawings larger than a sheet of paper: which part of each goes on which sheet, with marks to join them by.

Sheets overlap. A registration mark stands at every corner and at the middle of every join, at the same true
place on each of the sheets that meet there.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.planar.model import PlanarDrawing, Stroke

MARGIN_MM = 8.0
"""What printers leave white, and a little."""
HEAD_MM = 13.0
"""Above the picture: what sheet this is."""
FOOT_MM = 4.0
OVERLAP_MM = 14.0
BAR_MM = 100.0
MOST_OFF = 0.1
"""A bar more than a tenth off is not a printer's error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet's size, upright."""

    name: str
    width_mm: float
    height_mm: float


PAPERS = {
    "a4": Paper(name="A4", width_mm=210.0, height_mm=297.0),
    "a3": Paper(name="A3", width_mm=297.0, height_mm=420.0),
    "letter": Paper(name="Letter", width_mm=215.9, height_mm=279.4),
}
"""ISO 216 and ANSI/ASME Y14.1 (A)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintScale:
    """How a printer stretches: true length over printed length, across and down the sheet."""

    across: float = 1.0
    down: float = 1.0
    checked: bool = False


def print_scale_from(across_mm: float | None, down_mm: float | None) -> PrintScale:
    """Return the correction from the check bars' lengths as measured on the print.

    Raises
    ------
    InputProblemsError
        If a length is not near the bar's true one, or only one of the two is given.
    """
    if across_mm is None and down_mm is None:
        return PrintScale()
    problems = []
    for field, length in (("measured across", across_mm), ("measured down", down_mm)):
        if length is None:
            what, cure = "is not given", "Measure both bars: a printer's two directions differ."
        elif not abs(length / BAR_MM - 1.0) <= MOST_OFF:
            what = f"is {length:g} mm; the bar is {BAR_MM:.0f} mm long in truth"
            cure = "Measure again, in mm; print at 100 %, without fitting to the page."
        else:
            continue
        problems.append(Problem(what=what, cure=cure, where=Where(field=field)))
    if problems or across_mm is None or down_mm is None:
        raise InputProblemsError(problems)
    return PrintScale(across=BAR_MM / across_mm, down=BAR_MM / down_mm, checked=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One sheet's part of a drawing."""

    row: int
    """From 1, from the top."""
    column: int
    left_mm: float
    """What the sheet's picture shows of the drawing: its left edge [mm]."""
    top_mm: float
    """Its upper edge, y up [mm]."""
    marks: tuple[tuple[str, float, float], ...]
    """Registration marks: name, x, y in the drawing [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """A drawing over sheets of one paper."""

    width_mm: float
    """The sheet, turned as it is used [mm]."""
    height_mm: float
    shown_width_mm: float
    """How much of the drawing one sheet shows, in true mm."""
    shown_height_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    """Sheets on which something of the drawing lies."""


def tiling_of(drawing: PlanarDrawing, paper: Paper, scale: PrintScale | None = None) -> Tiling:
    """Return the sheets of a drawing, upright or turned, whichever takes fewer."""
    scale = scale or PrintScale()
    upright = _tiled(drawing, paper.width_mm, paper.height_mm, scale)
    turned = _tiled(drawing, paper.height_mm, paper.width_mm, scale)
    return upright if len(upright.tiles) <= len(turned.tiles) else turned


def _tiled(drawing: PlanarDrawing, width: float, height: float, scale: PrintScale) -> Tiling:
    shown_w = (width - 2 * MARGIN_MM) / scale.across
    shown_h = (height - 2 * MARGIN_MM - HEAD_MM - FOOT_MM) / scale.down
    left, low, right, high = drawing.bounds()
    columns, step_x, start_x = _spread(right - left, shown_w)
    rows, step_y, start_y = _spread(high - low, shown_h)
    marks = _marks(rows, columns, (left + start_x, high - start_y), (step_x, step_y), (shown_w, shown_h))
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + start_x + column * step_x, high - start_y - row * step_y
            if not _anything(drawing, (x, y - shown_h, x + shown_w, y)):
                continue
            inside = tuple(
                mark
                for mark in marks
                if x + 1.0 <= mark[1] <= x + shown_w - 1.0 and y - shown_h + 1.0 <= mark[2] <= y - 1.0
            )
            tiles.append(Tile(row=row + 1, column=column + 1, left_mm=x, top_mm=y, marks=inside))
    return Tiling(
        width_mm=width,
        height_mm=height,
        shown_width_mm=shown_w,
        shown_height_mm=shown_h,
        rows=rows,
        columns=columns,
        tiles=tuple(tiles),
    )


def _spread(length: float, shown: float) -> tuple[int, float, float]:
    """Return how many sheets a length needs, their step, and where the first starts; the spare is halved."""
    step = shown - OVERLAP_MM
    count = 1 if length <= shown else 1 + int(np.ceil((length - shown) / step - 1e-9))
    spare = shown + (count - 1) * step - length
    return count, step, -0.5 * spare


def _marks(
    rows: int,
    columns: int,
    start: tuple[float, float],
    step: tuple[float, float],
    shown: tuple[float, float],
) -> list[tuple[str, float, float]]:
    """Return marks on every join: where joins cross the middles of sheets, and where joins cross joins."""
    half = 0.5 * OVERLAP_MM
    joins_x = [start[0] + column * step[0] + half for column in range(1, columns)]
    joins_y = [start[1] - row * step[1] - half for row in range(1, rows)]
    along_x = [
        start[0] + column * step[0] + share * shown[0] for column in range(columns) for share in (0.3, 0.7)
    ]
    along_y = [start[1] - row * step[1] - share * shown[1] for row in range(rows) for share in (0.3, 0.7)]
    places = [(x, y) for x in joins_x for y in (*along_y, *joins_y)]
    places += [(x, y) for y in joins_y for x in along_x]
    return [(f"{k}", x, y) for k, (x, y) in enumerate(places, start=1)]


def _anything(drawing: PlanarDrawing, box: tuple[float, float, float, float]) -> bool:
    return any(_crosses(_ends(stroke), box) for stroke in drawing.strokes)


def _ends(stroke: Stroke) -> FloatArray:
    """Return a stroke's points, (n, 2) float, drawing's plane [mm], with the first again if it is closed."""
    return np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points


def _crosses(points: FloatArray, box: tuple[float, float, float, float]) -> bool:
    """Tell whether a segment between points (n, 2) float, drawing's plane [mm], comes near a box."""
    low, high = np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])
    near = (low[:, 0] <= box[2]) & (high[:, 0] >= box[0]) & (low[:, 1] <= box[3]) & (high[:, 1] >= box[1])
    return bool(near.any())
