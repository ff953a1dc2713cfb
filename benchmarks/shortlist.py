"""A shortlist from 10,000 saddles, against the exhaustive run; what a season costs; how the quick pass errs.

`python -m benchmarks shortlist` takes minutes. `SHORTLIST_PARTS=one,errors,exhaustive,limits,season` names
parts of it; `SHORTLIST_STOCK`, `SEASON_HORSES` and `SEASON_SADDLES` make it smaller. The season of 200 horses
and 500 saddles is really run; 1,000 × 1,000 is planned from its throughput.
"""

import datetime as dt
import os
import resource
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.stats import kendalltau

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.shapes import BACK_SHAPES, WIDE_COB, BackShape
from saddlebench.demo.stock import FOR_THE_COB, invented_stock
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.choose import (
    Candidate,
    HardLimits,
    RiderSize,
    ShortlistSettings,
    Wanted,
    season,
    shortlist,
)
from saddlebench.engine.choose.assess import COARSE_POINTS, FINE_POINTS, Assessed, AssessJob, assess
from saddlebench.engine.choose.shortlist import sieve
from saddlebench.engine.choose.variants import Shape, variants_of
from saddlebench.engine.fit.horse import Build, Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.workers import Processes

STOCK = int(os.environ.get("SHORTLIST_STOCK", "10000"))
WORKERS = 2
PLAIN_LIST = ShortlistSettings(draws=0, with_studies=False, try_fill=False)


def assess_one(shared: tuple[AssessJob, int], shape: Shape) -> object:
    """Return what one shape costs at a resolution."""
    job, n_points = shared
    return assess(job, [shape], n_points)[0]


def main() -> None:
    parts = os.environ.get("SHORTLIST_PARTS", "one,limits,errors,exhaustive,season").split(",")
    saddles = tuple(one.candidate for one in invented_stock(STOCK))
    with Processes(WORKERS) as pool:
        for name, part in (
            ("one", one_horse),
            ("errors", errors),
            ("exhaustive", exhaustive),
            ("limits", limits),
            ("season", whole_season),
        ):
            if name in parts:
                part(saddles, pool)
                sys.stdout.flush()


def dumpling(*, certain: bool = False) -> Wanted:
    """Return the yard's wide cob, measured as invented, or as it really is."""
    horse = next(one for one in YARD if one.shape is WIDE_COB)
    made = _measured(horse.shape)
    return Wanted(
        label=horse.name,
        surface=horse.shape.surface() if certain else made.estimated.surface,
        landmarks=horse.shape.landmarks,
        rider=Rider(mass_kg=horse.rider_kg),
        rider_size=RiderSize(thigh_mm=560.0, leg_mm=880.0),
        horse=Horse(mass_kg=horse.horse_kg, build=Build.COB, is_flat_withered=True),
        estimated=None if certain else made.estimated,
    )


def _measured(shape: BackShape) -> MeasuredBack:
    tool = example_instrument("curve-mm")
    stations = (-140.0, -80.0, -20.0, 40.0, 110.0, 190.0, 280.0, 370.0, 450.0, 530.0, 600.0)
    return measured(
        BackRecord(
            label=shape.name,
            measured_on=dt.date(2026, 5, 3),
            instrument=tool,
            readings=measured_at(shape, tool, stations, np.random.default_rng(3)),
            landmarks=shape.landmarks,
        )
    )


def one_horse(saddles: tuple[Candidate, ...], pool: Processes) -> None:
    """Time the whole list of 20 with findings, processes warm and cold."""
    wanted = dumpling()
    print(f"{STOCK} saddles, one back, 20 with full findings, {WORKERS} processes")
    for words in ("cold (processes started, kernels loaded)", "warm"):
        begun, used = time.perf_counter(), _cpu_s(pool)
        found = shortlist(wanted, saddles, pool=pool)
        took, used = time.perf_counter() - begun, _cpu_s(pool) - used
        work = found.work
        print(
            f"  {words}: {took:.1f} s, {used:.1f} s of processor time, {used / WORKERS:.1f} s on each core; "
            f"{work.shapes} shapes of {work.ways} ways, {work.quick} in the quick pass, "
            f"{work.in_full} in full, "
            f"largest error {work.largest_error:.2f} of {work.margin:.2f}",
            flush=True,
        )
    here = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    each = [_memory_mb(pid) for pid in pool.process_ids]
    print(f"  memory: {here:.0f} MB here at most, processes now {', '.join(f'{one:.0f}' for one in each)} MB")
    print(f"  ruled out: {dict(Counter(str(one.limit) for one in found.ruled_out))}")
    made = [(entry.rank, entry.label) for entry in found.entries if entry.label in FOR_THE_COB]
    print(f"  made for him: {made}")


def _cpu_s(pool: Processes) -> float:
    """Return the processor time used so far, here and in the pool [s]."""
    ticks = 0
    for pid in pool.process_ids:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return time.process_time() + ticks / os.sysconf("SC_CLK_TCK")


def _memory_mb(pid: int) -> float:
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        return 0.0
    held = next((line for line in status if line.startswith("VmHWM")), "VmHWM: 0 kB")
    return int(held.split()[1]) / 1024


