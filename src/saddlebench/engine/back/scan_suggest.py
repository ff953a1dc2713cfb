"""Propose a back's landmarks from the shape of a trunk of unknown size, and say how like a horse it is.

The trunk's proportions are held against a horse's: how wide it is at three angles all along, and how its
topline sinks and rises. One shift and one stretch lay the one on the other. What only hands can feel (the
last rib, the edge of the shoulder blade) follows from proportion alone, and its error says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import minimize

from saddlebench.engine.back.scan import ON_TOP, ScanMark
from saddlebench.engine.back.scan_align import PROPOSED_SD_MM
from saddlebench.engine.back.scan_topline import STRIP_MM, lowest_on, on_top, smooth_topline, withers_on
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.polar_grid import lay_on_grid
from saddlebench.engine.scan.standing import Standing
from saddlebench.engine.scan.trunk import AXIS_DEPTH, topline

HORSE_MM = 1600.0
"""Height at the withers of the horse whose proportions these are."""
_TOLD_AT_MM = np.arange(0.0, 961.0, 80.0)
"""Distances behind the highest withers spine; further in front the neck's posture is all that is seen."""
# Rounded means of two open meshes of horses, at 1.60 m: radii about a line 220 mm below the topline …
_ANGLES_DEG = (50.0, 80.0, 97.5)
_RADII_TOLD_MM = np.array(
    [
        [195, 205, 215, 230, 235, 235, 230, 235, 250, 265, 265, 260, 245],
        [205, 215, 240, 260, 270, 270, 260, 265, 275, 285, 290, 280, 255],
        [225, 245, 270, 290, 300, 300, 290, 285, 290, 305, 310, 300, 275],
    ],
    dtype=float,
)
# … and heights of the topline over its own sloping line from withers to croup.
_TOP_TOLD_MM = np.array([22, -14, -38, -42, -34, -18, -2, 16, 26, 20, 2], dtype=float)
# … both as smooth curves, so that every place counts, and not 13 of them.
AT_MM = np.arange(0.0, 961.0, 20.0)
_RADII_MM = CubicSpline(_TOLD_AT_MM, _RADII_TOLD_MM, axis=1)(AT_MM)
_TOP = slice(4, 45)
_TOP_MM = CubicSpline(_TOLD_AT_MM[1:-1], _TOP_TOLD_MM)(AT_MM[_TOP])
_LEAST_RADII, _LEAST_TOP = 0.64, 0.82
"""Shares of the topline's length that must be seen."""
SHOULDER_BEHIND_MM = 83.0
LAST_RIB_BEHIND_MM = 615.0
"""Behind the withers; by eye on five meshes 602–646."""
MARK_SD_MM = {**PROPOSED_SD_MM, ScanMark.SHOULDER: 40.0}
_RADIUS_SD_MM, _TOP_SD_MM = 15.0, 10.0
_STRETCH_SD_ON_GROUND, _STRETCH_SD = 0.03, 0.10
_TOPLINE_OVER_GROUND_MM, _CORE_MM = 1540.0, 1290.0
_STEP_MM = 20.0
_RIDGE_MM = 25.0
_BESIDE_ROWS = 6
_SOUGHT_MM = (-260.0, 820.0)
"""Of the topline, before and behind the expected withers: so much is laid smooth."""
UNLIKE_A_HORSE = 0.62
"""Unlikeness above which a scan is questioned: horses at hand reach 0.2, made fatter, thinner, longer or
shorter by far 0.5 (one 0.8), an invented one of plain tubes 0.5; a cow 0.7–0.9, a camel 1.4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestions:
    """Landmarks proposed from the shape alone, in the scan's own axes and unit."""

    marks: Mapping[ScanMark, FloatArray]
    """(3,) float each, instrument frame, the scan's unit, on the top of the back."""
    sd: Mapping[ScanMark, float]
    """Standard deviation along the back, the scan's unit."""
    withers_height: float | None
    """Above the ground, the scan's unit; None without ground, or where the withers are not seen."""
    mm_per_unit: float
    """So many mm would be one unit if the horse had the proportions of one of 1.60 m of this size: to judge
    stated units by, never to be used as one."""
    unlikeness: float
    """Mean misfit of the proportions; above `UNLIKE_A_HORSE` it is questioned."""
    other_way: float
    """The same with head and tail exchanged."""
    unseen: frozenset[ScanMark]
    """Marks that would lie in a hole of the topline: none is proposed for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """What is seen along the trunk, in mm of a horse of 1.60 m, from the front."""

    behind: FloatArray
    """(k,) float, behind the middle of the trunk."""
    top: FloatArray
    radii: FloatArray
    """(k, 3) float, NaN where neither side was seen."""


def suggest_marks(standing: Standing, points: FloatArray) -> Suggestions | None:
    """Propose landmarks, or None where too little of a trunk is seen.

    Parameters
    ----------
    standing : Standing
    points : (n, 3) float, instrument frame, the scan's unit, about even, of the animal: some 50,000 or more
    """
    placed = standing.points(points)
    per_mm = _units_per_mm(standing)
    stretch_sd = _STRETCH_SD if standing.ground is None else _STRETCH_SD_ON_GROUND
    seen = _look_along(placed, per_mm, standing)
    if seen is None:
        return None
    fitted = _laid_on(seen, stretch_sd)
    if fitted is None:
        return None
    turned = _laid_on(_other_way_round(seen), stretch_sd)
    shift, stretch, cost = fitted
    topline = smooth_topline(
        placed[np.abs(placed[:, 1]) < STRIP_MM * per_mm] / per_mm,
        (-shift - stretch * _SOUGHT_MM[1], -shift - stretch * _SOUGHT_MM[0]),
    )
    if topline is None:
        return None
    withers, withers_sd = withers_on(topline, shift, stretch * MARK_SD_MM[ScanMark.WITHERS])
    behind = {
        ScanMark.WITHERS: withers,
        ScanMark.SHOULDER: withers + stretch * SHOULDER_BEHIND_MM,
        # Half by where the proportions lie, half by the withers: each errs on its own.
        ScanMark.LAST_RIB: 0.5 * (shift + withers) + 0.5 * (1.0 + stretch) * LAST_RIB_BEHIND_MM,
    }
    lowest = lowest_on(topline, (-withers - stretch * 80.0, -behind[ScanMark.LAST_RIB] - stretch * 40.0))
    if lowest is not None:
        behind[ScanMark.LOWEST] = -lowest
    unseen = frozenset(mark for mark in ON_TOP if mark in behind and not topline.is_seen(-behind[mark]))
    marks = {mark: _on_top(standing, seen, at, per_mm) for mark, at in behind.items() if mark not in unseen}
    ground = standing.ground
    height = None
    if ground is not None and ScanMark.WITHERS in marks:
        height = ground.height(marks[ScanMark.WITHERS], standing.up)
    scale = per_mm * stretch
    return Suggestions(
        marks=marks,
        sd={mark: MARK_SD_MM[mark] * scale for mark in marks if mark is not ScanMark.WITHERS}
        | ({ScanMark.WITHERS: withers_sd * per_mm} if ScanMark.WITHERS in marks else {}),
        withers_height=height,
        mm_per_unit=1.0 / scale,
        unlikeness=cost,
        other_way=np.inf if turned is None else turned[2],
        unseen=unseen,
    )


def _units_per_mm(standing: Standing) -> float:
    """Return the scan's units in a mm of a horse of 1.60 m, good to some tenth."""
    trunk = standing.trunk
    if standing.ground is None:
        return (trunk.core[1] - trunk.core[0]) / _CORE_MM
    inside = (trunk.grid.x > trunk.core[0]) & (trunk.grid.x < trunk.core[1])
    top = float(np.median(trunk.grid.axis_z[inside])) + AXIS_DEPTH * trunk.half_width
    above = standing.back(np.array([[0.0, 0.0, top]]))[0]
    return standing.ground.height(above, standing.up) / _TOPLINE_OVER_GROUND_MM


