"""Models of saddles by their numbers, kept while they are asked for again and again.

In a season every saddle meets every horse. The coarse model of the quick pass depends on the saddle's numbers
alone; the most recent ones are kept in memory, in each process its own, and are lost with it.
"""

from functools import lru_cache

from saddlebench.engine.choose.variants import unnamed
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord, model_of

KEPT_MODELS = 2048
"""About 40 kB each."""
KEPT_UP_TO_POINTS = 500


def model_for(record: SaddleRecord, n_points: int) -> SaddleModel | NotMeasured | Undetermined:
    """Return a record's model; coarse ones by numbers alone are kept, without the saddle's name."""
    numbers = record.numbers
    if record.underside is not None or n_points > KEPT_UP_TO_POINTS or not isinstance(numbers, RigidNumbers):
        return model_of(record, n_points)
    return _kept(unnamed(numbers), n_points)


@lru_cache(maxsize=KEPT_MODELS)
def _kept(numbers: RigidNumbers, n_points: int) -> SaddleModel:
    return model_from_numbers(numbers, n_points)
