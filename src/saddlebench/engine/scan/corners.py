"""Corners far apart, each laid among its neighbours: the noise of a coarse mesh without rounding its shape.

Radii about a line inside the trunk are read as a smooth random surface plus noise: Matérn's covariance with
ν = 3/2 (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 4.17), reach
and noise by restricted likelihood (D. A. Harville, J. Am. Stat. Assoc. 72 (1977), 320–338). What is as rough
from corner to corner as the noise cannot be told from it, and counts as noise. Only corners are moved: the
facets between them stay, and so do the holes.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve, cholesky, solve_triangular
from scipy.spatial.distance import cdist

from saddlebench.engine.frames import FloatArray

_WIDEST = np.deg2rad(110.0)
_ACROSS_MM = 250.0
_REACHES_MM = (60.0, 90.0, 140.0, 200.0, 300.0, 450.0)
_NOISES = (0.02, 0.04, 0.06, 0.08, 0.1, 0.13, 0.17, 0.22, 0.3, 0.45)
"""Standard deviation of the noise over the surface's own."""
_STEEPEST = 0.35
"""Least cosine between a corner's normal and its radius: beyond it a radius says nothing of the surface."""
_FEWEST, _MOST_TO_FIT, _MOST = 60, 500, 3000
_STRAY = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidCorners:
    """A mesh whose corners near the back were moved along their radii."""

    vertices: FloatArray
    """(n, 3) float, trunk frame [mm]."""
    noise_mm: float
    """Standard deviation of the corners about the surface, along its normal: noise, and roughness alike."""
    left_mm: float
    """Of what is left of it in a corner, on the average."""


def lay_corners(
    vertices: FloatArray,
    faces: NDArray[np.integer],
    axis: tuple[FloatArray, FloatArray],
    ends_mm: tuple[float, float],
) -> LaidCorners | None:
    """Lay the corners of a coarse mesh among each other; None where too few lie there, or too many.

    Parameters
    ----------
    vertices : (n, 3) float, trunk frame, x along the midline, z up [mm]
    faces : (m, 3) int, vertex indices
    axis : x (k,) increasing, and height (k,) of the line inside the trunk, trunk frame [mm]
    ends_mm : rear and front end, along x [mm]
    """
    used = np.unique(faces)
    radial = np.stack([vertices[used, 1], vertices[used, 2] - np.interp(vertices[used, 0], *axis)], axis=1)
    radius, phi = np.hypot(*radial.T), np.arctan2(*radial.T)
    outward = np.stack([np.zeros_like(phi), np.sin(phi), np.cos(phi)], axis=1)
    facing = np.abs((_normals(vertices, faces)[used] * outward).sum(axis=1))
    x = vertices[used, 0]
    near = (x > ends_mm[0]) & (x < ends_mm[1]) & (np.abs(phi) < _WIDEST) & (facing > _STEEPEST)
    if not _FEWEST <= near.sum() <= _MOST:
        return None
    used, radius, phi, facing, outward, x = (a[near] for a in (used, radius, phi, facing, outward, x))
    places = np.stack([x, _ACROSS_MM * phi], axis=1)
    trend = _trend(x, phi)
    some = np.arange(0, len(x), 1 + len(x) // _MOST_TO_FIT)
    kept = np.ones(len(x), dtype=bool)
    move, noise, left = np.zeros(len(x)), 0.0, 0.0
    for _ in range(2):
        fitted = some[kept[some]]
        reach, ratio, size = _likeliest(places[fitted], trend[fitted], radius[fitted], facing[fitted])
        noise = ratio * size
        k = np.flatnonzero(kept)
        smooth, sd = _among(places[k], trend[k], radius[k], noise / facing[k], reach, size)
        move = np.zeros(len(x))
        move[k] = smooth - radius[k]
        left = float(np.sqrt(np.mean((sd * facing[k]) ** 2)))
        # A corner far off all its neighbours belongs to something else: it stays where it is.
        stray = np.abs(move) * facing > _STRAY * noise
        if not stray.any() or (kept & ~stray).sum() < _FEWEST:
            break
        kept &= ~stray
    out = vertices.copy()
    out[used] += move[:, None] * outward
    return LaidCorners(vertices=out, noise_mm=noise, left_mm=left)


def _normals(vertices: FloatArray, faces: NDArray[np.integer]) -> FloatArray:
    """Return the normals (n, 3) of a mesh's corners [1], of either sense."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    crossed = np.cross(b - a, c - a)
    # As the mesh is wound, out or in; where it is wound both ways a corner may face nowhere, and stays.
    normals = np.stack(
        [sum(np.bincount(faces[:, k], crossed[:, j], len(vertices)) for k in range(3)) for j in range(3)],
        axis=1,
    )
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)


def _trend(x: FloatArray, phi: FloatArray) -> FloatArray:
    """Return what a trunk's radii follow on the whole, (n, 6): a parabola along, an even curve across [1]."""
    u, w = x / 500.0, phi**2
    return np.stack([np.ones_like(u), u, u * u, w, u * w, w * w], axis=1)


def _matern(apart: FloatArray, reach: float) -> FloatArray:
    scaled = np.sqrt(3.0) * apart / reach
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def _likeliest(
    places: FloatArray, trend: FloatArray, radius: FloatArray, facing: FloatArray
) -> tuple[float, float, float]:
    """Return reach [mm], noise over size, and size [mm] of the surface that make radii (n,) likeliest."""
    apart = cdist(places, places)
    free = len(radius) - trend.shape[1]
    best = (-np.inf, 0.0, 0.0, 0.0)
    for reach in _REACHES_MM:
        smooth = _matern(apart, reach)
        for ratio in _NOISES:
            root = cholesky(smooth + np.diag((ratio / facing) ** 2), lower=True, check_finite=False)
            white = solve_triangular(root, np.column_stack([trend, radius]), lower=True, check_finite=False)
            design, values = white[:, :-1], white[:, -1]
            rest = values - design @ np.linalg.lstsq(design, values, rcond=None)[0]
            variance = float(rest @ rest) / free
            spread = 2.0 * np.log(np.diag(root)).sum() + np.linalg.slogdet(design.T @ design)[1]
            likely = -0.5 * (free * np.log(max(variance, 1e-12)) + spread)
            if likely > best[0]:
                best = (likely, reach, ratio, float(np.sqrt(variance)))
    return best[1:]


def _among(
    places: FloatArray,
    trend: FloatArray,
    radius: FloatArray,
    noise: FloatArray,
    reach: float,
    size: float,
) -> tuple[FloatArray, FloatArray]:
    """Return the surface's radii (n,) and their standard deviations (n,), given noisy radii (n,) [mm]."""
    smooth = size**2 * _matern(cdist(places, places), reach)
    factor = cho_factor(smooth + np.diag(noise**2), check_finite=False)
    white = cho_solve(factor, trend)
    whole = np.linalg.solve(trend.T @ white, white.T @ radius)
    surface = trend @ whole + smooth @ cho_solve(factor, radius - trend @ whole)
    variance = np.diag(smooth) - np.einsum("ij,ji->i", smooth, cho_solve(factor, smooth))
    return surface, np.sqrt(np.maximum(variance, 0.0))
