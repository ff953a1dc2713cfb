"""The topline of a trunk as one smooth curve: withers and lowest point from all of it, never from one bump.

Heights of a strip along the back are fitted by cubic splines with a penalty on their third derivative
(P. H. C. Eilers, B. D. Marx, Statistical Science 11 (1996), 89–121), always equally smooth: a coarse scan and
a fine one of the same back are read at the same scale. The curve runs on over holes; where one lies is told.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import csr_array, diags_array, hstack

from saddlebench.engine.frames import FloatArray

STRIP_MM = 70.0
"""Half the width of the strip [mm]."""
HOLE_MM = 80.0
"""A mark that lies in a longer gap of the topline is not seen (from the bench)."""
_RIDGE_MM, _NEAR_MM = 25.0, 40.0
_KNOT_MM, _CELL_MM = 30.0, 10.0
_SCALE_MM = 40.0
_ACROSS_STIFFER = 10.0
_ROUNDS = 6
_LEAST_POINTS = 200
_STRONG_BEND = 1.0 / 1500.0
_MOST_TOLD = 7.0
"""In strong bends: a fold of a raised neck bends more, and says no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothTopline:
    """The ridge of a strip along the back, in mm of the horse as scaled, and where it was seen."""

    ridge: BSpline
    """Height over x, trunk frame [mm]."""
    seen_x: FloatArray
    """(k,) float, increasing, trunk frame [mm]: where points lie close to the ridge."""
    reach: tuple[float, float]
    """Rear and front end of the curve [mm]."""

    def bend(self, x: FloatArray) -> FloatArray:
        """Return the second derivative (k,) [1/mm] at x (k,), trunk frame [mm]."""
        return np.asarray(self.ridge(np.clip(x, *self.reach), 2))

    def gap_at(self, x: float) -> float:
        """Return the length of the gap in which x lies, trunk frame [mm]; about nothing where it is seen."""
        k = int(np.searchsorted(self.seen_x, x))
        before = self.seen_x[k - 1] if k > 0 else -np.inf
        after = self.seen_x[k] if k < len(self.seen_x) else np.inf
        return float(after - before)

    def is_seen(self, x: float) -> bool:
        """Whether x, trunk frame [mm], lies in no hole."""
        return self.gap_at(x) <= HOLE_MM


def smooth_topline(strip: FloatArray, ends_mm: tuple[float, float]) -> SmoothTopline | None:
    """Return the smooth topline between two ends, or None where hardly anything of it is seen.

    Parameters
    ----------
    strip : (n, 3) float, trunk frame, points of the upper side about the midline [mm]
    ends_mm : rear and front end, along x [mm]
    """
    x, v, z = on_top(strip, ends_mm)
    if len(x) < _LEAST_POINTS:
        return None
    knots = np.arange(ends_mm[0] - 4.0 * _KNOT_MM, ends_mm[1] + 5.0 * _KNOT_MM, _KNOT_MM)
    count = len(knots) - 4
    along = BSpline.design_matrix(x, knots, 3)
    across = v / STRIP_MM
    design = csr_array(hstack([along, diags_array(across) @ along, diags_array(across**2) @ along]))
    rough = np.diff(np.eye(count), 3, axis=0)
    stiff = (_SCALE_MM / _KNOT_MM) ** 6 * rough.T @ rough
    penalty = np.kron(np.diag([1.0, _ACROSS_STIFFER, _ACROSS_STIFFER]), stiff) + 1e-6 * np.eye(3 * count)
    even = _even_weights(x, v, ends_mm[0])
    weights = even
    for _ in range(_ROUNDS):
        information = (design.T @ diags_array(weights) @ design).toarray() + penalty
        solution = cho_solve(cho_factor(information), design.T @ (weights * z))
        rest = z - design @ solution
        limit = 6.0 * 1.4826 * float(np.median(np.abs(rest))) + 1e-9
        weights = even * np.square(np.maximum(0.0, 1.0 - np.square(rest / limit)))
    return SmoothTopline(
        ridge=BSpline(knots, solution[:count], 3),
        # By nearness alone: where the ridge is crooked, points that the fit leaves out are seen all the same.
        seen_x=np.sort(x[(np.abs(v) < _RIDGE_MM) & (np.abs(rest) < _NEAR_MM)]),
        reach=ends_mm,
    )


def on_top(strip: FloatArray, ends_mm: tuple[float, float]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return x, y, z, (k,) each, of a strip's points (n, 3) that lie on top: the belly lies far below them.

    Parameters
    ----------
    strip : (n, 3) float, trunk frame, about the midline [mm]
    ends_mm : rear and front end of what is looked at, along x [mm]
    """
    inside = (np.abs(strip[:, 1]) < STRIP_MM) & (strip[:, 0] > ends_mm[0]) & (strip[:, 0] < ends_mm[1])
    near = strip[inside]
    if len(near) == 0:
        return near[:, 0], near[:, 1], near[:, 2]
    row = np.floor((near[:, 0] - ends_mm[0]) / 100.0).astype(np.int64)
    highest = np.full(row.max() + 3, -np.inf)
    np.maximum.at(highest, row + 1, near[:, 2])
    around = np.maximum(np.maximum(highest[:-2], highest[1:-1]), highest[2:])
    top = near[near[:, 2] > around[row] - 250.0]
    return top[:, 0], top[:, 1], top[:, 2]


def _even_weights(x: FloatArray, v: FloatArray, start: float) -> FloatArray:
    """Return weights (n,): squares of 10 mm count alike, and together as one reading between two knots."""
    rows = np.floor((x - start) / _CELL_MM).astype(np.int64)
    columns = np.floor((v + STRIP_MM) / _CELL_MM).astype(np.int64)
    _, cell, held = np.unique(rows * 64 + columns, return_inverse=True, return_counts=True)
    weights = 1.0 / held[cell]
    between = np.floor((x - start) / _KNOT_MM).astype(np.int64)
    return np.asarray(weights / np.bincount(between, weights)[between])


def withers_on(topline: SmoothTopline, expected: float, sd_mm: float) -> tuple[float, float]:
    """Return where the withers lie [mm behind the trunk's middle], and how sure that is.

    The mean of all places near the expected one, weighted by how far off it they are and by how much the
    topline bends down there: where nothing bends, it is the expected place itself, and nothing jumps.

    Parameters
    ----------
    topline : SmoothTopline
    expected, sd_mm : by proportion, behind the trunk's middle [mm]
    """
    at = np.arange(expected - 4.0 * sd_mm, expected + 4.0 * sd_mm + 1.0, 5.0)
    told = np.clip(-topline.bend(-at) / _STRONG_BEND, 0.0, _MOST_TOLD)
    log = told - 0.5 * ((at - expected) / sd_mm) ** 2
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    middle = float((weight * at).sum())
    return middle, float(np.sqrt((weight * (at - middle) ** 2).sum()))


def lowest_on(topline: SmoothTopline, x_mm: tuple[float, float]) -> float | None:
    """Return the x at which the topline is lowest, trunk frame [mm].

    Parameters
    ----------
    topline : SmoothTopline
    x_mm : front and rear end of where it is sought; None comes back when it is lowest at an end
    """
    x = np.arange(min(x_mm), max(x_mm) + 1.0, 2.0)
    heights = topline.ridge(np.clip(x, *topline.reach))
    k = int(np.argmin(heights))
    return None if k in (0, len(x) - 1) else float(x[k])
