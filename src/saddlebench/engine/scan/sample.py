"""Thin a scan to points that cover it evenly, whatever it came as."""

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray

_CHUNK = 1_000_000


def even_points(
    points: FloatArray, faces: NDArray[np.integer], most: int, rng: np.random.Generator
) -> FloatArray:
    """Return points that lie about evenly over a mesh's faces, or over a cloud where there are none.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit
    faces : (m, 3) int, vertex indices; m = 0 for a cloud
    most : how many points at most
    rng : for where on the faces they lie

    Returns
    -------
    (k, 3) float, the same frame and unit
    """
    return on_faces(points, faces, most, rng) if len(faces) else thinned(points, most)


def on_faces(points: FloatArray, faces: NDArray[np.integer], n: int, rng: np.random.Generator) -> FloatArray:
    """Return n points (n, 3) on a mesh's faces, drawn in proportion to their area; same frame and unit."""
    area = np.concatenate(
        [_areas(points, faces[k : k + _CHUNK]) for k in range(0, len(faces), _CHUNK)] or [np.zeros(0)]
    )
    if not float(area.sum()) > 0.0:
        return points[np.unique(faces)]
    # Evenly spaced shares of the whole area, each moved by chance: nearer to even than chance alone.
    share = (np.arange(n) + rng.random(n)) / n
    which = np.minimum(np.searchsorted(np.cumsum(area) / area.sum(), share), len(faces) - 1)
    a, b, c = (points[faces[which, k]] for k in range(3))
    u, v = rng.random((2, n))
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    return a + u[:, None] * (b - a) + v[:, None] * (c - a)


def _areas(points: FloatArray, faces: NDArray[np.integer]) -> FloatArray:
    a, b, c = (points[faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    return np.sqrt(np.einsum("ij,ij->i", cross, cross))


def thinned(points: FloatArray, most: int) -> FloatArray:
    """Return one point (k, 3), the mean, for each filled cube of a grid as fine as `most` allows."""
    if len(points) <= most:
        return points
    extent = np.ptp(points, axis=0)
    # A surface fills some (extent / cell)² cubes: a few rounds find the cell.
    cell = float(np.sqrt(max(extent[0] * extent[1], extent[1] * extent[2], extent[0] * extent[2]) / most))
    cell = max(cell, 1e-12 * float(np.abs(points).max()) + 1e-300)
    for _ in range(12):
        keys = cube_keys(points, cell)
        n = len(np.unique(keys))
        if n <= most:
            break
        cell *= max(1.1, float(np.sqrt(n / most)))
    return means_of_cubes(points, keys)


def cube_keys(points: FloatArray, cell: float) -> NDArray[np.int64]:
    """Return for each point (n, 3) the number (n,) of the cube of side `cell` it lies in; same unit."""
    if len(points) == 0:
        return np.zeros(0, dtype=np.int64)
    index = np.floor((points - points.min(axis=0)) / cell).astype(np.int64)
    span = index.max(axis=0) + 3
    return ((index[:, 0] + 1) * span[1] + index[:, 1] + 1) * span[2] + index[:, 2] + 1


def means_of_cubes(points: FloatArray, keys: NDArray[np.int64]) -> FloatArray:
    """Return the mean (k, 3) of the points (n, 3) that share a key (n,); same frame and unit."""
    _, group = np.unique(keys, return_inverse=True)
    count = np.bincount(group)
    return np.stack([np.bincount(group, points[:, k]) / count for k in range(3)], axis=1)
