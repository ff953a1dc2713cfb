"""Change studies: how often an unchanged back shows a change, how often a true one is found, their time.

`python -m benchmarks change --only size` (unchanged pairs), `power` (6 mm over 100 mm), `wide` (11 mm that
fade over 300 mm) or `times`; `--pairs 50` of them, `--row comb-7` alone, `--seed` other backs. With
`--keep answers.jsonl` every pair is written once it is known, and a run that was broken off goes on where
it stopped. A pair takes one to three seconds of one processor.
"""

import argparse
import datetime as dt
import json
import time
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
from scipy import stats

from benchmarks._change_pairs import COMB, FIRST, Answer, Trial, stations, trials
from saddlebench.demo.shapes import PLAIN
from saddlebench.demo.visits import VisitDay, visit
from saddlebench.engine.change.study import study_change
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument

DEPTHS_MM = {"size": 0.0, "power": 6.0, "wide": 11.0}
SEEDS = {"size": 830, "power": 820, "wide": 828}
"""Seeds up to 811 served to find out how discs are named."""
PAIRS = {"size": 1000, "power": 200, "wide": 100}
ROWS = {
    "size": ("comb-10", "chain-10"),
    "power": ("comb-10", "chain-10", "comb-7", "chain-7"),
    "wide": ("comb-10",),
}
HEADS = {
    "beyond": "beyond",
    "named": "named",
    "placed": "at the place",
    "elsewhere": "elsewhere",
    "wrong": "wrong sign",
    "mapped": "map",
    "refused": "refused",
    "by_shape": "marks not trusted",
}


def trial_of(row: str, only: str, seed: int) -> Trial:
    """Return what a row of a table simulates; “comb-10” is ten stations of the comb of 1.5 mm."""
    name, n = row.split("-")
    return Trial(
        instrument=COMB if name == "comb" else example_instrument("chain-12x30"),
        n_stations=int(n),
        depth_mm=DEPTHS_MM[only],
        is_wide=only == "wide",
        seed=seed,
    )


def answers(row: str, only: str, seed: int, count: int, keep: Path | None) -> list[Answer]:
    """Return what so many pairs show, those kept already not simulated again."""
    of = {"row": row, "only": only, "seed": seed}
    held: dict[int, Answer] = {}
    if keep is not None and keep.exists():
        for line in keep.read_text(encoding="utf-8").splitlines():
            said = json.loads(line)
            if said["of"] == of:
                held[said["pair"]] = Answer(**said["answer"])
    for k in range(count):
        if k in held:
            continue
        ((_, held[k]),) = trials(trial_of(row, only, seed), k, 1)
        if keep is not None:
            with keep.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"of": of, "pair": k, "answer": asdict(held[k])}) + "\n")
    return [held[k] for k in range(count)]


def share(held: int, of: int) -> str:
    """Return a count with its share and the 95 % interval of that (Clopper & Pearson 1934) [%]."""
    test = stats.binomtest(held, of).proportion_ci(0.95)
    return f"{held}: {100 * held / of:.0f} % ({100 * test.low:.0f}–{100 * test.high:.0f})"


def table(only: str, rows: tuple[str, ...], seed: int, count: int, keep: Path | None) -> None:
    """Print one line a row."""
    depth = DEPTHS_MM[only]
    what = f"{depth:g} mm over {'300' if only == 'wide' else '100'} mm" if depth else "unchanged"
    print(f"\n| {count} pairs, {what}, seed {seed} | {' | '.join(HEADS.values())} | place held | mean sure |")
    print(f"| --- |{' --- |' * (len(HEADS) + 2)}")
    for row in rows:
        every = answers(row, only, seed, count, keep)
        counts = [sum(getattr(one, name) for one in every) for name in HEADS]
        shares = [share(n, count) for n in counts]
        within = f"{sum(one.held for one in every)} of {counts[2]}"
        sure = [one.sure for one in every if one.sure]
        mean = f"{np.mean(sure):.3f} of {len(sure)}" if sure else ""
        print(f"| {row} | {' | '.join(shares)} | {within} | {mean} |", flush=True)


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
    """Print the tables that were asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", choices=(*DEPTHS_MM, "times"))
    asked.add_argument("--pairs", type=int, help="simulated pairs a row")
    asked.add_argument("--row", help="one row alone: comb-10, chain-7, …")
    asked.add_argument("--seed", type=int)
    asked.add_argument("--keep", type=Path, help="file of answers, to go on with a run that was broken off")
    wanted, _ = asked.parse_known_args()
    for only in DEPTHS_MM:
        if wanted.only in (None, only):
            rows = ROWS[only] if wanted.row is None else (wanted.row,)
            seed = SEEDS[only] if wanted.seed is None else wanted.seed
            table(only, rows, seed, wanted.pairs or PAIRS[only], wanted.keep)
    if wanted.only in (None, "times"):
        times()


if __name__ == "__main__":
    main()
