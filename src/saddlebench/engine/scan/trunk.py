"""Find the trunk of a standing animal: its long axis, its plane of symmetry, its topline.

Everything here is in a levelled frame (z up) and in the scan's own unit; no size is assumed.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import binary_closing, binary_fill_holes, distance_transform_edt, median_filter

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.polar_grid import PolarGrid, grouped_median, lay_on_grid
from saddlebench.engine.scan.two_sides import fit_line, two_sides

AXIS_DEPTH = 0.73
"""Depth of the axis of the polar grid below the topline, in half-widths of the trunk (220 mm of 300)."""
_CELLS = 90
_ROUNDS = 12
_FEWEST = 300
PHI = np.deg2rad(np.arange(-100.0, 101.0, 4.0))
_SECTIONS, _FEWEST_PAIRS = 27, 8
_SIDE = np.deg2rad(4.0) * np.arange(1, 21)
_ROUND = np.concatenate([-_SIDE[::-1], [0.0], _SIDE])
_FARTHEST = np.cos(np.deg2rad(12.0))
"""A part whose midline lies further askew is no trunk's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trunk:
    """A trunk and its midline. The trunk frame is the levelled one, turned and shifted to the midline."""

    turn: FloatArray
    """(3, 3) rotation from the levelled to the trunk frame, x along the midline."""
    shift: FloatArray
    """(3,) float, trunk frame: added after the turn."""
    half_width: float
    """Of the trunk seen from above."""
    core: tuple[float, float]
    """Rear and front end of the wide part seen from above, trunk frame."""
    grid: PolarGrid
    mismatch: float
    """Median difference of left and right radius over the core, in half-widths."""
    heading_sd_rad: float

    def points(self, levelled: FloatArray) -> FloatArray:
        """Return points (n, 3), levelled frame, in the trunk frame (n, 3)."""
        return levelled @ self.turn.T + self.shift


def find_trunk(points: FloatArray, *, floor: float | None) -> Trunk | None:
    """Return the trunk of an animal, or None where nothing has the shape of one.

    Parameters
    ----------
    points : (n, 3) float, levelled frame, the animal's points only
    floor : height of the ground it stands on, same frame; None where it is not known
    """
    top = float(np.percentile(points[:, 2], 98.0))
    low = float(points[:, 2].min()) if floor is None else floor
    upper = points[points[:, 2] > low + 0.5 * (top - low)]
    seen = _seen_from_above(upper) if len(upper) > _FEWEST else None
    if seen is None:
        return None
    middle, along, half_width, reach = seen
    turn = turn_to(float(np.arctan2(along[1], along[0])))
    shift = -turn @ np.array([middle[0], middle[1], 0.0])
    ends = (-reach - half_width, reach + half_width)
    for number in range(_ROUNDS):
        grid = trunk_grid(upper @ turn.T + shift, half_width, ends)
        found = None if grid is None else midline_step(grid, (-reach, reach), half_width)
        if grid is None or found is None:
            break
        offset, slope, mismatch, sd = found
        by = float(np.arctan(slope))
        if number == _ROUNDS - 1 or (abs(by) < 1e-5 and abs(offset) < 1e-5 * half_width):
            return Trunk(
                turn=turn,
                shift=shift,
                half_width=half_width,
                core=(-reach, reach),
                grid=grid,
                mismatch=mismatch,
                heading_sd_rad=sd,
            )
        step = turn_to(by)
        turn, shift = step @ turn, step @ (shift - np.array([0.0, offset, 0.0]))
    return None


