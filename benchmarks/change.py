"""Change studies: how often an unchanged back shows a change, how often a true one is found, their time."""

import argparse
import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.demo.shapes import BACK_SHAPES, PLAIN, BackShape
from saddlebench.demo.visits import Change, VisitDay, unchanged, visit
from saddlebench.engine.back.instruments import JointedChain, PinComb, Scale
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.change.band import Difference, difference_of, simultaneous_band
from saddlebench.engine.change.coat import coat_offset
from saddlebench.engine.change.discs import disc_profile, scan_discs
from saddlebench.engine.change.laying import lay_together
from saddlebench.engine.change.marks import shift_by_marks
from saddlebench.engine.change.results import DiscScan
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.engine.change.together import common_hyper
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import MeasuredBack, measured

COMB = PinComb(
    name="comb of 1.5 mm",
    pitch_mm=12.0,
    n_pins=41,
    midline_pin=21.0,
    scale=Scale(lowest=0, highest=400, step=1),
    pin_sd_mm=1.1,
)
"""Pin 1.1 mm, contact 1.0 mm, rounding 0.3 mm: 1.5 mm a reading."""
FIRST = dt.date(2026, 3, 2)
SEEDS = {(False, False): 700, (True, False): 701, (True, True): 702}
"""Of unchanged, local and wide; 500 to 510 served to find out how discs are named, 0 and 1 before that."""
NINETY_FIVE = 5.991
"""χ² with two degrees of freedom."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one simulated pair showed."""

    beyond: bool
    """Whether the scan's strongest disc stands beyond its threshold."""
    named: bool
    mapped: bool
    placed: bool
    """Whether the first patch lies over the true change, with its sign."""
    wrong: bool
    """Whether the first patch has not the sign of the change at its middle."""
    off: float
    """How far its middle lies off, in its own deviations; 0 without one."""


def stations(n: int) -> tuple[float, ...]:
    """Return n stations over the usual length of a back."""
    return tuple(float(np.round(s)) for s in np.linspace(-140.0, 560.0, n))


def disc_change(shape: BackShape, depth_mm: float, s_mm: float, phi: float) -> Change:
    """Return a change of a depth over 100 mm: full inside, half at the rim, nothing 15 mm beyond it."""

    def point(s, angle):
        r = shape.radius(s, angle)
        return np.stack([s, r * np.sin(angle), r * np.cos(angle)], axis=-1)

    centre = point(np.array([s_mm]), np.array([phi]))[0]

    def change(s, angle):
        apart = np.linalg.norm(point(s, angle) - centre, axis=-1)
        slope_phi = (shape.radius(s, angle + 1e-3) - shape.radius(s, angle - 1e-3)) / 2e-3
        slope_s = shape.radius(s + 0.5, angle) - shape.radius(s - 0.5, angle)
        steep = np.sqrt(1.0 + slope_s**2 + (slope_phi / shape.radius(s, angle)) ** 2)
        return depth_mm * disc_profile(apart / 50.0) * steep

    return change


def wide_change(shape: BackShape, depth_mm: float, s_mm: float, phi: float) -> Change:
    """Return a change that falls off as a bell, to half of its depth 150 mm from its middle."""

    def point(s, angle):
        r = shape.radius(s, angle)
        return np.stack([s, r * np.sin(angle), r * np.cos(angle)], axis=-1)

    centre = point(np.array([s_mm]), np.array([phi]))[0]
    return lambda s, angle: depth_mm * 0.5 ** (np.linalg.norm(point(s, angle) - centre, axis=-1) / 150.0) ** 2


def judged(
    earlier: MeasuredBack, later: MeasuredBack, settings: ChangeSettings
) -> tuple[DiscScan, bool, Difference]:
    """Return the scan, whether the map tells a change, and the change."""
    marks = shift_by_marks(earlier.record.landmarks, later.record.landmarks)
    coat = coat_offset(earlier.record, later.record)
    laid = lay_together(earlier, later, common_hyper((earlier, later)), marks, coat, settings, 2)
    difference = difference_of(laid, settings)
    band = simultaneous_band(difference, settings)
    scanned = scan_discs(difference, settings, band.width)
    beyond = difference.common & (np.abs(difference.radius_mm) > band.width * band.sd_mm)
    return scanned.scan, bool(beyond.any()), difference