def _look_along(placed: FloatArray, per_mm: float, standing: Standing) -> _Seen | None:
    points = placed / per_mm
    core = standing.trunk.core[1] / per_mm
    x = np.arange(-core - 700.0, core + 700.0, _STEP_MM)
    unseen = _ridge_unseen(points, x)
    # What is seen beside a hole of the ridge lies below it, and is no topline.
    row = np.clip(np.floor((points[:, 0] - x[0]) / _STEP_MM + 0.5).astype(np.int64), 0, len(x) - 1)
    top = topline(points[~(unseen[row] & (np.abs(points[:, 1]) < HORSE_MM * 0.05))], x, HORSE_MM * 0.19)
    if top is None:
        return None
    top = _over_holes(top, unseen)
    turn = np.deg2rad(5.0)
    phi = turn * np.arange(-21, 22)
    grid = lay_on_grid(points, x, top - 220.0, phi, (60.0, 600.0))
    radius = np.where(grid.count > 0, grid.radius, np.nan)
    radii = []
    for angle in _ANGLES_DEG:
        near = np.flatnonzero(np.abs(np.abs(np.rad2deg(phi)) - angle) < 6.0)
        left, right = _mean(radius[:, near[phi[near] > 0]]), _mean(radius[:, near[phi[near] < 0]])
        # Where the two sides differ much, the one nearer in is the animal: what leans on it lies outside.
        low, high = np.fmin(left, right), np.fmax(left, right)
        radii.append(np.where(high - low > 40.0, low, 0.5 * (low + high)))
    return _Seen(behind=-x[::-1], top=top[::-1], radii=np.stack(radii, axis=1)[::-1])