def turn_to(angle: float) -> FloatArray:
    """Return the rotation (3, 3) about z that brings the direction at `angle` [rad] onto x, any frame."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def _seen_from_above(points: FloatArray) -> tuple[FloatArray, FloatArray, float, float] | None:
    """Return middle (2,), direction (2,), half-width and half-length of the wide part, levelled frame."""
    flat = points[:, :2]
    low = flat.min(axis=0)
    cell = float(np.ptp(flat, axis=0).max()) / _CELLS
    if not cell > 0.0:
        return None
    index = np.floor((flat - low) / cell).astype(int) + 4
    mask = np.zeros(tuple(index.max(axis=0) + 5), dtype=bool)
    mask[index[:, 0], index[:, 1]] = True
    mask = binary_fill_holes(binary_closing(mask, iterations=3))
    depth = distance_transform_edt(mask)
    half_width = float(depth.max()) * cell
    core = depth > 0.5 * depth.max()
    if core.sum() < 12:
        return None
    places = (np.argwhere(core) - 3.5) * cell + low
    weights = depth[core]
    middle = np.average(places, axis=0, weights=weights)
    apart = places - middle
    spread, vectors = np.linalg.eigh((apart * weights[:, None]).T @ apart / weights.sum())
    if spread[1] < 2.0 * spread[0]:
        return None
    along = vectors[:, 1]
    ends = np.percentile(apart @ along, [2.0, 98.0])
    middle = middle + along * float(ends.mean())
    return middle, along, half_width, 0.5 * float(np.ptp(ends))


def trunk_grid(points: FloatArray, half_width: float, ends: tuple[float, float]) -> PolarGrid | None:
    """Lay the upper part of an animal on a polar grid.

    Parameters
    ----------
    points : (n, 3) float, trunk frame
    half_width : of the trunk, same unit
    ends : of the grid along x, same frame
    """
    step = 0.06 * half_width
    x = np.arange(ends[0], ends[1] + step, step)
    top = topline(points, x, half_width)
    if top is None:
        return None
    return lay_on_grid(points, x, top - AXIS_DEPTH * half_width, PHI, (0.25 * half_width, 2.2 * half_width))


def topline(points: FloatArray, x: FloatArray, half_width: float) -> FloatArray | None:
    """Return the height (k,) of the topline at evenly spaced x (k,), trunk frame, smooth to a few steps."""
    step = float(x[1] - x[0])
    near = points[np.abs(points[:, 1]) < 0.25 * half_width]
    row = np.floor((near[:, 0] - x[0]) / step + 0.5).astype(np.int64)
    inside = (row >= 0) & (row < len(x))
    row, height = row[inside], near[inside, 2]
    highest = np.full(len(x), -np.inf)
    np.maximum.at(highest, row, height)
    # The top is the middle of what lies close below the highest point: one stray point does not lift it.
    close = height > highest[row] - 0.12 * half_width
    middle, count = grouped_median(row[close], height[close], len(x))
    has = count > 2
    if has.sum() < 8:
        return None
    filled = np.interp(x, x[has], middle[has])
    return median_filter(filled, size=7, mode="nearest")


def midline_step(
    grid: PolarGrid, core: tuple[float, float], half_width: float
) -> tuple[float, float, float, float] | None:
    """Return offset, slope, mismatch and the slope's standard deviation of the midline, from left − right."""
    rows = np.flatnonzero((grid.x >= core[0]) & (grid.x <= core[1]))
    middle = len(grid.phi) // 2
    turn = float(grid.phi[1] - grid.phi[0])
    columns = np.arange(1, int(np.deg2rad(84.0) / turn) + 1)
    both = (grid.count[np.ix_(rows, middle + columns)] > 0) & (grid.count[np.ix_(rows, middle - columns)] > 0)
    if both.sum() < 40:
        return None
    left, right = grid.radius[np.ix_(rows, middle + columns)], grid.radius[np.ix_(rows, middle - columns)]
    mean = np.where(both, 0.5 * (left + right), np.nan)
    mean = _filled_rows(mean)
    slope = np.gradient(mean, turn, axis=1)
    phi = grid.phi[middle + columns]
    effect = 2.0 * (np.sin(phi) - slope / mean * np.cos(phi))
    x = np.broadcast_to(grid.x[rows, None], both.shape)[both]
    design = np.stack([effect[both], effect[both] * x / half_width], axis=1)
    difference = (left - right)[both]
    weights = np.ones(len(difference))
    solution = np.zeros(2)
    for _ in range(15):
        weighted = design * weights[:, None]
        solution = np.linalg.lstsq(weighted.T @ design, weighted.T @ difference, rcond=None)[0]
        rest = np.abs(difference - design @ solution)
        limit = 1.5 * (1.4826 * float(np.median(rest)) + 1e-3 * half_width)
        # Tukey's weights: a leg, a hand or a bale on one side is left out, not averaged in.
        weights = np.square(np.maximum(0.0, 1.0 - np.square(rest / (3.0 * limit))))
    scatter = 1.4826 * float(np.median(rest))
    information = design.T @ (design * weights[:, None])
    # Neighbouring cells share their shape's asymmetry: a fifth of them counts as independent (assumption).
    sd = scatter * float(np.sqrt(5.0 * np.linalg.pinv(information)[1, 1])) / half_width
    mismatch = float(np.median(np.abs(difference))) / half_width
    return float(solution[0]), float(solution[1]) / half_width, mismatch, sd