def trials(
    count: int,
    instrument: PinComb | JointedChain,
    n: int,
    depth_mm: float,
    seed: int,
    *,
    wide: bool = False,
    first: int = 0,
) -> Iterator[Answer]:
    """Yield what simulated pairs show; every pair on the next invented back."""
    settings = ChangeSettings(simulations=800)
    shapes = list(BACK_SHAPES.values())
    for k in range(first, first + count):
        rng = np.random.default_rng([seed, n, k])
        shape = shapes[k % len(shapes)].of_height(1600.0)
        s_mm = rng.uniform(-90.0, 510.0)
        from_midline = rng.uniform(-200.0, 200.0)
        phi = from_midline / float(shape.radius(s_mm, from_midline / 250.0))
        kind = wide_change if wide else disc_change
        change = kind(shape, depth_mm, s_mm, phi) if depth_mm else unchanged
        sign = 1.0 if rng.uniform() < 0.5 else -1.0
        days = (
            VisitDay(day=FIRST),
            VisitDay(day=FIRST + dt.timedelta(days=180), change=lambda s, a, f=change, g=sign: g * f(s, a)),
        )
        pair = [
            measured(visit(shape.name, shape, instrument, stations(n), day, rng, device=k)) for day in days
        ]
        scan, mapped, difference = judged(*pair, settings)
        yield _answer(
            scan, difference, (s_mm, phi), lambda s, a, f=change, g=sign: g * f(s, a), mapped=mapped
        )


def _answer(
    scan: DiscScan, difference: Difference, true: tuple[float, float], change: Change, *, mapped: bool
) -> Answer:
    placed, wrong, off = False, False, 0.0
    if scan.patches:
        patch = scan.patches[0]
        s, phi = np.array([true[0], patch.s_mm]), np.array([true[1], patch.phi])
        surface = PolarSpline.through(difference.grid, difference.earlier_mm)
        middle, at = difference.grid.cartesian(s, phi, surface.radius(s, phi)[:, 0])
        apart = float(np.linalg.norm(middle - at))
        there = float(change(s[1:], phi[1:])[0]) * patch.depth.value
        placed, wrong = apart < 90.0 and there > 0.0, there <= 0.0
        off = apart / patch.place_sd_mm
    return Answer(
        beyond=scan.strongest > scan.threshold,
        named=scan.is_told,
        mapped=mapped,
        placed=placed,
        wrong=wrong,
        off=off,
    )


def table(
    count: int, rows: list[tuple[str, PinComb | JointedChain, int]], depth_mm: float, *, wide: bool = False
) -> None:
    """Print one line a row."""
    over = "300 mm" if wide else "100 mm"
    what = f"{depth_mm:g} mm over {over}" if depth_mm else "unchanged"
    print(f"\n| {count} pairs, {what} | beyond | named | at the place | wrong sign | map | place held |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    seed = SEEDS[bool(depth_mm), wide]
    for name, instrument, n in rows:
        held = list(trials(count, instrument, n, depth_mm, seed, wide=wide))
        said = [
            sum(getattr(one, what) for one in held)
            for what in ("beyond", "named", "placed", "wrong", "mapped")
        ]
        within = sum(one.placed and one.off**2 < NINETY_FIVE for one in held)
        print(f"| {name} | {' | '.join(map(str, said))} | {within} of {said[2]} |", flush=True)


def times() -> None:
    """Print how long studies take."""
    rng = np.random.default_rng(0)
    comb = example_instrument("comb-41x10")
    backs = [
        measured(visit("x", PLAIN, comb, stations(11), VisitDay(day=FIRST + dt.timedelta(days=42 * k)), rng))
        for k in range(6)
    ]
    many = [
        replace(
            backs[k % 6], record=replace(backs[k % 6].record, measured_on=FIRST + dt.timedelta(days=42 * k))
        )
        for k in range(87)
    ]
    print("\n| study, surfaces at hand | s | processor s |\n| --- | --- | --- |")
    for name, held in (("two records", backs[:2]), ("ten years of six-weekly records (87)", many)):
        study_change(held[:2])
        begun, processor = time.perf_counter(), time.process_time()
        study_change(held)
        print(f"| {name} | {time.perf_counter() - begun:.2f} | {time.process_time() - processor:.2f} |")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--pairs", type=int, default=1000)
    parser.add_argument("--changed", type=int, default=200)
    parser.add_argument("--only", default="")
    options, _ = parser.parse_known_args()
    chain = example_instrument("chain-12x30")
    rows = [
        ("ten stations, comb of 1.5 mm", COMB, 10),
        ("seven stations, comb of 1.5 mm", COMB, 7),
        ("ten stations, jointed chain", chain, 10),
    ]
    if options.only in ("", "size"):
        table(options.pairs, rows[:1] + rows[2:], 0.0)
    if options.only in ("", "power"):
        table(options.changed, rows, 6.0)
    if options.only in ("", "wide"):
        table(options.changed, rows[:1], 11.0, wide=True)
    if options.only in ("", "times"):
        times()


if __name__ == "__main__":
    main()
