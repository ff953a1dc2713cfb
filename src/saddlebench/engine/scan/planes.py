"""Find flat parts of a scene, the ground above all, by consensus of random hypotheses.

M. A. Fischler, R. C. Bolles, "Random sample consensus", Communications of the ACM 24 (1981), 381–395; each
hypothesis here is the plane through one small neighbourhood, so that few are needed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray

_HYPOTHESES = 250
_NEIGHBOURS = 24
_JUDGES = 12_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """The plane `normal · p = offset`."""

    normal: FloatArray
    """(3,) float, instrument frame [1]."""
    offset: float
    """In the unit of the points."""
    near: NDArray[np.bool_]
    """(n,) which of the points lie on it."""
    evenness: float
    """Share of these points that lie within a third of the tolerance: near 1 for flat ground, a third for a
    rounded flank."""

    def height(self, points: FloatArray) -> FloatArray:
        """Return how far points (n, 3), instrument frame, lie above it, (n,), same unit."""
        return points @ self.normal - self.offset


def find_planes(
    points: FloatArray,
    tolerance: float,
    rng: np.random.Generator,
    *,
    most: int = 5,
    least_share: float = 0.03,
) -> list[Plane]:
    """Return the planes that hold most points, one after the other, each fitted to what it holds.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit
    tolerance : how far a point may lie off its plane, same unit
    rng : for the hypotheses
    most, least_share : how many planes at most, and the least share of all points that one may hold
    """
    left = np.ones(len(points), dtype=bool)
    planes = []
    for _ in range(most):
        if left.sum() < max(50, least_share * len(points)):
            break
        plane = _best_plane(points, left, tolerance, rng)
        if plane is None or (plane.near & left).sum() < least_share * len(points):
            break
        planes.append(plane)
        left &= ~plane.near
    return planes


def _best_plane(
    points: FloatArray, left: NDArray[np.bool_], tolerance: float, rng: np.random.Generator
) -> Plane | None:
    judges = points[left]
    if len(judges) > _JUDGES:
        judges = judges[rng.choice(len(judges), _JUDGES, replace=False)]
    tree = cKDTree(judges)
    seeds = judges[rng.choice(len(judges), min(_HYPOTHESES, len(judges)), replace=False)]
    # Neighbourhoods a few tolerances wide: narrower ones tilt with the noise.
    _, around = tree.query(seeds, k=min(_NEIGHBOURS * 4, len(judges)), distance_upper_bound=8.0 * tolerance)
    normals, offsets = [], []
    for row in around:
        inside = judges[row[row < len(judges)]]
        if len(inside) < 6:
            continue
        normal, offset = fit_plane(inside)
        normals.append(normal)
        offsets.append(offset)
    if not normals:
        return None
    held = (np.abs(judges @ np.array(normals).T - np.array(offsets)) < tolerance).sum(axis=0)
    best = int(np.argmax(held))
    normal, offset = normals[best], offsets[best]
    free = points[left]
    for share in (1.5, 1.0, 1.0, 0.7, 0.7):
        inside = np.abs(free @ normal - offset) < share * tolerance
        if inside.sum() < 10:
            return None
        normal, offset = fit_plane(free[inside])
    off = np.abs(points @ normal - offset)
    near = off < tolerance
    return Plane(
        normal=normal,
        offset=offset,
        near=near,
        evenness=float((off < tolerance / 3.0).sum() / max(1, near.sum())),
    )


def fit_plane(points: FloatArray) -> tuple[FloatArray, float]:
    """Return the plane of least squared distances through points (n, 3), any frame: normal (3,), offset."""
    middle = points.mean(axis=0)
    apart = points - middle
    _, vectors = np.linalg.eigh(apart.T @ apart)
    normal = vectors[:, 0]
    return normal, float(normal @ middle)
