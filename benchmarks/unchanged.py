"""Do real horses that did not change show a change: meshes, each time measured at stations of their own.

`python -m benchmarks unchanged --pairs 6 --meshes FOLDER MARKS` measures every mesh twice in ten sections, at
places of their own, the shoulder mark set anew each time (8 mm), every point off by 1 mm where 1.5 mm are
stated. Facets of coarse meshes are rounded off first; `--faceted` leaves them.
"""

import argparse
import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks._change_pairs import COMB, FIRST, Judged, judged, stations
from benchmarks._meshes import real_backs
from saddlebench.demo.shapes import PLAIN
from saddlebench.demo.visits import VisitDay, visit
from saddlebench.engine.back.scan import AlignedScan, points_from_scan
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.exchange.back_job import MeasuredBack, measured

FIRST_MM, LAST_MM, STATIONS = -140.0, 560.0, 10


def invented() -> MeasuredBack:
    """Return a record by the comb, whose readings are then replaced by a mesh's."""
    on = VisitDay(day=FIRST)
    return measured(visit("a mesh", PLAIN, COMB, stations(STATIONS), on, np.random.default_rng(0)))


def measured_anew(
    aligned: AlignedScan, base: MeasuredBack, year: int, rng: np.random.Generator
) -> MeasuredBack:
    """Return a record of the mesh at stations of its own."""
    places = np.linspace(FIRST_MM, LAST_MM, STATIONS) + rng.uniform(-15.0, 15.0)
    cut = points_from_scan(aligned, places + rng.normal(0.0, 6.0, STATIONS))
    moved = cut.points_back + rng.normal(0.0, 1.0, cut.points_back.shape)
    moved[:, 0] += rng.normal(0.0, 8.0)
    points = replace(cut, points_back=moved, noise_mm=np.full_like(cut.noise_mm, 1.5), frame_errors=())
    on = dt.date(year, 5, 4)
    record = replace(base.record, measured_on=on, landmarks=aligned.landmarks)
    return replace(base, record=record, estimated=estimate_back(points, aligned.landmarks))


def main() -> None:
    """Print how many unchanged pairs of each mesh show a patch or leave the band."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--pairs", type=int, default=2, help="of each mesh")
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--faceted", action="store_true", help="facets of coarse meshes left as they are")
    asked.add_argument("--meshes", type=Path, nargs=2, metavar=("FOLDER", "MARKS"))
    wanted, _ = asked.parse_known_args()
    if not wanted.meshes:
        print("no meshes: --meshes FOLDER MARKS")
        return
    base = invented()
    print("| mesh | pairs | compared | a patch is shown | where [mm behind, degrees, mm] | past the band |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, aligned in real_backs(*wanted.meshes, rounded=not wanted.faceted):
        held = []
        for seed in range(wanted.seed, wanted.seed + wanted.pairs):
            rng = np.random.default_rng(seed)
            earlier = measured_anew(aligned, base, 2026, rng)
            later = measured_anew(aligned, base, 2027, rng)
            held.append(judged(earlier, later, ChangeSettings(simulations=800)))
        told = [one for one in held if isinstance(one, Judged)]
        where = [
            f"{patch.s_mm:.0f}, {np.rad2deg(patch.phi):.0f}, {patch.depth.value:+.1f}"
            for one in told
            for patch in one.scan.patches
        ]
        print(
            f"| {name} | {len(held)} | {len(told)} | {sum(bool(one.scan.patches) for one in told)} "
            f"| {'; '.join(where)} | {sum(one.mapped for one in told)} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
