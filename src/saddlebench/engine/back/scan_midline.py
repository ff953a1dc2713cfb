"""Find the vertical plane about which the two sides of a back differ least.

The heading a person states for a scan is good to some 15°, and the neck and the croup's crest mislead: a
back that stands a few degrees askew shows a left/right difference that is not there. So both sides are
compared over the whole length of the back at once. Gravity is kept: a horse that leans is shown leaning.

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

from saddlebench.engine.back.scan_sections import BackOutline, Faces, cut_mesh, outline_of_back
from saddlebench.engine.frames import FloatArray

AXIS_DEPTH_MM = 220.0
"""Depth of the axis of the outlines below the topline."""
_N_SECTIONS = 27
_FEWEST_SECTIONS = 4
_FEWEST_PAIRS = 8
_MAX_ROUNDS = 20
_FILLED = 12
_FADE_MM = 60.0
"""Reach of what is carried on over a hole (assumption: what the two sides differ by changes over a hand)."""
_STIFF = 1e-2
_STEP = np.deg2rad(4.0)
_SIDE = _STEP * np.arange(1, 21)
_GROUPS = [np.arange(k, min(k + 2, _N_SECTIONS)) for k in range(0, _N_SECTIONS, 2)]
PHI = np.concatenate([-_SIDE[::-1], [0.0], _SIDE])
"""Angles at which the two sides are compared, to 80° from vertical [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Midline:
    """The vertical plane `y = offset + x·tan(yaw)` of the frame it was sought in."""

    yaw_rad: float
    offset_mm: float
    yaw_sd_rad: float
    offset_sd_mm: float
    mismatch_mm: float
    """Difference of the two sides that is left, root mean square of left minus right radius [mm]."""


def find_midline(vertices: FloatArray, faces: Faces, x_mm: tuple[float, float], start: FloatArray) -> Midline:
    """Find the plane of symmetry of the back between two transverse planes.

    Left minus right radius about an axis on the plane is, to first order in a shift `t` of the plane,
    `2t(sin φ − (r′/r) cos φ)`; `t` is a straight line along the back, fitted with Huber weights, and the mesh
    is cut anew until it stays.

    Parameters
    ----------
    vertices : (n, 3) float, gravity frame turned to the stated heading [mm]
    faces : (m, 3) int, vertex indices
    x_mm : front and rear end of the back, same frame [mm]
    start : (k, 3) float, same frame [mm]
        Points on the top of the back, near its midline.

    Raises
    ------
    ValueError
        When fewer than four sections could be compared.
    """
    middle = 0.5 * (x_mm[0] + x_mm[1])
    along = np.linspace(x_mm[0] - middle, x_mm[1] - middle, _N_SECTIONS)
    reach = float(np.ptp(along))
    yaw, offset = 0.0, float(np.median(start[:, 1]))
    for _ in range(_MAX_ROUNDS):
        turned = turn_about_vertical(vertices - [middle, offset, 0.0], -yaw)
        tops = turn_about_vertical(start - [middle, offset, 0.0], -yaw)
        sides = _compare(turned, faces, along, tops)
        fit, mismatch, sd = _fit_line(sides, along / reach, reach / (_N_SECTIONS - 1))
        turn = float(np.arctan(fit[1] / reach))
        offset += float(fit[0] / np.cos(yaw))
        yaw += turn
        if abs(turn) < 1e-6 and abs(fit[0]) < 1e-3:
            break
    return Midline(
        yaw_rad=yaw,
        offset_mm=offset - middle * float(np.tan(yaw)),
        yaw_sd_rad=float(sd[1]) / reach,
        offset_sd_mm=float(sd[0]),
        mismatch_mm=mismatch,
    )


def turn_about_vertical(points: FloatArray, angle_rad: float) -> FloatArray:
    """Return points (n, 3) float, any frame with z up [mm], turned about z, positive from x to y."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def top_along(start: FloatArray, x_mm: FloatArray) -> FloatArray:
    """Return the heights (c,) to expect the topline at, from a few points (k, 3) on top, any frame [mm]."""
    order = np.argsort(start[:, 0])
    return np.interp(x_mm, start[order, 0], start[order, 2])


def outlines_along(
    vertices: FloatArray, faces: Faces, x_mm: FloatArray, tops: FloatArray, phi: FloatArray
) -> tuple[tuple[BackOutline, ...], FloatArray, FloatArray]:
    """Return the outlines at `x_mm` (c,), the heights (c,) of their axes, and their facets' sag (c,) [mm]."""
    expected = top_along(tops, x_mm)
    axes = expected - AXIS_DEPTH_MM
    cuts = cut_mesh(vertices, faces, x_mm)
    outlines = tuple(
        outline_of_back(cut, (0.0, float(axis)), phi, float(top))
        for cut, axis, top in zip(cuts, axes, expected, strict=True)
    )
    return outlines, axes, np.array([cut.facet_sag_mm for cut in cuts])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """Left against right at every section and angle."""

    effect: FloatArray
    """(c, j) float, what a shift of the plane by 1 mm does to the difference [1]."""
    difference: FloatArray
    """(c, j) float, left minus right radius [mm]; meaningless where not `both`."""
    both: NDArray[np.bool_]
    """(c, j) whether both sides have a surface there."""
    radius_mm: float


def _compare(vertices: FloatArray, faces: Faces, x_mm: FloatArray, tops: FloatArray) -> _Sides:
    """Compare the two sides in sections at x_mm (c,), frame with x along the plane [mm]."""
    outlines, _, _ = outlines_along(vertices, faces, x_mm, tops, PHI)
    n = len(_SIDE)
    radius = np.array([outline.radius_mm for outline in outlines])
    found = np.array([outline.found for outline in outlines])
    both = found[:, n + 1 :] & found[:, n - 1 :: -1]
    both &= (both.sum(axis=1) >= _FEWEST_PAIRS)[:, None]
    if both.any(axis=1).sum() < _FEWEST_SECTIONS:
        msg = f"only {int(both.any(axis=1).sum())} sections show both sides of the back"
        raise ValueError(msg)
    left, right = radius[:, n + 1 :], radius[:, n - 1 :: -1]
    mean = _bridged(np.where(both, 0.5 * (left + right), np.nan))
    top = np.where(found[:, n], radius[:, n], mean[:, 0])
    slope = np.gradient(np.concatenate([top[:, None], mean], axis=1), _STEP, axis=1)[:, 1:]
    return _Sides(
        effect=2.0 * (np.sin(_SIDE) - slope / mean * np.cos(_SIDE)),
        difference=np.where(both, left - right, 0.0),
        both=both,
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


def _fit_line(sides: _Sides, along: FloatArray, step_mm: float) -> tuple[FloatArray, float, FloatArray]:
    """Return offset and slope over the whole length [mm], the mismatch before [mm], and their errors [mm]."""
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
    left_out = np.array(
        [_huber(*(np.delete(part, k, axis=0) for part in (sides.effect, slope, whole))) for k in _GROUPS]
    )
    sd = np.sqrt((len(_GROUPS) - 1) * left_out.var(axis=0))
    mismatch = float(np.sqrt(np.mean(sides.difference[sides.both] ** 2)))
    return solution, mismatch, sd


def _fading(sides: _Sides, step_mm: float) -> Callable[[FloatArray], FloatArray]:
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
    rough = csr_array(rough + kron(eye_array(c), second(j, _STEP * sides.radius_mm)))
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
