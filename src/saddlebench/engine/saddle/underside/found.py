"""The underside in a scan: its axes by its own symmetry, its edges, its faces, its channel.

The saddle frame follows from the underside alone: the channel's middle is the long axis, the two faces are
level across under the tree points, and the seat is as level as the saddle's numbers say (the rise of the
panels' rear over their waist), since no scan of an underside shows how the seat is meant to lie.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.errors import NotMeasured, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT, bearing_length, side_grid, side_patch
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.patch import unit_normals
from saddlebench.engine.saddle.underside.bulges import Bulge, without_bulges
from saddlebench.engine.saddle.underside.cloud import Bools
from saddlebench.engine.saddle.underside.corners import corner_edges
from saddlebench.engine.saddle.underside.edges import (
    EVERY_MM,
    Edge,
    across,
    ends,
    smoothed,
)
from saddlebench.engine.saddle.underside.evenness import smooth_panel, uneven
from saddlebench.engine.saddle.underside.face_fit import FaceFit, face_fit
from saddlebench.engine.saddle.underside.heights import FaceGrid, face_grid
from saddlebench.engine.saddle.underside.placing import Placed

SPACING_MM = 12.0
COLUMNS = 15
UNLIKE_REFUSED_MM = 14.0
"""Faces that lie farther off those of the numbers were not found by them (judgement, from the bench)."""
POINTS_AT = 0.10
"""Fraction of the length at which the tree's points stand: there the saddle is level across."""
LENGTH_LEVEL = (0.42, 0.93)
"""Fractions of the length between which the seat's level is taken from the rise of the rear."""
_INNER_WIDTH_MM, _OUTER_WIDTH_MM = 60.0, 30.0
_TURNS = 4
_MOST_TURN = 0.06
_WITHOUT_RIM = (0.12, 0.88)
_OVER_MM = 42.0
_FEWEST_EDGES = 12
_EVEN_MM = 0.6
_ENDS_AGREE_MM = 12.0
_EDGE_FLOOR_MM = 0.7
"""Of an edge, all along it the same: where a round edge ends is not a line (from the bench)."""
_TWIST_FLOOR = np.radians(0.35)
# A middle that lies half a millimetre askew looks like twist (from the bench).
Tell = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundUnderside:
    """What a scan of an upturned saddle shows, in the saddle's own frame."""

    placed: Placed
    length_mm: float
    near: FaceGrid
    off: FaceGrid
    roof_z_mm: FloatArray
    """(r,) float, saddle frame [mm]: underside of what closes the channel, at the rows of the faces; NaN
    where the scan does not reach down to it."""
    roll: FloatArray
    """(r,) float: how far each section is turned about the long axis, near side up [rad]; NaN: unknown."""
    twist: float
    """Turn of the rear end against the front end, near side up at the rear [rad]."""
    twist_sd: float
    """[rad]"""
    channel_sd_mm: float
    """Of the channel's width at one place."""
    edge_sd_mm: float
    noise_mm: float
    """Of the scan's points on the panels, standard deviation."""
    unlike_mm: float
    """How far the faces lie off those of the saddle's numbers, root mean square."""
    bulges: tuple[Bulge, ...]
    """Where an edge ran out too far to be the panel's, and was carried over."""

    @property
    def behind_mm(self) -> FloatArray:
        """(r,) float, behind the front edge [mm]."""
        return self.near.behind_mm

    @property
    def channel_mm(self) -> FloatArray:
        """(r,) float: width of the channel [mm]."""
        return self.near.out_y_mm[:, 0] + self.off.out_y_mm[:, 0]

    @property
    def measured_share(self) -> float:
        """How much of the panels' faces is measured [1]."""
        both = np.concatenate([self.near.z_mm, self.off.z_mm])
        return float(np.isfinite(both).mean())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """Both panels with their edges in the frame as known so far."""

    fits: tuple[FaceFit, FaceFit]
    inner: tuple[Edge, Edge]
    outer: tuple[Edge, Edge]
    places: FloatArray
    begin: float
    end: float
    bulges: tuple[Bulge, ...]


