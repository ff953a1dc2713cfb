"""Bearing points as a grid again: rows along, columns across; re-sampling and re-filling any model."""

from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.bearing import joined
from saddlebench.engine.saddle.model import BearingSurface, SaddleModel
from saddlebench.engine.saddle.patch import (
    Height,
    Patch,
    PointCount,
    SideSamples,
    raised,
    rows_and_columns,
    sample,
)
from saddlebench.engine.saddle.zones import Filling, filling_height, zone_of

LEFT, RIGHT = 1, -1
_Value = TypeVar("_Value", bound=np.generic)


def shape_of(bearing: BearingSurface) -> tuple[int, int]:
    """Return the rows and columns of one side."""
    return int(bearing.row.max()) + 1, int(bearing.column.max()) + 1


def side_grid(bearing: BearingSurface, values: NDArray[_Value], side: int) -> NDArray[_Value]:
    """Return one side's values as (rows, columns, k), in the values' own frame and unit.

    Parameters
    ----------
    bearing : the bearing surface
    values : (n, k) or (n,) float, one per bearing point, any frame [any unit]
    side : +1 left, −1 right
    """
    rows, columns = shape_of(bearing)
    pick = np.flatnonzero(bearing.side == side)
    order = np.lexsort((bearing.column[pick], bearing.row[pick]))
    return values[pick[order]].reshape(rows, columns, *values.shape[1:])


def bearing_length(bearing: BearingSurface) -> float:
    """Return the length of the bearing surface [mm] along its middle columns.

    Points stand at cell centres, half a cell inside the ends.
    """
    x = side_grid(bearing, bearing.points_saddle[:, 0], LEFT)
    rows, columns = x.shape
    middle = x[:, [(columns - 1) // 2, columns // 2]].mean(axis=1)
    return float((middle[0] - middle[-1]) * rows / (rows - 1))


def front_x(bearing: BearingSurface) -> float:
    """Return where the bearing surface begins, saddle frame [mm], on its middle columns."""
    x = side_grid(bearing, bearing.points_saddle[:, 0], LEFT)
    _, columns = x.shape
    middle = x[:, [(columns - 1) // 2, columns // 2]].mean(axis=1)
    return float(middle[0] + 0.5 * bearing_length(bearing) / x.shape[0])


def patch_through(points: FloatArray, t: FloatArray, v: FloatArray) -> Patch:
    """Return the smooth patch through a grid of points, cubic where there are four or more each way.

    Parameters
    ----------
    points : (rows, columns, 3) float, saddle frame [mm], y outwards
    t : (rows,) float, increasing; 0 at the front edge, 1 at the rear
    v : (columns,) float, increasing; 0 at the inner edge, 1 at the outer
    """
    degrees = (min(3, len(t) - 1), min(3, len(v) - 1))
    splines = [
        RectBivariateSpline(t, v, points[:, :, axis], kx=degrees[0], ky=degrees[1], bbox=_box(t, v))
        for axis in range(3)
    ]

    def _at(at_t: FloatArray, at_v: FloatArray) -> FloatArray:
        return np.stack([spline.ev(at_t, at_v) for spline in splines], axis=1)

    return _at


def _box(t: FloatArray, v: FloatArray) -> list[float]:
    # Half a cell beyond the outermost points, and a little for the derivative's step there.
    return [min(t[0], -1e-3), max(t[-1], 1.001), min(v[0], -1e-3), max(v[-1], 1.001)]


def side_patch(bearing: BearingSurface, side: int) -> Patch:
    """Return the smooth patch through one side's bearing points, y outwards."""
    points = side_grid(bearing, bearing.points_saddle, side) * np.array([1.0, float(side), 1.0])
    rows, columns = shape_of(bearing)
    return patch_through(points, _centres(rows), _centres(columns))


def resampled(model: SaddleModel, n_points: PointCount) -> SaddleModel:
    """Return the same saddle on about `n_points` bearing points, both sides together.

    For a model that came from sections or a mesh; one that came from numbers is better made anew.
    """
    left = side_patch(model.bearing, LEFT)
    rows, columns = rows_and_columns(left, n_points)
    return replace(model, bearing=_sampled_anew(model.bearing, rows, columns, (None, None)))


def refilled(model: SaddleModel, left: Filling, right: Filling) -> SaddleModel:
    """Return the saddle with fill added to (or taken from) its panels; points, rows and columns stay.

    The underside moves along its normals. What more wool does besides (a firmer, rounder panel, a narrower
    channel) is left out.
    """
    rows, columns = shape_of(model.bearing)
    bearing = _sampled_anew(model.bearing, rows, columns, (left, right))
    if model.points is None:
        return replace(model, bearing=bearing)
    length, across = bearing_length(model.bearing), np.array([0.7])
    points = tuple(
        replace(
            point,
            cover_mm=point.cover_mm
            + float(filling_height(filling, -point.end_saddle[:1], across, length)[0]),
        )
        for point, filling in zip(model.points, (left, right), strict=True)
    )
    return replace(model, bearing=bearing, points=(points[0], points[1]))


def _sampled_anew(
    bearing: BearingSurface, rows: int, columns: int, fillings: tuple[Filling | None, Filling | None]
) -> BearingSurface:
    length, start = bearing_length(bearing), front_x(bearing)
    sides: list[SideSamples] = []
    stiffness: list[FloatArray] = []
    for side, filling in zip((LEFT, RIGHT), fillings, strict=True):
        patch = side_patch(bearing, side)
        if filling is not None and not filling.is_nothing:
            patch = raised(patch, _height_of(filling, start, length))
        one = sample(patch, rows, columns)
        sides.append(one)
        held = side_grid(bearing, bearing.firmness, side)
        old_rows, old_columns = held.shape
        between = RectBivariateSpline(_centres(old_rows), _centres(old_columns), held, kx=1, ky=1)
        stiffness.append(between.ev((one.row + 0.5) / rows, one.across))
    zones = [zone_of(start - side.points_saddle[:, 0], length) for side in sides]
    if (rows, columns) == shape_of(bearing):
        # A point on the border of two zones stays in the one it was filed under.
        zones = [side_grid(bearing, bearing.zone, side).ravel() for side in (LEFT, RIGHT)]
    return joined(sides[0], sides[1], zones=(zones[0], zones[1]), stiffness=(stiffness[0], stiffness[1]))


def _height_of(filling: Filling, start: float, length: float) -> Height:
    return lambda behind, across: filling_height(filling, behind + start, across, length)


def _centres(count: int) -> FloatArray:
    return (np.arange(count) + 0.5) / count
