"""Lay the points of a trunk on a polar grid about a line inside it: distance along, angle, median radius."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarGrid:
    """Radii about a line below the topline, on a grid of distances and angles."""

    x: FloatArray
    """(k,) float, middles of the rows, levelled frame, the scan's unit."""
    phi: FloatArray
    """(j,) float, middles of the columns, from vertical, positive left; symmetric about 0 [rad]."""
    axis_z: FloatArray
    """(k,) float, height of the line in each row, same unit."""
    radius: FloatArray
    """(k, j) float, median radius, same unit; zero where nothing was measured."""
    count: NDArray[np.int64]
    """(k, j) points in each cell."""
    spread: FloatArray
    """(k, j) float, robust standard deviation of the radii in a cell about their median, same unit."""


def polar_coordinates(points: FloatArray, x: FloatArray, axis_z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return angle [rad] and radius, (n,) each, of points (n, 3) about the line through (x, 0, axis_z)."""
    z = points[:, 2] - np.interp(points[:, 0], x, axis_z)
    return np.arctan2(points[:, 1], z), np.hypot(points[:, 1], z)


def lay_on_grid(
    points: FloatArray,
    x: FloatArray,
    axis_z: FloatArray,
    phi: FloatArray,
    bounds: tuple[float, float],
) -> PolarGrid:
    """Return the median radius of the points in each cell.

    Parameters
    ----------
    points : (n, 3) float, levelled frame (x along the trunk, z up), the scan's unit
    x : (k,) float, evenly spaced middles of the rows, same frame and unit
    axis_z : (k,) float, height of the line there, same unit
    phi : (j,) float, evenly spaced middles of the columns [rad]
    bounds : least and largest radius that can be the trunk's, same unit
    """
    step, turn = float(x[1] - x[0]), float(phi[1] - phi[0])
    row = np.floor((points[:, 0] - x[0]) / step + 0.5).astype(np.int64)
    angle, radius = polar_coordinates(points, x, axis_z)
    column = np.floor((angle - phi[0]) / turn + 0.5).astype(np.int64)
    inside = (row >= 0) & (row < len(x)) & (column >= 0) & (column < len(phi))
    inside &= (radius > bounds[0]) & (radius < bounds[1])
    cell, radius = (row * len(phi) + column)[inside], radius[inside]
    shape = (len(x), len(phi))
    middle, count = grouped_median(cell, radius, len(x) * len(phi))
    off, _ = grouped_median(cell, np.abs(radius - middle[cell]), len(x) * len(phi))
    return PolarGrid(
        x=x,
        phi=phi,
        axis_z=axis_z,
        radius=middle.reshape(shape),
        count=count.reshape(shape),
        spread=1.4826 * off.reshape(shape),
    )


def grouped_median(
    group: NDArray[np.int64], values: FloatArray, n: int
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return the median (n,) of the values (m,) of each group 0 … n − 1, zero for none, and their counts."""
    order = np.lexsort((values, group))
    ordered = values[order]
    count = np.bincount(group, minlength=n)
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    has = count > 0
    median = np.zeros(n)
    low = start[has] + (count[has] - 1) // 2
    high = start[has] + count[has] // 2
    median[has] = 0.5 * (ordered[low] + ordered[high])
    return median, count
