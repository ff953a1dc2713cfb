"""Least squares of a few unknowns that may take certain ranges only, with a price on what is moved.

Minimised is `½xᵀSx + cᵀx + Σ w|x|`, S positive definite, every unknown within one of its ranges: nothing, or
at least a workable step; a shim from a list; an arch in its steps. Without the gaps between ranges this is
convex and solved by coordinate descent; the gaps are closed by branch and bound, so that the answer is the
least there is (up to `GAP` of the whole range of values), not a rounded one.

References
----------
Land AH, Doig AG (1960) An automatic method of solving discrete programming problems. Econometrica 28:497–520.
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.alter._kernels import descend
from saddlebench.engine.frames import FloatArray

Ranges = tuple[tuple[float, float], ...]
"""Allowed ranges of one unknown, rising, not touching; a single value is a range of no width."""
TOLERANCE = 1e-9
MOST_SWEEPS = 20_000
MOST_NODES = 4_000
GAP = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """The problem."""

    square: FloatArray
    """(k, k) float, saddle frame [1 per unit²], symmetric, positive definite."""
    linear: FloatArray
    """(k,) float, saddle frame [1 per unit]."""
    price: FloatArray
    """(k,) float, saddle frame [1 per unit], not negative."""

    def value(self, x: FloatArray) -> float:
        """Return the objective at x (k,) float, any frame [units of the unknowns]."""
        return float(0.5 * x @ self.square @ x + self.linear @ x + self.price @ np.abs(x))


@dataclass(frozen=True, slots=True, kw_only=True)
class Least:
    """The least there is, and how it was found."""

    x: FloatArray
    """(k,) float, any frame [units of the unknowns]."""
    value: float
    bound: float
    """No allowed x has a value below this."""
    nodes: int


def least_within(
    problem: Priced,
    low: FloatArray,
    high: FloatArray,
    start: FloatArray | None = None,
    *,
    tolerance: float = TOLERANCE,
) -> FloatArray:
    """Return the minimum within plain bounds.

    Parameters
    ----------
    problem : Priced
    low, high : (k,) float, any frame [units of the unknowns]
    start : (k,) float, any frame [units of the unknowns]: where to begin
    tolerance : done when no unknown moves further in one sweep [units of the unknowns]

    Returns
    -------
    (k,) float
    """
    x = np.clip(np.zeros(len(low)) if start is None else start, low, high)
    descend(problem.square, problem.linear, problem.price, low, high, x, tolerance, MOST_SWEEPS)
    return x


def least_in_ranges(problem: Priced, ranges: Sequence[Ranges], start: FloatArray | None = None) -> Least:
    """Return the minimum with every unknown in one of its ranges.

    Parameters
    ----------
    problem : Priced
    ranges : for each unknown
    start : (k,) float, any frame [units of the unknowns]: where to begin
    """
    low = np.array([one[0][0] for one in ranges])
    high = np.array([one[-1][1] for one in ranges])
    x = least_within(problem, low, high, start)
    root = problem.value(x)
    best_x = _nearest(x, ranges)
    best = problem.value(best_x)
    spread = max(best - root, 1e-12)
    queue = [(root, 0, x, tuple(ranges))]
    nodes, count = 1, 0
    bound = root
    while queue and nodes < MOST_NODES:
        bound, _, x, left = heapq.heappop(queue)
        if bound >= best - GAP * spread:
            break
        which = _furthest_out(x, left)
        if which < 0:
            best, best_x = bound, x
            continue
        for part in _parted(left[which], float(x[which])):
            if not part:
                continue
            narrower = (*left[:which], part, *left[which + 1 :])
            low[:] = [one[0][0] for one in narrower]
            high[:] = [one[-1][1] for one in narrower]
            found = least_within(problem, low, high, x)
            nodes, count = nodes + 1, count + 1
            value = problem.value(found)
            near = _nearest(found, narrower)
            if problem.value(near) < best:
                best, best_x = problem.value(near), near
            if value < best:
                heapq.heappush(queue, (value, count, found, narrower))
    return Least(x=best_x, value=best, bound=min(bound, best), nodes=nodes)


def _nearest(x: FloatArray, ranges: Sequence[Ranges]) -> FloatArray:
    return np.array([_into(float(value), one) for value, one in zip(x, ranges, strict=True)])


def _into(value: float, ranges: Ranges) -> float:
    return min((min(max(value, low), high) for low, high in ranges), key=lambda one: abs(one - value))


def _furthest_out(x: FloatArray, ranges: Sequence[Ranges]) -> int:
    away = [abs(_into(float(value), one) - value) for value, one in zip(x, ranges, strict=True)]
    most = int(np.argmax(away))
    return most if away[most] > 1e-7 else -1


def _parted(ranges: Ranges, at: float) -> tuple[Ranges, Ranges]:
    below = tuple(one for one in ranges if one[1] <= at)
    return below, ranges[len(below) :]
