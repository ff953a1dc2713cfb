"""A photo of a trace sheet read: curves in true mm, how sure they are, where they lie in the photo."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import MARGIN_MM, RING_MM, SheetKind, SheetLayout
from saddlebench.exchange.tracings.by_hand import framed
from saddlebench.exchange.tracings.calibrate import calibrate, find_markers, refuse_unsure
from saddlebench.exchange.tracings.flatten import (
    MOST_DOTS_PER_MM,
    Box,
    Darkness,
    FlatSheet,
    Picture,
    darkness,
    flatten,
)
from saddlebench.exchange.tracings.forks import cut_at_forks
from saddlebench.exchange.tracings.grid import GridFound, find_grid
from saddlebench.exchange.tracings.meetings import parted
from saddlebench.exchange.tracings.paper_edge import (
    PrintedScale,
    beyond_mm,
    scale_by_edges,
    scale_by_ruler,
    unchecked_scale,
)
from saddlebench.exchange.tracings.pen_line import find_line, find_sections
from saddlebench.exchange.tracings.sharper import find_again
from saddlebench.exchange.tracings.sheet_read import Asked, Frame, ReadCurve, ReadSheet, Tell, height_at
from saddlebench.exchange.tracings.traced import TracedCurveOnSheet

FEWEST_DOTS_PER_MM = 1.0
MOST_OFF_INSIDE_MM = 3.0
MOST_REST_MM = 0.5
TICK_REACH_MM = 15.0
MARKED_SD_MM = 0.1
"""Of a curve by markers, at best: pen, print and paper (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """The sheet in the photo, however it was found."""

    kind: SheetKind
    layout: SheetLayout | None
    to_photo: Callable[[FloatArray], FloatArray]
    place_sd: Callable[[FloatArray], FloatArray]
    area: Box
    tilt_deg: float
    curl: float
    n_markers: int
    scale: PrintedScale | None


def read_sheet(photo: Picture, asked: Asked | None = None, tell: Tell | None = None) -> ReadSheet:
    """Read every curve of a photographed sheet.

    Parameters
    ----------
    photo : (h, w, 3) uint8, red, green, blue
    tell : called as it goes on

    Raises
    ------
    InputProblemsError
        If the sheet cannot be measured, or nothing is drawn on it: nothing is guessed.
    """
    asked = asked or Asked()
    say = tell or (lambda _done, _of, _doing: None)
    say(0, 4, "looking for the sheet")
    placed = _place(photo, asked)
    say(1, 4, "laying it flat")
    finely = _dots_per_mm(placed)
    if finely < FEWEST_DOTS_PER_MM:
        what = f"the sheet is small in the picture: {finely:.1f} dots to the mm"
        raise input_problem(
            what,
            "Go nearer, or use a better camera.",
        )
    flat = flatten(photo, placed.to_photo, placed.area, min(MOST_DOTS_PER_MM, max(2.0, 1.2 * finely)))
    dark = darkness(flat)
    grid = None if placed.layout is None else _grid(flat, dark)
    scale = placed.scale or _scale(photo, placed, asked)
    say(2, 4, "finding the lines")
    find = find_line if placed.kind is SheetKind.TOPLINE else find_sections
    lines = find(flat, dark, placed.area)
    if not lines:
        raise input_problem(
            "no line of a pen can be found on the sheet",
            "Draw with a dark pen across the long line, in one go, inside the grid.",
        )
    forked = [cut_at_forks(flat, dark, line) for line in lines]
    lines, were_parted = parted([line for line, _ in forked], lines)
    were_parted = were_parted or any(was_cut for _, was_cut in forked)
    say(3, 4, "measuring the lines")
    curves = tuple(_curve(line, placed, grid, scale) for line in lines)
    rings = () if placed.layout is None else _filled(photo, placed)
    say(4, 4, "read")
    return ReadSheet(
        kind=placed.kind,
        size_px=(photo.shape[1], photo.shape[0]),
        curves=curves,
        stations=rings,
        scale=scale,
        tilt_deg=placed.tilt_deg,
        curl=placed.curl,
        n_markers=placed.n_markers,
        inside_mm=None if grid is None else grid.worst_mm,
        to_mm=_to_mm(placed, scale),
        remarks=_remarks(scale, curves, rings, placed, were_parted=were_parted),
    )


def _place(photo: Picture, asked: Asked) -> _Placed:
    import cv2  # noqa: PLC0415 - slow to load

    if asked.frame is not None:
        return _framed(asked.frame, (photo.shape[1], photo.shape[0]))
    grey = np.asarray(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    seen = find_markers(grey)
    size_px = (photo.shape[1], photo.shape[0])
    sheet = calibrate(seen, size_px)
    sheet = calibrate(find_again(grey, seen, sheet), size_px)
    refuse_unsure(sheet)
    return _Placed(
        kind=sheet.layout.kind,
        layout=sheet.layout,
        to_photo=sheet.camera.to_photo,
        place_sd=sheet.place_sd_mm,
        area=sheet.layout.area,
        tilt_deg=sheet.camera.tilt_deg,
        curl=sheet.camera.curl,
        n_markers=sheet.n_markers,
        scale=None,
    )


def _framed(frame: Frame, size_px: tuple[int, int]) -> _Placed:
    paper = framed(frame, size_px)
    return _Placed(
        kind=frame.kind,
        layout=None,
        to_photo=paper.to_photo,
        place_sd=paper.place_sd,
        area=paper.area,
        tilt_deg=0.0,
        curl=0.0,
        n_markers=0,
        scale=paper.scale,
    )


def _dots_per_mm(placed: _Placed) -> float:
    left, low, right, top = placed.area
    grid = np.stack(np.meshgrid(np.linspace(left, right, 5), np.linspace(low, top, 4)), axis=2).reshape(-1, 2)
    at = placed.to_photo(grid)
    across = np.linalg.norm(placed.to_photo(grid + np.array([1.0, 0.0])) - at, axis=1)
    down = np.linalg.norm(placed.to_photo(grid + np.array([0.0, 1.0])) - at, axis=1)
    return float(np.median(np.minimum(across, down)))


def _to_mm(placed: _Placed, scale: PrintedScale) -> FloatArray:
    import cv2  # noqa: PLC0415 - slow to load

    left, low, right, top = placed.area
    grid = np.stack(np.meshgrid(np.linspace(left, right, 8), np.linspace(low, top, 6)), axis=2).reshape(-1, 2)
    matrix, _ = cv2.findHomography(placed.to_photo(grid), grid * (scale.across, scale.down))
    return np.asarray(matrix, dtype=float)


def _grid(flat: FlatSheet, dark: Darkness) -> GridFound:
    grid = find_grid(flat, dark)
    if grid is None:
        raise input_problem(
            "the printed grid cannot be seen, so it is not known whether the paper lies flat inside",
            "Take the picture again, nearer or in better light; or print the sheet anew.",
        )
    if grid.worst_mm > MOST_OFF_INSIDE_MM or grid.rest_mm > MOST_REST_MM:
        what = f"the paper is not flat inside: its grid lies up to {grid.worst_mm:.1f} mm aside"
        raise input_problem(
            what,
            "Press it flat under glass or weights, and take the picture again.",
        )
    return grid


def _scale(photo: Picture, placed: _Placed, asked: Asked) -> PrintedScale:
    layout = placed.layout
    by_edges = None
    if layout is not None:
        beyond = MARGIN_MM + beyond_mm(layout)
        box = (
            layout.left_mm - beyond,
            layout.low_mm - beyond,
            layout.right_mm + beyond,
            layout.top_mm + beyond,
        )
        by_edges = scale_by_edges(flatten(photo, placed.to_photo, box, 2.5), layout)
    if asked.ruler_across_mm is None:
        return by_edges or unchecked_scale()
    by_ruler = scale_by_ruler(asked.ruler_across_mm, asked.ruler_down_mm)
    if by_edges is not None:
        apart = max(abs(by_ruler.across - by_edges.across), abs(by_ruler.down - by_edges.down))
        if apart > 3.0 * float(np.hypot(by_ruler.sd, by_edges.sd)):
            what = f"the ruler as measured and the paper’s edges differ by {100 * apart:.1f} %"
            raise input_problem(
                what,
                "Measure the printed ruler again, and say on which paper it was printed.",
                Where(field="ruler"),
            )
    return by_ruler


def _curve(
    line: TracedCurveOnSheet, placed: _Placed, grid: GridFound | None, scale: PrintedScale
) -> ReadCurve:
    stretch = np.array([scale.across, scale.down])

    def true(places: FloatArray) -> FloatArray:
        put_right = places if grid is None or len(places) == 0 else grid.corrected(places)
        return np.asarray(put_right * stretch, dtype=float)

    points, ticks = true(line.points), true(line.ticks)
    origin, by_tick = np.zeros(2), False
    if placed.kind is not SheetKind.TOPLINE:
        near = ticks[np.abs(ticks[:, 0]) <= TICK_REACH_MM] if len(ticks) else ticks
        by_tick = len(near) == 1
        origin = near[0] if by_tick else np.array([0.0, height_at(points, 0.0)])
        ticks = ticks[np.linalg.norm(ticks - origin, axis=1) > 2.0] if len(ticks) else ticks
    sheet_sd = float(np.sqrt((placed.place_sd(line.points[::20]) ** 2).mean()))
    inside = 0.0 if grid is None else grid.rest_mm / np.sqrt(2.0)
    is_doubled = line.crosswise_mm > 0.62
    stroke = 0.3 * line.crosswise_mm
    own = float(np.linalg.norm([sheet_sd, inside, stroke, line.noise_mm, MARKED_SD_MM]))
    return ReadCurve(
        points=points - origin,
        seen=line.seen,
        photo=placed.to_photo(line.points),
        point_sd_mm=own,
        ticks=(ticks - origin).reshape(-1, 2),
        by_tick=by_tick,
        is_doubled=is_doubled,
    )


def _filled(photo: Picture, placed: _Placed) -> tuple[int, ...]:
    """Return the stations whose ring is filled in."""
    layout = placed.layout
    if layout is None:
        return ()
    (left, low), (right, top) = layout.rings.min(axis=0) - 2 * RING_MM, layout.rings.max(axis=0) + 2 * RING_MM
    flat = flatten(photo, placed.to_photo, (float(left), float(low), float(right), float(top)), 4.0)
    bright = flat.colours.max(axis=2).astype(float)
    paper = float(np.quantile(bright, 0.7))
    reach = np.arange(-0.25, 0.26, 0.125) * RING_MM
    inner = np.stack(np.meshgrid(reach, reach), axis=2).reshape(-1, 2)
    filled = []
    for number, middle in enumerate(layout.rings, start=1):
        columns, rows = np.round(flat.dots(middle + inner)).astype(int).T
        if float(np.median(bright[rows, columns])) < 0.62 * paper:
            filled.append(number)
    return tuple(filled)


def _remarks(
    scale: PrintedScale,
    curves: tuple[ReadCurve, ...],
    rings: tuple[int, ...],
    placed: _Placed,
    *,
    were_parted: bool,
) -> tuple[Problem, ...]:
    said = []
    if were_parted:
        said.append(
            (
                "curves meet so flatly that it cannot be told which goes on as which; both end there",
                "Trace them further apart, or on two sheets, if what lies beyond matters.",
            )
        )
    if not scale.source:
        said.append(
            (
                "the printing’s scale is not checked: the paper’s edges are not seen",
                "Measure the printed ruler and give its length, or take the whole sheet on a darker table.",
            )
        )
    elif max(abs(scale.across - 1.0), abs(scale.down - 1.0)) > 0.01:
        said.append(
            (
                f"the sheet was printed at {100 * scale.across:.1f} % across, {100 * scale.down:.1f} % down",
                "This is put right; print at 100 % next time.",
            )
        )
    if abs(placed.curl) > 0.3:
        said.append(
            (
                f"the paper is curled (radius {1.0 / abs(placed.curl):.1f} m); this is put right",
                "Press it flat.",
            )
        )
    if rings and len(rings) != len(curves):
        said.append(
            (
                f"{len(rings)} stations are filled in, {len(curves)} curves are found",
                "Say which curve is which station.",
            )
        )
    for k, curve in enumerate(curves, start=1):
        if curve.is_doubled:
            said.append(
                (f"curve {k} is drawn twice or very thick; the middle is taken", "Look at it closely.")
            )
    return tuple(Problem(what=what, cure=cure, weight=Weight.WARNING) for what, cure in said)
