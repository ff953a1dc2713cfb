"""Readings whose only error is their rounding: what they say within half a division, and holding to it.

A least-squares estimate treats rounding as a bell: here and there it leaves a reading by more than half a
division, which the true back never does. Where rounding is all there is, the estimate is therefore the most
likely back among those that would have shown every reading. In the norm of the posterior this is the nearest
such back to the mean, and as the true one is such a back too, it can only come nearer to it.

References
----------
Lawson & Hanson, Solving Least Squares Problems (1974), ch. 23: problem LDP (least distance programming) by
non-negative least squares.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, optimize

from saddlebench.engine.back.gaussian import GaussianField, seen_by
from saddlebench.engine.frames import FloatArray

OF_HALF_A_DIVISION = 0.96
"""Share of the rounding that is used up; the rest is for what a linear model leaves out at a sharp crown."""
SAME_PLACE_MM = 0.5
FIXED = 1e-3
"""A discrepancy that the surface can change by less than this share of its bound is left alone."""
RANK = 1e-9
"""Share of the largest variance below which a combination of readings cannot be moved."""
FARTHEST = 1.0
"""Standard deviations (root mean square) from the mean within which a back is believable."""


class ContradictionError(ValueError):
    """No point keeps all of the inequalities."""

    def __init__(self) -> None:
        super().__init__("the inequalities contradict each other")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedStation:
    """Readings of one station that are wrong by their rounding and by nothing else."""

    points: NDArray[np.intp]
    """(k,) int, the station's points."""
    moves: FloatArray
    """(k, 3, j) float, back frame, how each of the j readings moves them [mm per unit]."""
    most: FloatArray
    """(j,) float, half a step of each reading, in its own unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """How readings follow from the points' radii: `discrepancy = rows @ (measured − surface)`, bounded."""

    rows: FloatArray
    """(k, n) float."""
    most: FloatArray
    """(k,) float, the largest discrepancy that rounding explains."""


def shown_by(
    stations: tuple[RoundedStation, ...],
    points_back: FloatArray,
    station: NDArray[np.int32],
    direction: FloatArray,
) -> Shown:
    """Return how a surface's discrepancy from rounded readings follows from its radii at the points.

    A station's readings count from the surface's own midline there, as an instrument is laid on. With one
    reading to a point (a joint, a pin) the discrepancies are the readings' own, `Γ⁻¹ r`; with two (a traced
    point's coordinates) the surface shall cross the square that rounds to the point.

    Parameters
    ----------
    stations : RoundedStation
    points_back : (n, 3) float, back frame [mm]
    station : (n,) int, station of each point, −1 for the topline's own
    direction : (n, 3) float, back frame, what a move of each point does to its radial residual [1]
    """
    rows: list[FloatArray] = [np.zeros((0, len(points_back)))]
    most: list[FloatArray] = [np.zeros(0)]
    for one in stations:
        gain = np.einsum("ia,iaj->ij", direction[one.points], one.moves)
        from_midline = np.zeros((len(one.points), len(points_back)))
        from_midline[np.arange(len(one.points)), one.points] = 1.0
        apart = np.abs(points_back[:, 0] - points_back[one.points, 0].mean())
        midline = np.flatnonzero((station < 0) & (apart < SAME_PLACE_MM))
        for row in midline:
            from_midline[:, row] -= direction[one.points, 2] / direction[row, 2] / len(midline)
        if gain.shape[0] == gain.shape[1]:
            rows.append(np.linalg.solve(gain, from_midline))
            most.append(one.most)
        else:
            rows.append(from_midline)
            most.append(np.abs(gain) @ one.most)
    return Shown(rows=np.concatenate(rows), most=OF_HALF_A_DIVISION * np.concatenate(most))


def held_to(field: GaussianField, shown: Shown) -> FloatArray:
    """Return radii (n,) [mm] at the readings' places whose estimate shows every reading within its rounding.

    With `y` the surface at the places, `P = Σ − Σ(K + Σ)⁻¹Σ` its posterior covariance, the nearest surface
    that keeps `|B (z − y)| ≤ b` is `y + P Bᵀ λ`, and `z + Σ Bᵀ λ` are the readings of which it is the mean.

    Parameters
    ----------
    field : GaussianField
        Conditioned on the readings as they are.
    shown : Shown

    Returns
    -------
    (n,) float, the radii as they are where no believable back shows all the readings (one was misread)
    """
    radius = field.data.radius_mm
    mean = seen_by(field.data, field.estimate(radius[:, None])[0])
    off = shown.rows @ (radius - mean)
    if np.all(np.abs(off) <= shown.most):
        return radius
    error = field.error_factor @ field.error_factor.T
    spread = linalg.solve_triangular(field.factor, error, lower=True)
    within = shown.rows @ (error - spread.T @ spread) @ shown.rows.T
    # A pin on the midline stands on it whatever the surface: such a discrepancy is a fact, not a choice.
    free = np.flatnonzero(np.diag(within) > (FIXED * shown.most) ** 2)
    off, most, within = off[free], shown.most[free], within[np.ix_(free, free)]
    # Two sections at one place can only move together: what moves them apart has no variance.
    variance, along = np.linalg.eigh(within)
    along, deviation = (
        along[:, variance > RANK * variance[-1]],
        np.sqrt(variance[variance > RANK * variance[-1]]),
    )
    root = along * deviation
    try:
        least = least_distance(np.concatenate([root, -root]), np.concatenate([off - most, -off - most]))
    except ContradictionError:
        return radius
    if least @ least > FARTHEST**2 * len(free):
        return radius
    force = along @ (least / deviation)
    return radius + error @ (shown.rows[free].T @ force)


def least_distance(at_least: FloatArray, bound: FloatArray) -> FloatArray:
    """Return the shortest x (k,) with `at_least @ x ≥ bound` (Lawson & Hanson, algorithm LDP).

    Parameters
    ----------
    at_least : (m, k) float [1]
    bound : (m,) float [1]

    Raises
    ------
    ContradictionError
        If there is no such x.
    """
    target = np.zeros(at_least.shape[1] + 1)
    target[-1] = 1.0
    system = np.concatenate([at_least.T, bound[None, :]])
    try:
        multipliers, _ = optimize.nnls(system, target, maxiter=30 * len(bound))
    except RuntimeError as error:
        raise ContradictionError from error
    rest = system @ multipliers - target
    if -rest[-1] < 1e-12:
        raise ContradictionError
    return -rest[:-1] / rest[-1]
