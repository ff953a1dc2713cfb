"""Ten years of six-weekly visits: every number's trend, and what bringing one visit into numbers takes."""

import datetime as dt
import time
from dataclasses import replace

import numpy as np

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.trend.study import study_trends
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.trend_job import visit_of

VISITS, EVERY_DAYS = 87, 42


def main() -> None:
    horse = YARD[0]
    instrument = example_instrument(horse.instrument)
    readings = measured_at(horse.shape, instrument, horse.stations_mm, np.random.default_rng(1))
    record = BackRecord(
        label=horse.name,
        measured_on=dt.date(2016, 1, 4),
        instrument=instrument,
        readings=readings,
        landmarks=horse.shape.landmarks,
    )
    first = visit_of(measured(record))
    began = time.perf_counter()
    visit_of(measured(record), first.fresh_share)
    one = time.perf_counter() - began
    rng = np.random.default_rng(2)
    visits = [
        replace(
            first,
            day=first.day + dt.timedelta(days=EVERY_DAYS * k),
            estimates={
                quantity: replace(estimate, value=estimate.value + rng.normal(0.0, estimate.sd))
                for quantity, estimate in first.estimates.items()
            },
        )
        for k in range(VISITS)
    ]
    cpu, began = time.process_time(), time.perf_counter()
    found = study_trends(visits)
    wall, cpu = time.perf_counter() - began, time.process_time() - cpu
    print("| what | wall [s] | processor [s] |\n| --- | --- | --- |")
    print(f"| one visit into numbers | {one:.2f} | |")
    print(f"| {len(found)} trends over {VISITS} visits | {wall:.2f} | {cpu:.2f} |")