def find_underside(
    points: FloatArray, placed: Placed, pattern: SaddleModel, tell: Tell | None = None
) -> FoundUnderside:
    """Return the underside of a saddle that lies in a scan about as stated.

    Parameters
    ----------
    points : (n, 3) float, instrument frame [mm]
    placed : where it lies, good to some 15 mm and 5°
    pattern : a saddle of the same family with about the same numbers
    tell : told how far it is

    Raises
    ------
    InputProblemsError
        If a panel is not in the scan.
    """
    points = points[_about(placed.to_saddle(points), pattern)]
    sides = _sides(placed.to_saddle(points), pattern)
    for turn in range(_TURNS):
        if tell is not None:
            tell(turn, _TURNS + 1, "the saddle's axes")
        placed = _straightened(placed, sides, pattern)
        sides = _sides(placed.to_saddle(points), pattern)
    if tell is not None:
        tell(_TURNS, _TURNS + 1, "the panels")
    # The last step moves the origin alone, so that rows count from the edge that was found last.
    shift = np.array([-sides.begin, 0.0, 0.0])
    placed = replace(placed, origin=placed.origin + placed.rotation.T @ shift)
    found = _measured(placed, placed.to_saddle(points), _sides(placed.to_saddle(points), pattern), pattern)
    if not found.unlike_mm < UNLIKE_REFUSED_MM:
        what = (
            f"what was found lies {found.unlike_mm:.0f} mm off the saddle’s numbers on average: it is "
            "another saddle, or its numbers are wrong"
        )
        cure = "Check the numbers of tree and panels (length, rise, channel, angles) and the unit."
        raise input_problem(what, cure)
    return found


def _about(points: FloatArray, pattern: SaddleModel) -> Bools:
    length = bearing_length(pattern.bearing)
    return (
        (points[:, 0] < 90.0)
        & (points[:, 0] > -length - 110.0)
        & (np.abs(points[:, 1]) < 280.0)
        & (points[:, 2] > -260.0)
        & (points[:, 2] < 190.0)
    )


def _sides(points: FloatArray, pattern: SaddleModel) -> _Sides:
    length = bearing_length(pattern.bearing)
    places = np.arange(-_OVER_MM, length + _OVER_MM + 1.0, EVERY_MM)
    fits, inner, outer, spans = [], [], [], []
    bulges: list[Bulge] = []
    for side in (LEFT, RIGHT):
        face, outward, line = _pattern_side(pattern, side)
        fit = face_fit(points, side, face, outward)
        if isinstance(fit, NotMeasured):
            what = f"the {'near' if side == LEFT else 'off'} panel cannot be found: {fit.reason}"
            cure = "Scan the whole underside, both panels from the front edge to the rear."
            raise input_problem(what, cure)
        middle = np.interp(places, line[:, 0], line[:, 1])
        span = (0.0, length)
        first, second = across(fit, places, middle)
        first, inside = without_bulges(places, first, span, side, is_outer=False)
        second, outside = without_bulges(places, second, span, side, is_outer=True)
        bulges += [*inside, *outside]
        lines = [smoothed(places, edge, _INNER_WIDTH_MM)[0] for edge in (first, second)]
        middle = np.where(np.isfinite(lines[0] + lines[1]), 0.5 * (lines[0] + lines[1]), middle)
        spans.append(ends(fit, 0.5 * length, middle, places))
        fits.append(fit)
        inner.append(first)
        outer.append(second)
    begin, end = (
        _of_both(sign * spans[0][k], sign * spans[1][k]) * sign for k, sign in ((0, -1.0), (1, 1.0))
    )
    if not np.isfinite(begin + end) or end - begin < 0.5 * length:
        raise input_problem(
            "the panels' front and rear edges cannot be told",
            "Scan the whole underside, from the front edge to the rear; take straps and hands away.",
        )
    return _Sides(
        fits=(fits[0], fits[1]),
        inner=(inner[0], inner[1]),
        outer=(outer[0], outer[1]),
        places=places,
        begin=float(begin),
        end=float(end),
        bulges=tuple(bulges),
    )


