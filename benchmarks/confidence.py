"""Confidence of one pair: its time, the bias of 500 points against 2,000, and a study's memory."""

import datetime as dt
import os
import resource
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.instruments import PinComb, Scale
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.fit.confidence import Cloud, CloudSettings, draw_cloud
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.findings import Row, severities
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.judged_states import cloud_cases, states_of, study_cases
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.batch import pair_of
from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.names import MeasureKey
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.study import run_study
from saddlebench.engine.saddle.grid import resampled
from saddlebench.engine.saddle.numbers import model_from_numbers

DRAWS, REPEATS = 256, 5
COMB = PinComb(
    name="31 pins of 12 mm",
    pitch_mm=12.0,
    n_pins=31,
    midline_pin=16.0,
    scale=Scale(lowest=0, highest=300, step=1),
)


def pair() -> tuple[EstimatedBack, FitProblem]:
    distances = tuple(-90.0 + 60.0 * k for k in range(12))
    record = BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=COMB,
        readings=measured_at(PLAIN, COMB, distances, np.random.default_rng(11)),
        landmarks=PLAIN.landmarks,
    )
    estimated = estimate_back(measure_points(record), PLAIN.landmarks)
    saddle = model_from_numbers(ALL_ROUND, 2000)
    fit = FitProblem(
        surface=estimated.surface,
        landmarks=PLAIN.landmarks,
        saddle=saddle,
        rider=Rider(mass_kg=65.0),
        cases=study_cases(saddle, 25.0),
    )
    return estimated, fit


def median_s(work: Callable[[], object]) -> tuple[float, float]:
    """Return wall and processor time of a warmed-up piece of work."""
    work()
    wall, processor = [], []
    for _ in range(REPEATS):
        begun, begun_processor = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - begun)
        processor.append(time.process_time() - begun_processor)
    return float(np.median(wall)), float(np.median(processor))


def times(estimated: EstimatedBack, fit: FitProblem) -> None:
    cores = os.cpu_count() or 1
    settings = CloudSettings(draws=DRAWS, seed=1)
    print(
        f"| {DRAWS} draws at 500 points, {cores} threads, median of {REPEATS} | s | processor s | ms a draw |"
    )
    print("| --- | --- | --- | --- |")
    saddle = resampled(fit.saddle, 500)
    quick = SettleSettings(both_positions=False, coarse_points=0)
    thin = replace(fit, saddle=saddle, cases=cloud_cases(saddle), settings=quick)
    settled = settle_many([thin], threads=1)
    thin_pair = pair_of(fit.surface, fit.landmarks, saddle, ())
    rows = {
        "drawing the backs": lambda: draw_radii(estimated, DRAWS, 1),
        "settling, warm, undrawn": lambda: settle_many([thin] * DRAWS, start=settled[0]),
        "reading all measures off": lambda: measure_pair(thin_pair, states_of(settled * DRAWS), 0.15),
        "all together": lambda: draw_cloud(estimated, fit, 0.15, settings),
        "all together, one thread": lambda: draw_cloud(estimated, fit, 0.15, replace(settings, threads=1)),
    }
    for name, work in rows.items():
        wall, processor = median_s(work)
        print(f"| {name} | {wall:.2f} | {processor:.2f} | {1e3 * wall / DRAWS:.2f} |")


def verdict_shares(cloud: Cloud, row: Row) -> np.ndarray:
    codes = severities(row, cloud.table)[0]
    return np.array([np.mean(codes == code) for code in range(4)])


def bias(estimated: EstimatedBack, fit: FitProblem) -> None:
    coarse, fine = (
        draw_cloud(estimated, fit, 0.15, CloudSettings(draws=DRAWS, seed=1, points=points))
        for points in (500, 2000)
    )
    print("\n| measure, rider up or girthed | mean at 2,000 | 500 less 2,000 | spread | bias over spread |")
    print("| --- | --- | --- | --- | --- |")
    for row in DEFAULT_CRITERIA.for_pair(fit.saddle.family, Horse().build):
        for limit in row.limits:
            key = limit.measure
            if not isinstance(key, MeasureKey) or key.state is None or key not in fine.table.columns:
                continue
            both = coarse.table.known[key] & fine.table.known[key]
            a = coarse.table.columns[key][both] / key.unit.in_engine
            b = fine.table.columns[key][both] / key.unit.in_engine
            words = " ".join(part for part in (key.name, key.side, key.part) if part)
            over = abs(np.mean(a - b)) / np.std(b) if np.std(b) > 0 else 0.0
            print(
                f"| {words} [{key.unit.symbol}], {key.state} | {b.mean():.2f} | {np.mean(a - b):+.2f} "
                f"| {b.std():.2f} | {over:.2f} |"
            )
    worst = max(
        (float(np.abs(verdict_shares(coarse, row) - verdict_shares(fine, row)).max()), row.finding)
        for row in DEFAULT_CRITERIA.for_pair(fit.saddle.family, Horse().build)
    )
    print(f"\nLargest change of any finding's share: {100 * worst[0]:.1f} % ({worst[1]})")


def memory(estimated: EstimatedBack, fit: FitProblem) -> None:
    begun = time.perf_counter()
    run_study(estimated, fit.landmarks, fit.saddle, (), fit.rider, horse=Horse(mass_kg=560.0), draws=DRAWS)
    seconds = time.perf_counter() - begun
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"One study, 2,000 points, {DRAWS} draws: {seconds:.2f} s; peak memory {peak:.0f} MB\n")


def main() -> None:
    estimated, fit = pair()
    memory(estimated, fit)
    times(estimated, fit)
    bias(estimated, fit)