def straightened(
    trunk: Trunk, placed: FloatArray, span: tuple[float, float], size: tuple[float, float]
) -> Trunk:
    """Return the trunk turned to the midline of a part of it; itself where too little of both sides is seen.

    Parameters
    ----------
    trunk : Trunk
    placed : (n, 3) float, trunk frame
    span : rear and front end of the part, along x, same frame
    size : half-width of the trunk and depth of the axis below its topline, same unit
    """
    half_width, depth = size
    x = np.linspace(*span, _SECTIONS)
    middle, reach = 0.5 * (span[0] + span[1]), span[1] - span[0]
    if not reach > 0.5 * half_width:
        return trunk
    n = len(_SIDE)
    points, turn, shift = placed - [middle, 0.0, 0.0], trunk.turn, trunk.shift - [middle, 0.0, 0.0]
    for _ in range(_ROUNDS):
        top = topline(points, x - middle, half_width)
        if top is None:
            return trunk
        grid = lay_on_grid(points, x - middle, top - depth, _ROUND, (0.2 * half_width, 2.0 * half_width))
        there = grid.count > 0
        both = there[:, n + 1 :] & there[:, n - 1 :: -1]
        both &= (both.sum(axis=1) >= _FEWEST_PAIRS)[:, None]
        if both.any(axis=1).sum() < _FEWEST_PAIRS:
            return trunk
        up = np.where(there[:, n], grid.radius[:, n], np.nan)
        # Lengths in mm of a trunk 300 mm to each side: what fades over holes fades over a hand.
        mm = 300.0 / half_width
        sides = two_sides(
            _SIDE, mm * up, mm * grid.radius[:, n + 1 :], mm * grid.radius[:, n - 1 :: -1], both
        )
        (offset, slope), _, _ = fit_line(sides, (x - middle) / reach, mm * reach / (_SECTIONS - 1))
        by, move = turn_to(float(np.arctan(slope / mm / reach))), np.array([0.0, offset / mm, 0.0])
        points, turn, shift = (points - move) @ by.T, by @ turn, by @ (shift - move)
        if abs(slope) < 0.05 and abs(offset) < 0.05:
            break
    if (turn @ trunk.turn.T)[0, 0] < _FARTHEST:
        return trunk
    return replace(trunk, turn=turn, shift=shift + np.array([middle, 0.0, 0.0]))


def _filled_rows(values: FloatArray) -> FloatArray:
    """Return rows (k, j), any unit, with gaps bridged along each row, for slopes only."""
    columns = np.arange(values.shape[1])
    out = np.ones_like(values)
    for k, row in enumerate(values):
        has = np.isfinite(row)
        if has.any():
            out[k] = np.interp(columns, columns[has], row[has])
    return out
