"""A piece of a scan made ready to be laid on another: even points, and which way the surface faces there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.rigid import Rigid

_NEIGHBOURS = 20
_FLAT = 0.15
"""Least over middle spread of a neighbourhood above which it is an edge, hair or noise, and no surface."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facing:
    """Points with normals, of one piece or of several laid together."""

    points: FloatArray
    """(n, 3) float, instrument frame [mm]."""
    normals: FloatArray
    """(n, 3) float, instrument frame [1], of either sense."""
    smooth: NDArray[np.bool_]
    """(n,) whether the neighbourhood is a surface."""
    tree: cKDTree
    spacing: float
    """Median distance between neighbours [mm]."""

    def part(self, kept: NDArray[np.bool_]) -> "Facing":
        """Return the points kept (n,)."""
        return _held(self.points[kept], self.normals[kept], self.smooth[kept])

    def moved(self, move: Rigid) -> "Facing":
        """Return the same surface, moved."""
        return _held(move.points(self.points), move.directions(self.normals), self.smooth)


def facing(points: FloatArray) -> Facing:
    """Find the normals of points (n, 3), instrument frame [mm], from the planes through their neighbours."""
    tree = cKDTree(points)
    k = min(_NEIGHBOURS, len(points))
    _, near = tree.query(points, k=k)
    around = points[near]
    around = around - around.mean(axis=1, keepdims=True)
    spread, axes = np.linalg.eigh(np.einsum("nki,nkj->nij", around, around))
    smooth = spread[:, 0] < _FLAT * spread[:, 1]
    return _held(points, axes[:, :, 0], smooth)


def together(parts: list[Facing]) -> Facing:
    """Return several pieces as one."""
    return _held(
        np.concatenate([part.points for part in parts]),
        np.concatenate([part.normals for part in parts]),
        np.concatenate([part.smooth for part in parts]),
    )


def _held(points: FloatArray, normals: FloatArray, smooth: NDArray[np.bool_]) -> Facing:
    tree = cKDTree(points)
    if len(points) > 1:
        some = points[:: max(1, len(points) // 2000)]
        spacing = float(np.median(tree.query(some, k=2)[0][:, 1]))
    else:
        spacing = 1.0
    return Facing(points=points, normals=normals, smooth=smooth, tree=tree, spacing=max(spacing, 0.1))