def _of_both(one: float, other: float) -> float:
    """Return how far both panels reach [mm]: where they differ by much, one stopped short at a hole."""
    return float(np.fmax(one, other) if not abs(one - other) < _ENDS_AGREE_MM else 0.5 * (one + other))


def _pattern_side(pattern: SaddleModel, side: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return points, normals (n, 3) and the middle line (k, 2: behind, outwards) float, saddle frame [mm]."""
    patch = side_patch(pattern.bearing, side)
    # Without its rim: walls beside an edge would bend the smooth face.
    t, v = (
        axis.ravel()
        for axis in np.meshgrid(np.linspace(0.03, 0.97, 90), np.linspace(*_WITHOUT_RIM, 25), indexing="ij")
    )
    mirror = np.array([1.0, float(side), 1.0])
    middle = patch(np.linspace(0.0, 1.0, 60), np.full(60, 0.5))
    return (
        patch(t, v) * mirror,
        unit_normals(patch, t, v) * mirror,
        np.stack([-middle[:, 0], middle[:, 1]], axis=1),
    )


def _rows(begin: float, end: float) -> FloatArray:
    return np.linspace(begin + 1.5, end - 1.5, int((end - begin) / SPACING_MM) + 2)


def _grids(sides: _Sides, rows: FloatArray, columns: int) -> tuple[FaceGrid, FaceGrid, float, float]:
    grids, spreads = [], []
    span = (sides.begin, sides.end)
    for fit, inner, outer in zip(sides.fits, sides.inner, sides.outer, strict=True):
        one, first = smoothed(sides.places, _within(sides, inner), _INNER_WIDTH_MM, at=rows, ends_mm=span)
        other, second = smoothed(sides.places, _within(sides, outer), _OUTER_WIDTH_MM, at=rows, ends_mm=span)
        if not np.isfinite(one).all() or not np.isfinite(other).all():
            what = f"the {'near' if fit.side == LEFT else 'off'} panel's edges cannot be told"
            cure = "Scan the channel and the panels' outer edges as well; take straps and hands away."
            raise input_problem(what, cure)
        one, other = corner_edges(fit, rows, one, other, span)
        grids.append(face_grid(fit, rows, one, np.maximum(other, one + 10.0), columns))
        spreads.append((first, second))
    return grids[0], grids[1], *np.mean(spreads, axis=0)


def _within(sides: _Sides, edge: Edge) -> Edge:
    inside = (sides.places > sides.begin - 2.0) & (sides.places < sides.end + 2.0)
    return Edge(at_mm=np.where(inside, edge.at_mm, np.nan), is_seen=edge.is_seen)


def _straightened(placed: Placed, sides: _Sides, pattern: SaddleModel) -> Placed:
    """Return the placing with the axes that this underside has."""
    begin, end = sides.begin, sides.end
    length = end - begin
    rows = _rows(begin, end)
    near, off, _, _ = _grids(sides, rows, 9)
    t = (rows - begin) / length
    askew, beside = _middle_line(sides)
    roll = rolls(_without_lumps(near), _without_lumps(off), beside + askew * rows)
    more, level = robust_line(rows, roll, (t > 0.04) & (t < 0.96))
    lean = level + more * (begin + POINTS_AT * length)
    # At the inner edge itself walls disturb: the face is carried on to it from 1/8 and 3/8 of the width.
    inner = [1.5 * grid.z_mm[:, 1] - 0.5 * grid.z_mm[:, 3] for grid in (near, off)]
    height = 0.5 * (inner[0] + inner[1])
    at_front = _inner_heights(pattern, rows - begin)
    low, high = LENGTH_LEVEL
    tip, up = robust_line(rows, height - at_front, (t > low) & (t < high))
    askew_now, tip_now, lean_now = np.clip([askew, tip, lean], -_MOST_TURN, _MOST_TURN)
    forward = np.array([1.0, -askew_now, -tip_now])
    forward /= np.linalg.norm(forward)
    left = np.array([0.0, 1.0, lean_now])
    left -= forward * (left @ forward)
    left /= np.linalg.norm(left)
    turn = np.stack([forward, left, np.cross(forward, left)])
    origin = np.array([-begin, beside + askew * begin, up + tip * begin])
    return replace(placed, rotation=turn @ placed.rotation, origin=placed.origin + placed.rotation.T @ origin)


def _middle_line(sides: _Sides) -> tuple[float, float]:
    """Return slope and start of the middle between the panels, from their inner and their outer edges.

    From the edges as they were read, not from smooth ones: a hole or a hand spoils a few of them wholly.
    """
    begin, length = sides.begin, sides.end - sides.begin
    inside = (sides.places > begin + 0.08 * length) & (sides.places < begin + 0.92 * length)
    places, middles = [], []
    for near, off in (sides.inner, sides.outer):
        use = inside & near.is_seen & off.is_seen
        if use.sum() < _FEWEST_EDGES:
            use = inside
        places.append(sides.places[use])
        middles.append(0.5 * (near.at_mm - off.at_mm)[use])
    place, middle = np.concatenate(places), np.concatenate(middles)
    return robust_line(place, middle, np.ones(len(place), bool))


def _inner_heights(pattern: SaddleModel, behind: FloatArray) -> FloatArray:
    patch = side_patch(pattern.bearing, LEFT)
    line = patch(np.linspace(0.0, 1.0, 80), np.zeros(80))
    return np.interp(behind, -line[:, 0], line[:, 2])


def _without_lumps(grid: FaceGrid) -> FaceGrid:
    # A hollow in one panel is no twist.
    smooth = smooth_panel(grid)
    return replace(grid, z_mm=smooth) if np.isfinite(smooth).any() else grid


def _flock_turn(near: FaceGrid, off: FaceGrid) -> float:
    """Return by how much uneven panels may turn the rear against the front [rad]: flock is no twist."""
    squares = np.concatenate([(uneven(grid)[2:-2, 2:-2]).ravel() ** 2 for grid in (near, off)])
    squares = squares[np.isfinite(squares)]
    if not len(squares):
        return 0.0
    half = float(np.median(near.out_y_mm[:, -1] + off.out_y_mm[:, -1])) / 2.0
    # Twice, since a wide lump bends the smooth panel as well, and stands in what is left by half (bench).
    return 2.0 * max(0.0, float(np.sqrt(squares.mean())) - _EVEN_MM) / half


def rolls(near: FaceGrid, off: FaceGrid, middle: FloatArray) -> FloatArray:
    """Return how far each section is turned about the long axis, near side up, (r,) float [rad].

    Heights at equal distances u from the middle (r,) float, saddle frame [mm], differ by 2·u·roll.
    """
    out = np.full(len(near.behind_mm), np.nan)
    for k, at in enumerate(middle):
        own, other = near.out_y_mm[k] - at, off.out_y_mm[k] + at
        first, last = max(own[1], other[1]), min(own[-3], other[-3])
        u = np.linspace(first, max(first, last), 12)
        difference = _between(u, own, near.z_mm[k]) - _between(u, other, off.z_mm[k])
        known = np.isfinite(difference)
        if known.sum() >= 6 and u[-1] > u[0]:
            out[k] = float((difference[known] * u[known]).sum() / (2.0 * (u[known] ** 2).sum()))
    return out


def _between(at: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    # NaN on either side of a place makes it NaN, as it should.
    return np.interp(at, x, y)


def robust_line(x: FloatArray, y: FloatArray, use: Bools) -> tuple[float, float]:
    """Return slope and value at 0 of a line through most of x and y (n,) float, saddle frame [mm]."""
    use = use & np.isfinite(y)
    if use.sum() < 5:
        return 0.0, float(np.nanmedian(y)) if np.isfinite(y).any() else 0.0
    x, y = x[use], y[use]
    weight = np.ones(len(x))
    slope, start = 0.0, 0.0
    for _ in range(8):
        slope, start = np.polyfit(x, y, 1, w=np.sqrt(weight))
        left = y - start - slope * x
        spread = max(1e-6, 1.4826 * float(np.median(np.abs(left))))
        weight = np.maximum(1e-6, np.maximum(0.0, 1.0 - (left / (4.7 * spread)) ** 2) ** 2)
    return float(slope), float(start)


def _measured(placed: Placed, points: FloatArray, sides: _Sides, pattern: SaddleModel) -> FoundUnderside:
    length = sides.end - sides.begin
    rows = _rows(sides.begin, sides.end)
    near, off, inner_sd, outer_sd = _grids(sides, rows, COLUMNS)
    rows = rows - sides.begin
    near, off = replace(near, behind_mm=rows), replace(off, behind_mm=rows)
    t = rows / length
    askew, beside = _middle_line(sides)
    roll = rolls(_without_lumps(near), _without_lumps(off), beside + askew * (rows + sides.begin))
    use = (t > 0.04) & (t < 0.96) & np.isfinite(roll)
    more, level = robust_line(rows, roll, use)
    left = (roll - level - more * rows)[use]
    spread = 1.4826 * float(np.median(np.abs(left))) if use.any() else np.nan
    # Neighbouring rows share their points: a third of them is counted.
    steps = (rows[use] - rows[use].mean()) ** 2
    twist_sd = spread * length * np.sqrt(3.0 / max(float(steps.sum()), 1.0))
    noise = float(np.mean([fit.noise_mm for fit in sides.fits]))
    # A local line over 60 mm holds some ten readings, each from a window of three.
    smooth = np.sqrt(3.0 / 10.0)
    return FoundUnderside(
        placed=placed,
        length_mm=float(length),
        near=near,
        off=off,
        roof_z_mm=_roof(points, near, off),
        roll=roll,
        twist=more * length,
        twist_sd=float(np.sqrt(twist_sd**2 + _TWIST_FLOOR**2 + _flock_turn(near, off) ** 2)),
        channel_sd_mm=float(np.sqrt(2.0) * np.hypot(smooth * inner_sd, _EDGE_FLOOR_MM)),
        edge_sd_mm=float(np.hypot(smooth * outer_sd, _EDGE_FLOOR_MM)),
        noise_mm=noise,
        unlike_mm=_unlike((near, off), pattern),
        bulges=sides.bulges,
    )


def _roof(points: FloatArray, near: FaceGrid, off: FaceGrid) -> FloatArray:
    """Return the height (r,) float, saddle frame [mm], of what closes the channel."""
    order = np.argsort(-points[:, 0])
    behind, y, z = -points[order, 0], points[order, 1], points[order, 2]
    out = np.full(len(near.behind_mm), np.nan)
    for k, at in enumerate(near.behind_mm):
        first, last = np.searchsorted(behind, [at - 8.0, at + 8.0])
        left, right = near.out_y_mm[k, 0], -off.out_y_mm[k, 0]
        middle, half = 0.5 * (left + right), 0.25 * (left - right)
        edge = 0.5 * (near.z_mm[k, 0] + off.z_mm[k, 0])
        high = z[first:last][np.abs(y[first:last] - middle) < half]
        high = high[(high > edge + 12.0) & (high < edge + 125.0)]
        if len(high) >= 8:
            # What is seen first from the horse, a little past the noise.
            out[k] = float(np.quantile(high, 0.3))
    return out


def _unlike(grids: tuple[FaceGrid, FaceGrid], pattern: SaddleModel) -> float:
    squares = []
    for grid in grids:
        points = side_grid(pattern.bearing, pattern.bearing.points_saddle, grid.side)
        for k, at in enumerate(grid.behind_mm):
            row = points[int(np.argmin(np.abs(-points[:, points.shape[1] // 2, 0] - at)))]
            y, z = grid.side * row[:, 1], row[:, 2]
            inside = (grid.out_y_mm[k] > y[0]) & (grid.out_y_mm[k] < y[-1])
            squares.append((np.interp(grid.out_y_mm[k], y, z) - grid.z_mm[k])[inside] ** 2)
    joined = np.concatenate(squares)
    return float(np.sqrt(np.nanmean(joined))) if np.isfinite(joined).any() else float("nan")
