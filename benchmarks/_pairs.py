"""Pairs of invented backs and saddles, and ways of timing, that benchmarks share."""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.demo.saddles import SADDLES
from saddlebench.demo.shapes import BACK_SHAPES, BackShape
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers

HERE = SettleSettings(both_positions=False)


@dataclass(frozen=True, slots=True)
class Times:
    """Wall times of repeated calls [ms]."""

    values: tuple[float, ...]

    @property
    def median(self) -> float:
        """Middle of the times."""
        return float(np.median(self.values))

    @property
    def best(self) -> float:
        """Least of the times: what the machine can do when nobody else uses it."""
        return float(min(self.values))


def timed(call: Callable[[], object], repeats: int) -> Times:
    """Return the times of repeated calls, after one that is not counted."""
    call()
    values = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        values.append(1e3 * (time.perf_counter() - start))
    return Times(tuple(values))


def stock(n_points: int) -> list[tuple[SaddleModel, tuple]]:
    """Return every invented saddle that the model covers, with its pads."""
    made = [(model_from_numbers(record.numbers, n_points), record.pads) for record in SADDLES]
    return [(saddle, pads) for saddle, pads in made if isinstance(saddle, SaddleModel)]


def fit_for(shape: BackShape, saddle: SaddleModel, pads: tuple = ()) -> FitProblem:
    """Return the fit of the three steps (placed, girthed, rider up), where the saddle is put."""
    return FitProblem(
        surface=shape.surface(),
        landmarks=shape.landmarks,
        saddle=saddle,
        pads=pads,
        rider=Rider(mass_kg=72.0),
        cases=(HALT,),
        settings=HERE,
    )


def all_pairs(n_points: int) -> list[FitProblem]:
    """Return every invented back under every saddle of the stock; saddles are shared between backs."""
    fits = []
    for saddle, pads in stock(n_points):
        first = fit_for(next(iter(BACK_SHAPES.values())), saddle, pads)
        fits += [
            replace(first, surface=shape.surface(), landmarks=shape.landmarks)
            for shape in BACK_SHAPES.values()
        ]
    return fits