def _ridge_unseen(points: FloatArray, x: FloatArray) -> NDArray[np.bool_]:
    """Return where (k,) in the middle of x (k,), trunk frame [mm], the ridge has a hole."""
    along, _, _ = on_top(points[np.abs(points[:, 1]) < _RIDGE_MM], (float(x[0]), float(x[-1])))
    row = np.floor((along - x[0]) / _STEP_MM + 0.5).astype(np.int64)
    seen = np.bincount(row[(row >= 0) & (row < len(x))], minlength=len(x)) > 0
    if not seen.any():
        return np.zeros(len(x), dtype=bool)
    first, last = np.flatnonzero(seen)[[0, -1]]
    inside = np.zeros(len(x), dtype=bool)
    inside[first:last] = True
    return inside & ~seen


def _over_holes(top: FloatArray, unseen: NDArray[np.bool_]) -> FloatArray:
    """Return the topline's heights (k,) [mm], through each hole as what lies on both sides of it bends."""
    out, at = top.copy(), np.arange(len(top))
    for hole in np.split(at[unseen], np.flatnonzero(np.diff(at[unseen]) > 1) + 1):
        if len(hole) == 0:
            continue
        near = (at >= hole[0] - _BESIDE_ROWS) & (at <= hole[-1] + _BESIDE_ROWS) & ~unseen
        middle = at[near].mean()
        out[hole] = np.polyval(np.polyfit(at[near] - middle, top[near], 3), hole - middle)
    return out


def _mean(values: FloatArray) -> FloatArray:
    """Return the mean (k,) of what is there in each row (k, j) [mm], NaN for nothing."""
    there = np.isfinite(values)
    count = there.sum(axis=1)
    return np.where(count > 0, np.where(there, values, 0.0).sum(axis=1) / np.maximum(count, 1), np.nan)


def _other_way_round(seen: _Seen) -> _Seen:
    return _Seen(behind=-seen.behind[::-1], top=seen.top[::-1], radii=seen.radii[::-1])


