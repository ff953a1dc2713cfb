"""Cut a triangle mesh by a transverse plane, and keep the part of the cut that is the back.

The winding of the faces is never used. A hole leaves a gap, never a bridge across it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray

Faces = NDArray[np.int32]

STEEPEST = 3.0
"""Steepest |dr/dφ|/r a back's outline may have (72° against the circle); more is a fold or another body."""
WIDEST_GAP = np.deg2rad(10.0)
"""Beyond a gap wider than this the outline is taken up no further in or out: there a bale stood."""
SAME_SURFACE_MM = 1.0
"""Crossings of one ray closer than this are one surface (doubled faces)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeshCut:
    """Where one plane meets the faces of a mesh: `k` straight pieces, in no order."""

    pieces_yz: FloatArray
    """(k, 2, 2) float, back frame [mm]: both ends of each piece as (y, z)."""
    facet_sag_mm: float
    """How far the true outline is likely to lie outside the facets, on the average [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackOutline:
    """The star-shaped upper part of a cut, as radii at fixed angles about an axis."""

    phi: FloatArray
    """(j,) float, angles from vertical, positive left [rad]."""
    radius_mm: FloatArray
    """(j,) float, radius [mm]; meaningless where not `found`."""
    found: NDArray[np.bool_]
    """(j,) whether the mesh has the back's surface there."""
    folds_at: tuple[float, ...]
    """Angles at which the outline turned back on itself and was left [rad]."""
    gaps: tuple[tuple[float, float], ...]
    """Spans of φ without surface between parts that have it [rad]: holes."""

    def yz(self, axis_y_mm: float, axis_z_mm: float) -> FloatArray:
        """Return the found points, (n, 2) float, back frame [mm], as (y, z)."""
        phi, radius = self.phi[self.found], self.radius_mm[self.found]
        return np.stack([axis_y_mm + radius * np.sin(phi), axis_z_mm + radius * np.cos(phi)], axis=1)


def cut_mesh(vertices: FloatArray, faces: Faces, x_mm: FloatArray) -> tuple[MeshCut, ...]:
    """Cut a mesh by transverse planes.

    Parameters
    ----------
    vertices : (n, 3) float, back frame [mm]
    faces : (m, 3) int, vertex indices
    x_mm : (c,) float, back frame [mm]

    Returns
    -------
    tuple of MeshCut, one for each plane; empty ones where the plane misses the mesh
    """
    # Corner by corner: a mesh of millions of faces is held once, not three times over.
    ahead = np.ascontiguousarray(vertices[:, 0])
    low = ahead[faces[:, 0]]
    high = low.copy()
    for k in (1, 2):
        corner = ahead[faces[:, k]]
        np.minimum(low, corner, out=low)
        np.maximum(high, corner, out=high)
    return tuple(_cut(vertices, faces[(low < x) & (high >= x)], float(x)) for x in x_mm)


def _cut(vertices: FloatArray, crossed: Faces, x_mm: float) -> MeshCut:
    beyond = vertices[:, 0][crossed] - x_mm
    # A vertex in the plane counts as in front: each crossed face then gives exactly one piece.
    front = beyond >= 0.0
    alone_in_front = front.sum(axis=1) == 1
    # Turn each face so that its lone vertex comes first; the two edges from it are the crossed ones.
    lone = np.argmax(front == alone_in_front[:, None], axis=1)
    turned = np.take_along_axis(crossed, (lone[:, None] + np.arange(3)) % 3, axis=1)
    edges = np.sort(np.stack([turned[:, [0, 1]], turned[:, [0, 2]]], axis=1), axis=2)
    pieces = np.stack([_on_edges(vertices, x_mm, edges[:, k]) for k in (0, 1)], axis=1)
    return MeshCut(pieces_yz=pieces, facet_sag_mm=_facet_sag(vertices, crossed, pieces, edges))


def _on_edges(vertices: FloatArray, x_mm: float, edges: Faces) -> FloatArray:
    """Return where edges (k, 2) cross the plane; both faces at an edge get the very same point."""
    a, b = edges.T
    from_a, from_b = vertices[a, 0] - x_mm, vertices[b, 0] - x_mm
    share = from_a / (from_a - from_b)
    return vertices[a, 1:] + share[:, None] * (vertices[b, 1:] - vertices[a, 1:])


def _facet_sag(vertices: FloatArray, crossed: Faces, pieces: FloatArray, edges: Faces) -> float:
    """Estimate how far a curved surface stands out from its facets, on the average.

    A triangle of edges `ℓ` inscribed in a sphere lies `ℓ²κ/6` below it in its middle, half of that on the
    average; the curvature κ across is the turn between neighbouring pieces over their length.
    """
    if len(pieces) < 3:
        return 0.0
    corners = vertices[crossed]
    squared_edge = float(((corners - np.roll(corners, 1, axis=1)) ** 2).sum(axis=2).mean())
    keys = edges.reshape(-1, 2).astype(np.int64)
    key = keys[:, 0] * (keys.max() + 1) + keys[:, 1]
    order = np.argsort(key, kind="stable")
    paired = np.flatnonzero(key[order][1:] == key[order][:-1])
    along = pieces[:, 1] - pieces[:, 0]
    a, b = along[order[paired] // 2], along[order[paired + 1] // 2]
    turn = np.arctan2(np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.abs((a * b).sum(axis=1)))
    length = 0.5 * float((np.hypot(a[:, 0], a[:, 1]) + np.hypot(b[:, 0], b[:, 1])).sum())
    return squared_edge * float(turn.sum()) / length / 12.0 if length > 0.0 else 0.0


def outline_of_back(
    cut: MeshCut, axis_yz_mm: tuple[float, float], phi: FloatArray, expected_top_mm: float | None
) -> BackOutline:
    """Trace the back's outline from the top outwards, ray by ray, until it folds or ends.

    Parameters
    ----------
    cut : MeshCut
    axis_yz_mm : (y, z) float, back frame [mm]
    phi : (2h + 1,) float, increasing and symmetric about 0 [rad]
    expected_top_mm : float, back frame [mm]
        Height near which the outline is taken up; None takes the highest surface above the axis.
    """
    hits = _hits(cut.pieces_yz - np.asarray(axis_yz_mm), phi)
    middle = len(phi) // 2
    radius = np.zeros(len(phi))
    found = np.zeros(len(phi), dtype=bool)
    folds: list[float] = []
    # The very top may lie over a hole: then it is taken up at the nearest ray that has a surface.
    starts = [j for j in sorted(range(len(phi)), key=lambda j: abs(j - middle)) if len(hits[j])]
    if starts and abs(phi[starts[0]]) < np.deg2rad(20.0):
        start = starts[0]
        top = np.inf if expected_top_mm is None else expected_top_mm - axis_yz_mm[1]
        radius[start] = _nearest(hits[start], top)
        found[start] = True
        for outward in (list(range(start + 1, len(phi))), list(range(start - 1, -1, -1))):
            folds += _trace(hits, phi, outward, radius, found)
    return BackOutline(phi=phi, radius_mm=radius, found=found, folds_at=tuple(folds), gaps=_gaps(phi, found))


def _hits(pieces: FloatArray, phi: FloatArray) -> list[FloatArray]:
    """Return the radii at which each ray meets the pieces (given relative to the axis)."""
    angle = np.arctan2(pieces[:, :, 0], pieces[:, :, 1])
    low, high = angle.min(axis=1), angle.max(axis=1)
    # A piece that spans more than half a turn crosses the ray straight down, outside any back.
    meets = (low[:, None] <= phi) & (phi < high[:, None]) & (high - low < np.pi)[:, None]
    which, ray = np.nonzero(meets)
    a, b = pieces[which, 0], pieces[which, 1]
    along = b - a
    sine, cosine = np.sin(phi[ray]), np.cos(phi[ray])
    radii = (a[:, 0] * along[:, 1] - a[:, 1] * along[:, 0]) / (sine * along[:, 1] - cosine * along[:, 0])
    order = np.argsort(ray, kind="stable")
    return np.split(radii[order], np.searchsorted(ray[order], np.arange(1, len(phi))))


def _nearest(radii: FloatArray, wanted: float) -> float:
    return float(radii.max() if np.isinf(wanted) else radii[np.argmin(np.abs(radii - wanted))])


def _trace(
    hits: list[FloatArray],
    phi: FloatArray,
    outward: list[int],
    radius: FloatArray,
    found: NDArray[np.bool_],
) -> list[float]:
    """Follow the surface along the rays in order, filling `radius` and `found`; return where it folds."""
    last, skipped = float(radius[found][0 if outward and outward[0] < np.argmax(found) else -1]), 1
    for j in outward:
        if len(hits[j]) == 0:
            skipped += 1
            continue
        across = min((phi[1] - phi[0]) * skipped, WIDEST_GAP)
        near = hits[j][np.abs(hits[j] - last) <= STEEPEST * last * across]
        if len(near) == 0 or np.ptp(near) > SAME_SURFACE_MM:
            return [float(phi[j])]
        last, skipped = float(near.mean()), 1
        radius[j], found[j] = last, True
    return []


def _gaps(phi: FloatArray, found: NDArray[np.bool_]) -> tuple[tuple[float, float], ...]:
    have = np.flatnonzero(found)
    breaks = np.flatnonzero(np.diff(have) > 1)
    return tuple((float(phi[have[i]]), float(phi[have[i + 1]])) for i in breaks)
