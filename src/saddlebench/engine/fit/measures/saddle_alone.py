"""What is read off the saddle by itself: channel width, and its near side against its off side."""

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.measures.batch import Pair
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import Absent, Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import BearingSurface, Zone

_MIRROR = np.array([1.0, -1.0, 1.0])


def saddle_columns(pair: Pair, count: int) -> Columns:
    """Return measures of the saddle alone, each (count,) float in the engine's units."""
    width = pair.shape.half_width.sum(axis=1).min(axis=1)
    columns: Columns = {
        MeasureKey(name=MeasureName.CHANNEL_WIDTH): np.broadcast_to(width, (count,)),
        MeasureKey(name=MeasureName.SADDLE_POINTS_UNEQUAL): _points(pair, count),
        MeasureKey(name=MeasureName.SADDLE_PANELS_UNEQUAL): _panels(pair.saddle.bearing, count),
    }
    seat = pair.saddle.seat
    apart = np.linalg.norm(seat.stirrup_bar_left - _MIRROR * seat.stirrup_bar_right)
    columns[MeasureKey(name=MeasureName.SADDLE_BARS_UNEQUAL)] = np.full(count, apart)
    return columns


def _points(pair: Pair, count: int) -> FloatArray | Absent:
    if pair.shape.point_ends is None:
        return Undetermined("this saddle has no tree points")
    left, right = pair.shape.point_ends[:, 0], pair.shape.point_ends[:, 1]
    return np.broadcast_to(np.linalg.norm(left - _MIRROR * right, axis=1), (count,))


def _panels(bearing: BearingSurface, count: int) -> FloatArray | Absent:
    """Compare the panels zone by zone, along their normals; the largest zone mean counts."""
    place = {
        (int(side), int(row), int(column)): index
        for index, (side, row, column) in enumerate(
            zip(bearing.side, bearing.row, bearing.column, strict=True)
        )
    }
    pairs = np.array(
        [
            (left, place[-1, row, column])
            for (side, row, column), left in place.items()
            if side > 0 and (-1, row, column) in place
        ]
    )
    if pairs.size == 0:
        return Undetermined("the two panels were not recorded point for point")
    left, right = pairs.T
    apart = bearing.points_saddle[left] - _MIRROR * bearing.points_saddle[right]
    normal = bearing.normals_saddle[left] + _MIRROR * bearing.normals_saddle[right]
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    along = np.sum(apart * normal, axis=1)
    zones = [
        np.abs(along[bearing.zone[left] == zone].mean())
        for zone in Zone
        if np.any(bearing.zone[left] == zone)
    ]
    return np.full(count, max(zones))


def rider_and_tack(rider_kg: float, saddle_kg: float, horse_kg: float) -> float:
    """Return rider with saddle over horse [1]."""
    return (rider_kg + saddle_kg) / horse_kg
