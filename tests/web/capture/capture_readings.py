"""Invented readings of an invented back, by every instrument that is read by hand."""

from functools import cache

import numpy as np

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.readings import BackReadings
from saddlebench.exchange.instruments import example_instrument
from saddlebench.practice.catalogue import Value
from saddlebench.web.capture.readings import values_of_readings

PLACES = (0.0, 100.0, 200.0, 300.0, 400.0)
MARKS = {"withers": -20, "lowest": 235, "last_rib": 395, "shoulder_left": 2, "shoulder_right": -3}
BY_HAND = ("chain-8-uneven", "comb-24x15-foot", "curve-mm", "chain-12x30", "tape-hand")


@cache
def invented_readings(name: str) -> tuple[Instrument, BackReadings]:
    tool = example_instrument(name)
    return tool, measured_at(PLAIN, tool, PLACES, np.random.default_rng(7))


def invented_values(name: str) -> dict[str, Value]:
    """Every entry of a whole back that was measured well."""
    values = values_of_readings(*invented_readings(name))
    values |= {f"mark/{mark}": float(place) for mark, place in MARKS.items()}
    plain = {"stance/pitch": 0.0, "stance/roll": 0.5, "coat/mm": 4.0}
    # What numpy drew is a plain number once it was typed.
    return {
        one: float(v) if type(v) is not bool and isinstance(v, float) else v for one, v in values.items()
    } | plain
