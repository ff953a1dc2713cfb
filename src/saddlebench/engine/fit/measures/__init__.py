"""Everything that is read off a settled saddle, for one solution or a whole cloud of them at once."""

from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.names import (
    MeasureKey,
    MeasureName,
    Part,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.measures.table import Measure, MeasureTable

__all__ = [
    "Measure",
    "MeasureKey",
    "MeasureName",
    "MeasureTable",
    "Part",
    "PressureKey",
    "PressureName",
    "Side",
    "measure_pair",
]
