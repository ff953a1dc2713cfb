"""Invented backs to rebuild: measured without error but the instrument's rounding, or with all of it."""

import datetime as dt
from functools import lru_cache

import numpy as np

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument

DAY = dt.date(2026, 5, 14)


@lru_cache(maxsize=8)
def back_of(horse: int = 0, instrument: str = "comb-41x10") -> MeasuredBack:
    """Return an invented horse's back as one instrument measured it."""
    chosen = YARD[horse]
    tool = example_instrument(instrument)
    readings = measured_at(chosen.shape, tool, chosen.stations_mm, np.random.default_rng(3))
    return rebuilt(readings, tool, label=f"{chosen.name} (invented)")


def rebuilt(readings: BackReadings, tool: Instrument, label: str = "a rebuild (invented)") -> MeasuredBack:
    """Return the back that an instrument set to these readings shows."""
    landmarks = YARD[0].shape.landmarks
    return measured(
        BackRecord(label=label, measured_on=DAY, instrument=tool, readings=readings, landmarks=landmarks)
    )


def off_surface(back: MeasuredBack, s_mm: FloatArray, points: FloatArray) -> FloatArray:
    """Return how far points (n, 2) float (y, z) in sections s_mm (n,) lie outside a back [mm].

    From the surface's own spline, with its slopes: no curve, template or rib is involved.
    """
    grid = back.estimated.surface.grid
    up = points[:, 1] - grid.axis_z_mm
    phi, r = np.arctan2(points[:, 0], up), np.hypot(points[:, 0], up)
    found = back.estimated.surface.spline.radius(s_mm, phi)
    return (r - found[:, 0]) / np.sqrt(1.0 + (found[:, 2] / found[:, 0]) ** 2)
