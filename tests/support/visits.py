"""Invented horses visited twice, measured and ready to be compared."""

import datetime as dt
from functools import lru_cache

import numpy as np

from saddlebench.demo.shapes import PLAIN, BackShape
from saddlebench.demo.visits import Change, VisitDay, unchanged, visit
from saddlebench.engine.back.instruments import Instrument, JointedChain, PinComb
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.discs import disc_profile
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument

FIRST = dt.date(2026, 3, 2)
TEN = tuple(float(round(s)) for s in np.linspace(-140.0, 560.0, 10))


def comb() -> PinComb:
    held = example_instrument("comb-41x10")
    assert isinstance(held, PinComb)
    return held


def disc(depth_mm: float, s_mm: float, phi: float, diameter_mm: float = 100.0) -> Change:
    """Return a change of a depth over a disc of the plain back, half of it at the rim."""

    def point(s: np.ndarray, angle: np.ndarray) -> np.ndarray:
        r = PLAIN.radius(s, angle)
        return np.stack([s, r * np.sin(angle), r * np.cos(angle)], axis=-1)

    centre = point(np.array([s_mm]), np.array([phi]))[0]

    def change(s: np.ndarray, angle: np.ndarray) -> np.ndarray:
        return depth_mm * disc_profile(
            np.linalg.norm(point(s, angle) - centre, axis=-1) / (0.5 * diameter_mm)
        )

    return change


@lru_cache(maxsize=64)
def visited(
    days: int,
    seed: int,
    *,
    change: Change = unchanged,
    coat: Coat = Coat.SUMMER,
    shape: BackShape = PLAIN,
    instrument: Instrument | None = None,
    stations: tuple[float, ...] = TEN,
    label: str = "Bramble (invented)",
) -> MeasuredBack:
    """Return a measured visit, so many days after the first."""
    tool = instrument or comb()
    assert isinstance(tool, PinComb | JointedChain)
    on = VisitDay(day=FIRST + dt.timedelta(days=days), coat=coat, change=change)
    return measured(visit(label, shape, tool, stations, on, np.random.default_rng(seed)))
