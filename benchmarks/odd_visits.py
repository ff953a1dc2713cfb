"""Visits that do not belong: how often a horse shows one of which every visit belongs, and which are found.

`python -m benchmarks odd_visits --horses 100` measures one unchanged back many times, every error made where
it arises, and follows series drawn from these; then one visit of each series is put wrong. `--not-known` goes
without how the numbers of a visit go together.
"""

import argparse
import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from saddlebench.demo.shapes import BACK_SHAPES
from saddlebench.demo.two_years import COMB, STATIONS_MM, smooth_gain
from saddlebench.demo.visits import VisitDay, visit
from saddlebench.engine.back.instruments import PinComb
from saddlebench.engine.back.readings import Reading, StationReadings
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.trend.series import NOT_KNOWN, Visit
from saddlebench.engine.change.trend.study import study_trends
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.trend_job import visit_of

FIRST = dt.date(2024, 5, 6)
VISITS, EVERY_DAYS = 10, 42
READING_MM, SECTION_MM, SLOPE_MM, HORSE_MM = 8.0, 5.0, 3.0, 6.0
OTHERS = ("sway", "croup-high", "short-coupled", "left-shoulder", "a-shaped")


def main() -> None:
    """Print how many series show an odd visit, by what was put wrong."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--horses", type=int, default=20)
    asked.add_argument("--bank", type=int, default=30, help="visits of the unchanged back")
    asked.add_argument("--wrong", type=int, default=12, help="visits of each kind that are put wrong")
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--shape", default="plain")
    asked.add_argument("--not-known", action="store_true")
    wanted, _ = asked.parse_known_args()
    bank = list(_visits(wanted.shape, _as_it_is, wanted.bank, [wanted.seed, 1]))
    print(f"| what is wrong with one of {VISITS} visits | series | it is found | as a whole | another is |")
    print("| --- | --- | --- | --- | --- |")
    for kind, make in KINDS.items():
        n = wanted.horses if make is _as_it_is else wanted.wrong
        wrong = [None] * n if make is _as_it_is else _visits(wanted.shape, make, n, [wanted.seed, 2], bank[0])
        rng = np.random.default_rng([wanted.seed, 3])
        found = whole = beside = 0
        for odd in wrong:
            visits = [bank[k] for k in rng.choice(len(bank), VISITS, replace=False)]
            at = int(rng.integers(VISITS))
            if odd is not None:
                visits[at] = odd
            told = study_trends([_on(one, k, wanted.not_known) for k, one in enumerate(visits)]).odd_visits
            there = [one for one in told if odd is not None and one.day == _day(at)]
            found += bool(there)
            whole += any(one.whole for one in there)
            beside += len(told) > len(there)
        print(f"| {kind} | {n} | {found} | {whole} | {beside} |", flush=True)


def _day(k: int) -> dt.date:
    return FIRST + dt.timedelta(days=EVERY_DAYS * k)


def _on(one: Visit, k: int, not_known: bool) -> Visit:  # noqa: FBT001
    return replace(one, day=_day(k), correlations=NOT_KNOWN if not_known else one.correlations)


def _visits(
    shape: str,
    make: Callable[[str, np.random.Generator], BackRecord],
    count: int,
    seed: list[int],
    like: Visit | None = None,
) -> Iterator[Visit]:
    for k in range(count):
        one = visit_of(measured(make(shape, np.random.default_rng([*seed, k]))), like)
        like = like or one
        yield one


def _comb() -> PinComb:
    comb = example_instrument(COMB)
    if not isinstance(comb, PinComb):
        raise TypeError(COMB)
    return comb


def _as_it_is(shape: str, rng: np.random.Generator) -> BackRecord:
    back = BACK_SHAPES[shape].of_height(1600.0)
    return visit("an invented horse", back, _comb(), STATIONS_MM, VisitDay(day=FIRST), rng)


def _with(record: BackRecord, change: Callable[[int, StationReadings], StationReadings]) -> BackRecord:
    stations = tuple(
        change(k, one) if isinstance(one, StationReadings) else one
        for k, one in enumerate(record.readings.stations)
    )
    return replace(record, readings=replace(record.readings, stations=stations))


def _up(row: tuple[Reading, ...], by: float) -> tuple[Reading, ...]:
    return tuple(None if one is None else max(one + by, 0) for one in row)


def _one_reading(shape: str, rng: np.random.Generator) -> BackRecord:
    """One pin of one station read 8 mm off."""
    at, pin, by = int(rng.integers(2, 9)), int(rng.integers(2, 13)), READING_MM * rng.choice([-1.0, 1.0])

    def change(k: int, one: StationReadings) -> StationReadings:
        row = (*one.left[:pin], *_up(one.left[pin : pin + 1], by), *one.left[pin + 1 :])
        return replace(one, left=row) if k == at else one

    return _with(_as_it_is(shape, rng), change)


def _one_section(shape: str, rng: np.random.Generator) -> BackRecord:
    """One station's gauge 5 mm up."""
    at = int(rng.integers(2, 9))

    def change(k: int, one: StationReadings) -> StationReadings:
        if k != at:
            return one
        middle = _up((one.middle,), SECTION_MM)[0]
        return replace(one, left=_up(one.left, SECTION_MM), right=_up(one.right, SECTION_MM), middle=middle)

    return _with(_as_it_is(shape, rng), change)


def _slipped(shape: str, rng: np.random.Generator) -> BackRecord:
    """At every station one half 3 mm up and the other down."""
    by = SLOPE_MM * float(rng.choice([-1.0, 1.0]))
    return _with(
        _as_it_is(shape, rng),
        lambda _k, one: replace(one, left=_up(one.left, by), right=_up(one.right, -by)),
    )


def _much_alike(shape: str, rng: np.random.Generator) -> BackRecord:
    """Another horse much alike: three wide differences of 6 mm."""
    parts = [
        smooth_gain(
            HORSE_MM * rng.choice([-1.0, 1.0]), rng.uniform(-50.0, 500.0), 150.0, rng.uniform(0.1, 0.9), 0.4
        )
        for _ in range(3)
    ]
    on = VisitDay(day=FIRST, change=lambda s, phi: np.sum([part(s, phi) for part in parts], axis=0))
    return visit("another", BACK_SHAPES[shape].of_height(1600.0), _comb(), STATIONS_MM, on, rng)


def _other_horse(_shape: str, rng: np.random.Generator) -> BackRecord:
    return _as_it_is(str(rng.choice(OTHERS)), rng)


KINDS = {
    "nothing": _as_it_is,
    "one reading, 8 mm": _one_reading,
    "one section, 5 mm": _one_section,
    "one half up and the other down, 3 mm, at every station": _slipped,
    "another horse, three wide differences of 6 mm": _much_alike,
    "another horse of another form": _other_horse,
}

if __name__ == "__main__":
    main()