def _laid_on(seen: _Seen, stretch_sd: float) -> tuple[float, float, float] | None:
    """Return shift [mm], stretch and misfit of the horse laid on what is seen."""
    bridged = np.stack([_bridged(column) for column in seen.radii.T], axis=1)
    best: tuple[float, float, float] | None = None
    for stretch in np.arange(0.85, 1.19, 0.05):
        for shift in np.arange(-900.0, 301.0, 40.0):
            cost = _misfit(seen, bridged, float(shift), float(stretch), stretch_sd)
            if best is None or cost < best[2]:
                best = (float(shift), float(stretch), cost)
    if best is None or not np.isfinite(best[2]):
        return None
    start = np.array([[best[0], best[1]], [best[0] + 10.0, best[1]], [best[0], best[1] + 0.02]])
    found = minimize(
        lambda p: _misfit(seen, bridged, float(p[0]), float(p[1]), stretch_sd),
        start[0],
        method="Nelder-Mead",
        options={"initial_simplex": start, "xatol": 1e-2, "fatol": 1e-6, "maxiter": 200},
    )
    return float(found.x[0]), float(found.x[1]), float(found.fun)


def _bridged(column: FloatArray) -> FloatArray:
    """Bridge short gaps in a column (k,) [mm]; longer ones stay NaN."""
    there = np.flatnonzero(np.isfinite(column))
    if len(there) < 4:
        return np.full_like(column, np.nan)
    index = np.arange(len(column))
    filled = np.interp(index, there, column[there])
    nearest = np.abs(index[:, None] - there[None, :]).min(axis=1)
    return np.where(nearest <= 3, gaussian_filter1d(filled, 1.0), np.nan)


def _misfit(seen: _Seen, bridged: FloatArray, shift: float, stretch: float, stretch_sd: float) -> float:
    """Return the mean of Huber's loss of all differences, in standard deviations, and of the stretch."""
    at = shift + stretch * AT_MM
    inside = (at >= seen.behind[0]) & (at <= seen.behind[-1])
    losses, weights = [], []
    for j in range(len(_ANGLES_DEG)):
        values = np.interp(at, seen.behind, bridged[:, j]) / stretch
        there = inside & np.isfinite(values)
        if there[_TOP].mean() < _LEAST_RADII:
            continue
        losses.append(_loss(_less_gain(values[there], _RADII_MM[j, there]) / _RADIUS_SD_MM))
        weights.append(there.mean())
    if not losses or inside[_TOP].mean() < _LEAST_TOP:
        return np.inf
    part = np.flatnonzero(inside[_TOP])
    rest = np.interp(at[_TOP][part], seen.behind, seen.top) / stretch - _TOP_MM[part]
    rest = rest - np.polyval(np.polyfit(AT_MM[_TOP][part], rest, 1), AT_MM[_TOP][part])
    losses.append(_loss(rest / _TOP_SD_MM))
    weights.append(1.0)
    # What is not seen at all is no sign of likeness: little seen costs a little.
    unseen = 1.0 - sum(weights) / (len(_ANGLES_DEG) + 1.0)
    return (
        float(np.average(losses, weights=weights))
        + 0.3 * unseen
        + 0.025 * (np.log(stretch) / stretch_sd) ** 2
    )


def _less_gain(values: FloatArray, expected: FloatArray) -> FloatArray:
    """Return values (k,) less the expected ones times the gain that fits best, robustly: fat or thin [mm]."""
    weights = np.ones(len(values))
    rest = values - expected
    for _ in range(4):
        gain = float((weights * values * expected).sum() / (weights * expected**2).sum())
        rest = values - gain * expected
        weights = 1.0 / np.maximum(1.0, np.abs(rest) / (1.5 * _RADIUS_SD_MM))
    return rest


def _loss(rest: FloatArray) -> float:
    size = np.abs(rest)
    return float(np.where(size < 1.5, 0.5 * size**2, 1.5 * size - 1.125).mean())


def _on_top(standing: Standing, seen: _Seen, behind: float, per_mm: float) -> FloatArray:
    """Return the point (3,) of the topline, instrument frame, the scan's unit."""
    z = float(np.interp(behind, seen.behind, seen.top))
    return standing.back(np.array([[-behind, 0.0, z]]) * per_mm)[0]
