"""Hold the two sides of a trunk against each other, and find the shift and turn that make them most alike.

A back that bends, or is no mirror of itself, has another midline for each part of it. So that holes do not
choose the part, what is left of the difference after each step is carried on over them from what lies around,
fading to none within a hand's breadth (a random field with the covariance of P. Whittle, Biometrika 41
(1954), 434–449, on a grid), and every place counts alike.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, diags_array, eye_array, kron
from scipy.sparse.linalg import splu

from saddlebench.engine.frames import FloatArray

_FILLED = 12
_FADE_MM = 60.0
"""Reach of what is carried on over a hole (assumption: what the two sides differ by changes over a hand)."""
_STIFF = 1e-2
_LEFT_OUT = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Left against right at every section and angle."""

    effect: FloatArray
    """(c, j) float, what a shift of the plane by 1 mm does to the difference [1]."""
    difference: FloatArray
    """(c, j) float, left minus right radius [mm]; meaningless where not `both`."""
    both: NDArray[np.bool_]
    """(c, j) whether both sides have a surface there."""
    step: float
    """Between angles [rad]."""
    radius_mm: float
    """Median radius."""


def two_sides(
    phi: FloatArray, middle: FloatArray, left: FloatArray, right: FloatArray, both: NDArray[np.bool_]
) -> Sides:
    """Compare left and right radii about an axis on the plane of symmetry.

    Left minus right is, to first order in a shift `t` of the plane, `2t(sin φ − (r′/r) cos φ)`.

    Parameters
    ----------
    phi : (j,) float, even angles from the first step outwards [rad]
    middle : (c,) float, radius straight up [mm], NaN where it was not seen
    left, right : (c, j) float, radii at +phi and −phi [mm]
    both : (c, j) where both were seen
    """
    mean = _bridged(np.where(both, 0.5 * (left + right), np.nan))
    top = np.where(np.isfinite(middle), middle, mean[:, 0])
    step = float(phi[1] - phi[0])
    slope = np.gradient(np.concatenate([top[:, None], mean], axis=1), step, axis=1)[:, 1:]
    return Sides(
        effect=2.0 * (np.sin(phi) - slope / mean * np.cos(phi)),
        difference=np.where(both, left - right, 0.0),
        both=both,
        step=step,
        radius_mm=float(np.median(mean)),
    )


def _bridged(values: FloatArray) -> FloatArray:
    """Bridge the gaps (NaN) of a table (c, j) [mm] along the back, then across it: for slopes only."""
    out = values.copy()
    for table in (out.T, out):
        for line in table:
            there = np.isfinite(line)
            if there.any():
                line[:] = np.interp(np.arange(len(line)), np.flatnonzero(there), line[there])
    return out


def fit_line(sides: Sides, along: FloatArray, step_mm: float) -> tuple[FloatArray, float, FloatArray]:
    """Return offset and slope (2,) [mm], the mismatch before [mm], and the first two's errors (2,) [mm].

    Parameters
    ----------
    sides : Sides
    along : (c,) float, places of the sections; the slope is the shift over one unit of them
    step_mm : between sections
    """
    fade = _fading(sides, step_mm)
    slope = sides.effect * along[:, None]
    solution = np.zeros(2)
    for _ in range(_FILLED):
        rest = sides.difference - solution[0] * sides.effect - solution[1] * slope
        filled = np.where(sides.both, rest, fade(rest))
        step = _huber(sides.effect, slope, filled)
        solution = solution + step
        if np.abs(step).max() < 1e-4:
            break
    whole = filled + solution[0] * sides.effect + solution[1] * slope
    groups = np.array_split(np.arange(len(along)), min(_LEFT_OUT, len(along)))
    left_out = np.array(
        [_huber(*(np.delete(part, k, axis=0) for part in (sides.effect, slope, whole))) for k in groups]
    )
    sd = np.sqrt((len(groups) - 1) * left_out.var(axis=0))
    mismatch = float(np.sqrt(np.mean(sides.difference[sides.both] ** 2)))
    return solution, mismatch, sd


def _fading(sides: Sides, step_mm: float) -> Callable[[FloatArray], FloatArray]:
    """Return what carries a field (c, j) [mm] over the gaps: as measured, fading away from there."""
    c, j = sides.both.shape

    def second(n: int, step: float) -> csr_array:
        ends = np.full(n, 2.0)
        ends[[0, -1]] = 1.0
        return (
            csr_array(diags_array([-np.ones(n - 1), ends, -np.ones(n - 1)], offsets=[-1, 0, 1]))
            * (_FADE_MM / step) ** 2
        )

    rough = eye_array(c * j) + kron(second(c, step_mm), eye_array(j))
    rough = csr_array(rough + kron(eye_array(c), second(j, sides.step * sides.radius_mm)))
    known = diags_array(sides.both.ravel().astype(float))
    solve = splu(csc_array(known + _STIFF * (rough.T @ rough))).solve
    return lambda field: solve(np.where(sides.both, field, 0.0).ravel()).reshape(c, j)


def _huber(effect: FloatArray, slope: FloatArray, difference: FloatArray) -> FloatArray:
    """Return the shift and slope (2,) [mm] that best explain a difference, all (c, j), robustly."""
    design = np.stack([effect.ravel(), slope.ravel()], axis=1)
    differences = difference.ravel()
    weights = np.ones(len(differences))
    solution: FloatArray = np.zeros(2)
    for _ in range(12):
        weighted = design * weights[:, None]
        solution = np.linalg.solve(weighted.T @ design, weighted.T @ differences)
        rest = np.abs(differences - design @ solution)
        # Huber's weights with the usual 1.5 robust standard deviations; the floor keeps a perfect fit finite.
        limit = 1.5 * (1.4826 * float(np.median(rest)) + 0.1)
        weights = 1.0 / np.maximum(1.0, rest / limit)
    return solution
