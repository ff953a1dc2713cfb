"""What is read off the saddle by itself: channel width, and its near side against its off side."""

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.measures.batch import Pair
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import Absent, Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.symmetry import saddle_symmetry


def saddle_columns(pair: Pair, count: int) -> Columns:
    """Return measures of the saddle alone, each (count,) float in the engine's units.

    Of the panels' unevenness the largest mean of a zone counts: what a fitter would even out.
    """
    width = pair.shape.half_width.sum(axis=1).min(axis=1)
    symmetry = saddle_symmetry(pair.saddle)
    panels, points, bars = symmetry.panels, symmetry.points, symmetry.stirrup_bars
    uneven: dict[MeasureName, float | Undetermined] = {
        MeasureName.SADDLE_POINTS_UNEQUAL: points if isinstance(points, Undetermined) else points.distance_mm,
        MeasureName.SADDLE_BARS_UNEQUAL: bars if isinstance(bars, Undetermined) else bars.distance_mm,
        MeasureName.SADDLE_PANELS_UNEQUAL: panels
        if isinstance(panels, Undetermined)
        else max(abs(mean) for mean in panels.by_zone_mm),
    }
    columns: Columns = {MeasureKey(name=MeasureName.CHANNEL_WIDTH): np.broadcast_to(width, (count,))}
    for name, value in uneven.items():
        columns[MeasureKey(name=name)] = _repeated(value, count)
    return columns


def _repeated(value: float | Undetermined, count: int) -> FloatArray | Absent:
    return value if isinstance(value, Undetermined) else np.full(count, value)


def rider_and_tack(rider_kg: float, saddle_kg: float, horse_kg: float) -> float:
    """Return rider with saddle over horse [1]."""
    return (rider_kg + saddle_kg) / horse_kg