def exhaustive(saddles: tuple[Candidate, ...], pool: Processes) -> None:
    """Compare the list with that of settling every shape in full."""
    print("The 20 against the exhaustive run at full resolution")
    for certain in (True, False):
        wanted = dumpling(certain=certain)
        begun = time.perf_counter()
        quick = shortlist(wanted, saddles, PLAIN_LIST, pool=pool)
        middle = time.perf_counter()
        full = shortlist(wanted, saddles, replace(PLAIN_LIST, exhaustive=True), pool=pool)
        end = time.perf_counter()
        same = sum(a.key == b.key for a, b in zip(quick.entries, full.entries, strict=True))
        ratio = (end - middle) / (middle - begun)
        print(
            f"  {'as it is' if certain else 'as measured'}: {same} of {len(full.entries)} places equal; "
            f"{middle - begun:.1f} s against {end - middle:.1f} s, ratio {ratio:.1f}"
        )


def errors(saddles: tuple[Candidate, ...], pool: Processes) -> None:
    """Measure how the quick pass errs, over the invented backs: what `MARGIN` stands on."""
    print("Quick pass less full resolution, per back: largest, least, spread, rank agreement (Kendall's tau)")
    few = saddles[: STOCK // 20]
    for shape in BACK_SHAPES.values():
        wanted = replace(dumpling(certain=True), surface=shape.surface(), landmarks=shape.landmarks)
        chosen = sieve(wanted, few, HardLimits())[0]
        shapes = variants_of(chosen, None, lambda _record, _pads: True).shapes[:200]
        job = AssessJob.of(wanted, PLAIN_LIST.criteria, PLAIN_LIST.rules)
        quick, full = (_costs(pool, job, shapes, n) for n in (COARSE_POINTS, FINE_POINTS))
        both = sorted(set(full) & set(quick))
        if len(both) < 3:
            continue
        a, b = np.array([quick[k] for k in both]), np.array([full[k] for k in both])
        tau = float(kendalltau(a, b).statistic)
        print(
            f"  {shape.name:16s} {len(both):4d} saddles: {(a - b).max():+.2f} {(a - b).min():+.2f} "
            f"{(a - b).std():.2f}  tau {tau:.3f}"
        )


def _costs(pool: Processes, job: AssessJob, shapes: tuple[Shape, ...], n_points: int) -> dict[int, float]:
    answers = pool.run(assess_one, (job, n_points), shapes)
    is_quick = n_points == COARSE_POINTS
    return {
        number: found.least if is_quick else found.total
        for number, found in answers
        if isinstance(found, Assessed)
    }


def limits(saddles: tuple[Candidate, ...], pool: Processes) -> None:
    """Look whether the limit of width costs anything: the list without it, on a part of the stock."""
    few = saddles[: STOCK // 10]
    wide = replace(PLAIN_LIST, limits=HardLimits(width_mm=1e6))
    for shape in (WIDE_COB, BACK_SHAPES["plain"], BACK_SHAPES["high-withers"]):
        wanted = replace(dumpling(certain=True), surface=shape.surface(), landmarks=shape.landmarks)
        with_limit = {entry.key for entry in shortlist(wanted, few, PLAIN_LIST, pool=pool).entries}
        without = {entry.key for entry in shortlist(wanted, few, wide, pool=pool).entries}
        print(f"  width limit, {shape.name}: {len(with_limit & without)} of {len(without)} are the same")


def whole_season(saddles: tuple[Candidate, ...], pool: Processes) -> None:
    """Run 200 horses × 500 saddles, and plan 1,000 × 1,000 from it."""
    rng = np.random.default_rng(5)
    base, shapes = dumpling(certain=True), list(BACK_SHAPES.values())
    horses = []
    for k in range(int(os.environ.get("SEASON_HORSES", "200"))):
        shape = shapes[k % len(shapes)].of_height(float(rng.uniform(1350.0, 1700.0)))
        horses.append(
            replace(
                base,
                key=str(k),
                label=f"{shape.name} {k}",
                surface=shape.surface(),
                landmarks=shape.landmarks,
                rider_size=RiderSize(thigh_mm=float(rng.uniform(500.0, 600.0))),
            )
        )
    few = saddles[: int(os.environ.get("SEASON_SADDLES", "500"))]
    begun = time.perf_counter()
    lists = []
    for found in season(horses, few, pool=pool):
        lists.append(found)
        if len(lists) in (1, len(horses) // 4, len(horses) // 2):
            print(f"  {len(lists)} lists after {time.perf_counter() - begun:.1f} s", flush=True)
    took = time.perf_counter() - begun
    pairs = len(horses) * len(few)
    tried = sum(found.work.first for found in lists)
    print(
        f"  {len(horses)} horses × {len(few)} saddles: {took:.0f} s, {pairs / took:.0f} pairs/s "
        f"({tried / took:.0f} of them girthed a second; the others broke a hard limit or shared a shape)"
    )
    print(f"  1,000 × 1,000 at that rate: {1e6 / (pairs / took) / 60.0:.0f} min on {WORKERS} processes")
