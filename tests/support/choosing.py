"""Small stocks and horses for the tests of choosing; all invented."""

from functools import cache

import numpy as np

from saddlebench.demo.shapes import WIDE_COB, BackShape
from saddlebench.demo.stock import FOR_THE_COB, invented_stock
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.choose import Candidate, RiderSize, Wanted
from saddlebench.engine.fit.horse import Build, Horse
from saddlebench.engine.fit.loads import Rider
from support.measured import points_of


@cache
def small_stock(count: int = 90) -> tuple[Candidate, ...]:
    return tuple(one.candidate for one in invented_stock(count))


def wanted_for(shape: BackShape, *, key: str = "", with_doubt: bool = False) -> Wanted:
    estimated = None
    surface = shape.surface()
    if with_doubt:
        estimated = estimate_back(points_of(shape, rng=np.random.default_rng(1)), shape.landmarks)
        surface = estimated.surface
    return Wanted(
        key=key,
        label=shape.name,
        surface=surface,
        landmarks=shape.landmarks,
        rider=Rider(mass_kg=75.0),
        rider_size=RiderSize(thigh_mm=560.0),
        horse=Horse(mass_kg=560.0, build=Build.COB if shape is WIDE_COB else Build.ORDINARY),
        estimated=estimated,
    )


def for_the_cob(candidates: tuple[Candidate, ...]) -> set[str]:
    return {one.key for one in candidates if one.label in FOR_THE_COB}
