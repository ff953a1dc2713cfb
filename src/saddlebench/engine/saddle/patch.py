"""One side's underside as a smooth surface of two parameters, and its sampling to points with areas.

A patch maps `t` (0 at the front edge, 1 at the rear) and `v` (0 at the inner edge, 1 at the outer) to points
of the LEFT side; the right side is the mirror image of its own patch.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle._kernels import densities, normals_of, to_line

Patch = Callable[[FloatArray, FloatArray], FloatArray]
"""Takes t and v, both (n,); gives points (n, 3) float, saddle frame [mm]."""
PointCount = int | tuple[int, int]
"""About how many points on both sides together; or exactly the rows and the columns of one side."""
Height = Callable[[FloatArray, FloatArray], FloatArray]
"""Takes distances behind the front edge (n,) [mm] and v (n,); gives a move along the normal (n,) [mm]."""

_STEP = 1e-5
_GAUSS = 0.5 / np.sqrt(3.0)
_EDGE_SAMPLES = 129
"""A panel's edges bend no tighter than 140 mm: between samples they are straight to 0.01 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSamples:
    """Cell centres of one patch with what belongs to them; row by row from the front."""

    points_saddle: FloatArray
    """(n, 3) float, saddle frame [mm]."""
    normals_saddle: FloatArray
    """(n, 3) float, saddle frame [1], towards the horse."""
    area_mm2: FloatArray
    row: NDArray[np.int32]
    column: NDArray[np.int32]
    across: FloatArray
    """(n,) float, v of the point [1]."""
    edge_mm: FloatArray
    outer_edge_mm: FloatArray
    """(n,) float, saddle frame [mm]: distance to the nearest edge, and to the outer edge."""


def _around(patch: Patch, t: FloatArray, v: FloatArray) -> FloatArray:
    """Return the points (4, n, 3) float, saddle frame [mm], a step before, behind, inwards and outwards."""
    beside = np.concatenate([t - _STEP, t + _STEP, t, t]), np.concatenate([v, v, v - _STEP, v + _STEP])
    return patch(*beside).reshape(4, -1, 3)


def unit_normals(patch: Patch, t: FloatArray, v: FloatArray) -> FloatArray:
    """Return outward unit normals, (n, 3) float, saddle frame [1], by central differences."""
    out = np.zeros((len(t), 3))
    normals_of(_around(patch, t, v), out)
    return out


def raised(patch: Patch, height: Height) -> Patch:
    """Return the patch moved outward along its normals by `height`."""

    def _moved(t: FloatArray, v: FloatArray) -> FloatArray:
        start = patch(t, v)
        return start + height(-start[:, 0], v)[:, None] * unit_normals(patch, t, v)

    return _moved


def rows_and_columns(patch: Patch, n_points: PointCount) -> tuple[int, int]:
    """Return rows and columns of one side: as stated, or so that cells are nearly square."""
    if isinstance(n_points, tuple):
        return n_points
    ends = np.linspace(0.0, 1.0, 33)
    half = np.full_like(ends, 0.5)
    length = float(np.linalg.norm(np.diff(patch(ends, half), axis=0), axis=1).sum())
    width = float(np.linalg.norm(np.diff(patch(half, ends), axis=0), axis=1).sum())
    columns = max(3, round(np.sqrt(0.5 * n_points * width / length)))
    return max(4, round(0.5 * n_points / columns)), columns


def sample(patch: Patch, rows: int, columns: int) -> SideSamples:
    """Sample a patch at the centres of `rows` × `columns` cells."""
    row, column = (grid.ravel() for grid in np.indices((rows, columns)))
    t, v = (row + 0.5) / rows, (column + 0.5) / columns
    points = patch(t, v)
    edge, outer = _edge_distances(patch, points)
    return SideSamples(
        points_saddle=read_only(points),
        normals_saddle=read_only(unit_normals(patch, t, v)),
        area_mm2=read_only(_cell_areas(patch, t, v, rows, columns)),
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        across=read_only(v),
        edge_mm=read_only(edge),
        outer_edge_mm=read_only(outer),
    )


def _cell_areas(patch: Patch, t: FloatArray, v: FloatArray, rows: int, columns: int) -> FloatArray:
    """Return `∫∫|S_t × S_v|` per cell by 2 × 2 Gauss points, so the total hardly depends on the count."""
    at_t = np.concatenate([t + dt / rows for dt in (-_GAUSS, _GAUSS) for _ in range(2)])
    at_v = np.concatenate([v + dv / columns for _ in range(2) for dv in (-_GAUSS, _GAUSS)])
    density = np.zeros(at_t.size)
    densities(_around(patch, at_t, at_v), _STEP, density)
    return density.reshape(4, -1).mean(axis=0) / (rows * columns)


def _edge_distances(patch: Patch, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return distances (n,) [mm] to the nearest edge and to the outer edge."""
    s, one, nil = np.linspace(0.0, 1.0, _EDGE_SAMPLES), np.ones(_EDGE_SAMPLES), np.zeros(_EDGE_SAMPLES)
    lines = patch(np.concatenate([s, s, nil, one]), np.concatenate([one, nil, s, s])).reshape(4, -1, 3)
    outer = distance_to_line(points, lines[0])
    others = [distance_to_line(points, line) for line in lines[1:]]
    return np.minimum.reduce([outer, *others]), outer


def distance_to_line(points: FloatArray, line: FloatArray) -> FloatArray:
    """Return straight distances (n,) [mm] from points to a finely sampled polyline.

    On a surface of radius R the way along it is longer by `d³/24R²`: 0.01 mm at 20 mm on R = 150 mm.

    Parameters
    ----------
    points : (n, 3) float, saddle frame [mm]
    line : (m, 3) float, saddle frame [mm]
    """
    out = np.zeros(len(points))
    to_line(np.ascontiguousarray(points), np.ascontiguousarray(line), out)
    return out
