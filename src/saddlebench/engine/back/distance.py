"""True distance from points to a back's surface: the closest point, its normal and the distance's curvature.

Reported clearances use this distance; the solver's own gap is exact to first order only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back import _kernels
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosestPoints:
    """Where points meet the surface at right angles."""

    distance_mm: FloatArray
    """(n,) float [mm], positive outside the back."""
    normal: FloatArray
    """(n, 3) float, back frame [1], outward: the gradient of the distance."""
    s_mm: FloatArray
    """(n,) float, distance behind the shoulder mark of the closest point [mm]."""
    phi: FloatArray
    """(n,) float, its angle, positive left [rad]."""
    curvature: FloatArray
    """(n, 3, 3) float, back frame [1/mm], the Hessian of the distance."""
    inside_grid: NDArray[np.bool_]
    """(n,) whether the closest point lies on the grid at all."""


def closest_points(spline: PolarSpline, points_back: FloatArray) -> ClosestPoints:
    """Return the closest points of a surface.

    Parameters
    ----------
    spline : PolarSpline
    points_back : (n, 3) float, back frame [mm]

    Returns
    -------
    ClosestPoints

    Notes
    -----
    Newton's method from each point's own polar place; a point deeper than the surface's radius of curvature
    has several closest points, and gets the one found from there.
    """
    return closest_points_of(spline.grid, spline.coefficients, points_back)


def closest_points_of(grid: PolarGrid, coefficients: FloatArray, points_back: FloatArray) -> ClosestPoints:
    """Return the closest points of the surface with coefficients (n_s + 2, n_phi + 2, 2) [mm, 1]."""
    points = np.ascontiguousarray(points_back, dtype=np.float64).reshape(-1, 3)
    out = np.zeros((len(points), 13))
    _kernels.closest(
        np.ascontiguousarray(coefficients),
        grid.s0_mm,
        grid.ds_mm,
        grid.phi0,
        grid.dphi,
        grid.axis_z_mm,
        points,
        out,
    )
    s, phi = out[:, 4], out[:, 5]
    on_s = (s >= grid.s0_mm) & (s <= grid.s0_mm + grid.ds_mm * (grid.n_s - 1))
    on_phi = (phi >= grid.phi0) & (phi <= grid.phi0 + grid.dphi * (grid.n_phi - 1))
    return ClosestPoints(
        distance_mm=out[:, 0],
        normal=out[:, 1:4],
        s_mm=s,
        phi=phi,
        curvature=out[:, [6, 7, 8, 7, 9, 10, 8, 10, 11]].reshape(-1, 3, 3),
        inside_grid=on_s & on_phi,
    )
