"""A whole fit check for the tests: an invented back read with an invented comb, and a saddle too narrow."""

import datetime as dt
from functools import cache

from saddlebench.demo.saddles import EVERYDAY_NUMNAH, TOO_NARROW
from saddlebench.demo.shapes import LEFT_SHOULDER
from saddlebench.engine.back.backwards import readings_of, sections_of_surface
from saddlebench.engine.back.instruments import PinComb, Scale
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy, StudyInputs, run_study
from saddlebench.engine.saddle.numbers import model_from_numbers

COMB = PinComb(
    name="invented comb",
    pitch_mm=15.0,
    n_pins=25,
    midline_pin=13.0,
    scale=Scale(lowest=0.0, highest=400.0, step=1.0),
)


@cache
def back_record() -> BackRecord:
    return BackRecord(
        label="Juniper (invented)",
        measured_on=dt.date(2026, 5, 3),
        instrument=COMB,
        readings=readings_of(sections_of_surface(LEFT_SHOULDER.surface()), COMB, list(range(-120, 640, 95))),
        landmarks=LEFT_SHOULDER.landmarks,
    )


@cache
def study(draws: int = 16) -> FitStudy:
    shape = LEFT_SHOULDER
    return run_study(
        estimate_back(measure_points(back_record()), shape.landmarks),
        shape.landmarks,
        model_from_numbers(TOO_NARROW, 500),
        (EVERYDAY_NUMNAH,),
        Rider(mass_kg=70.0),
        horse=Horse(mass_kg=520.0),
        draws=draws,
        inputs=StudyInputs(back_label="Juniper (invented), 3 May 2026", saddle_label=TOO_NARROW.label),
    )
