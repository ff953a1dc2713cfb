"""The first and last rows of a face: where a hole leaves a place open, what lies around carries it.

Between two sections the panel runs on by itself; past the last one it ends. A row at an end that is left out
for a small hole would make the panel shorter than it is, and the rest of it press harder.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.heights import FaceGrid

END_MM = 60.0
"""So near an end a row is carried."""
_WIDEST_MM = 30.0
"""From what is measured, at most (judgement: a hole of a scan, no part that was left out)."""
_AROUND_MM = 70.0
_FEWEST = 20
_HOLD = 1e-3


def with_ends_carried(grid: FaceGrid) -> tuple[FaceGrid, NDArray[np.bool_]]:
    """Return the face with its open places near both ends carried over, and which rows (r,) that changed.

    A local quadratic surface through the measured places around (Cleveland and Devlin 1988).

    Parameters
    ----------
    grid : one panel's face
    """
    s = np.broadcast_to(grid.behind_mm[:, None], grid.z_mm.shape)
    places = np.stack([s, grid.out_y_mm], axis=-1)
    from_end = np.minimum(s - grid.behind_mm[0], grid.behind_mm[-1] - s)
    known = np.isfinite(grid.z_mm)
    wanted = ~known & (from_end < END_MM)
    z = grid.z_mm.copy()
    if wanted.any() and known.any():
        measured, heights = places[known], grid.z_mm[known]
        nearest, _ = cKDTree(measured).query(places)
        for at in np.argwhere(wanted & (nearest < _WIDEST_MM)):
            row, column = int(at[0]), int(at[1])
            z[row, column] = _carried(measured - places[row, column], heights)
    return replace(grid, z_mm=z), (wanted & np.isfinite(z)).any(axis=1)


def _carried(apart: FloatArray, heights: FloatArray) -> float:
    """Return the height [mm] at a place from that of others, or NaN.

    Parameters
    ----------
    apart : (n, 2) float, saddle frame [mm]: how far the others lie from it
    heights : (n,) float, saddle frame [mm]
    """
    x, y = apart.T / _AROUND_MM
    far = np.hypot(x, y)
    near = far < 1.0
    if near.sum() < _FEWEST:
        return float("nan")
    x, y, weight = x[near], y[near], (1.0 - far[near] ** 3) ** 3
    rows = np.stack([np.ones_like(x), x, y, x**2, x * y, y**2], axis=1)
    weighted = rows * weight[:, None]
    hold = _HOLD * np.diag([0.0, 0.0, 0.0, 1.0, 1.0, 1.0])
    return float(np.linalg.solve(weighted.T @ rows + hold, weighted.T @ heights[near])[0])
