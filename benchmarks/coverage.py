"""Do stated intervals of a back's surface hold: backs drawn from the model, and sections of real meshes.

`python -m benchmarks coverage --backs 1000` draws backs from the model, measures them with a comb of 1.5 mm
at ten stations and counts how many 95 % intervals hold the true radius (JCGM 101:2008, 3.12), hyperparameters
known; `--found 100` does it with hyperparameters found anew from each back. `--meshes FOLDER MARKS`
takes sections of meshes of real horses, told to be exact to 1 mm, and asks the mesh every 20 mm along,
everywhere between the sections' ends: under the saddle (to 460 mm behind the shoulder mark) and outside it.
`--rounded` first rounds the facets of meshes whose corners lie far apart (two steps of Loop's subdivision).
"""

import argparse
import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks._change_pairs import COMB, stations
from benchmarks._meshes import real_backs
from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.gaussian import (
    GaussianField,
    Hyperparameters,
    RadialData,
    condition,
    square_root,
)
from saddlebench.engine.back.likelihood import restricted_maximum_likelihood
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.scan import points_from_scan
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.back.trend import trend_of
from saddlebench.engine.frames import FloatArray

NORMAL_95 = 1.959964
HYPER = Hyperparameters(
    sigma_mm=18.0, length_s_mm=230.0, length_phi=1.1, tau_mm=0.5, hips_mm=8.0, loin_mm=460.0
)
FIRST_MM, LAST_MM = -140.0, 560.0
SADDLE_MM = (0.0, 460.0)
STEEPEST = np.deg2rad(85.0)


def by_comb(n_stations: int) -> EstimatedBack:
    """Return the plain back as the comb measures it at so many stations."""
    rng = np.random.default_rng(7)
    record = BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=COMB,
        readings=measured_at(PLAIN, COMB, stations(n_stations), rng),
        landmarks=PLAIN.landmarks,
    )
    return estimate_back(measure_points(record), PLAIN.landmarks)


def drawn_backs(field: GaussianField, count: int, rng: np.random.Generator) -> FloatArray:
    """Return backs (count, n_s, n_phi) drawn from the model, radii [mm]."""
    grid = field.data.grid
    along, across = node_distances(grid)
    root_s = square_root(HYPER.sigma_mm**2 * matern(along, HYPER.length_s_mm))
    root_phi = square_root(matern(across, HYPER.length_phi))
    trend = trend_of(grid, HYPER.loin_mm, HYPER.hips_mm)
    departures = rng.standard_normal((count, len(trend.departures)))
    mean = trend.mean_mm + np.tensordot(departures, trend.departures, axes=1)
    return np.asarray(mean + root_s @ (rng.standard_normal((count, grid.n_s, grid.n_phi)) @ root_phi.T))


def readings_of(data: RadialData, backs: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return readings (n, count) of backs with every stated error drawn [mm]."""
    seen = np.einsum("ij,kjl,il->ik", data.rows_s, backs, data.rows_phi, optimize=True)
    shared = data.error_gain @ rng.standard_normal((data.error_gain.shape[1], len(backs)))
    own = np.sqrt(data.noise_mm**2 + HYPER.tau_mm**2)[:, None]
    return np.asarray(seen + shared + own * rng.standard_normal(seen.shape))


def of_the_model(count: int, found: int) -> None:
    """Print the shares that hold on backs drawn from the model."""
    back = by_comb(10)
    data, inside = back.posterior.data, back.surface.measured
    field, rng = condition(data, HYPER), np.random.default_rng(12)
    print("\n| backs of the model, ten stations, comb | intervals that hold | least and most of a place |")
    print("| --- | --- | --- |")
    held = np.zeros(inside.sum())
    sd = field.standard_deviation()[inside]
    for start in range(0, count, 100):
        backs = drawn_backs(field, min(100, count - start), rng)
        error = (field.estimate(readings_of(data, backs, rng)) - backs)[:, inside]
        held += (np.abs(error) < NORMAL_95 * sd).sum(axis=0)
    print(
        f"| {count}, hyperparameters known, {inside.sum()} places | {100 * held.mean() / count:.1f} % "
        f"| {100 * held.min() / count:.1f} and {100 * held.max() / count:.1f} % |",
        flush=True,
    )
    shares = []
    for one in drawn_backs(field, found, rng):
        read = replace(data, radius_mm=readings_of(data, one[None], rng)[:, 0])
        anew = condition(read, restricted_maximum_likelihood(read, 10, HYPER.loin_mm))
        error = anew.estimate(read.radius_mm[:, None])[0] - one
        shares.append(np.mean(np.abs(error) < NORMAL_95 * anew.standard_deviation(), where=inside))
    if shares:
        middle, sure = 100 * np.mean(shares), 200 * np.std(shares) / np.sqrt(len(shares))
        print(f"| {found}, found anew from each | {middle:.1f} ± {sure:.1f} % | |", flush=True)


def of_meshes(meshes: Path, marks: Path, *, rounded: bool) -> None:
    """Print the shares that hold on sections of real meshes."""
    print("\n| mesh | stations | under the saddle | outside it | all | error, stated [mm] |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, aligned in real_backs(meshes, marks, rounded=rounded):
        dense = points_from_scan(aligned, np.arange(FIRST_MM, LAST_MM + 1.0, 20.0))
        for n in (5, 7, 10, 13):
            few = points_from_scan(aligned, np.linspace(FIRST_MM, LAST_MM, n))
            told = replace(few, noise_mm=np.full_like(few.noise_mm, 1.0), frame_errors=())
            back = estimate_back(told, aligned.landmarks)
            grid = back.surface.grid
            s, phi, radius = grid.polar(dense.points_back)
            known = back.support.contains(s, phi) & (np.abs(phi) < STEEPEST)
            error = back.surface.spline.radius(s, phi)[:, 0] - radius
            sd = PolarSpline.through(grid, back.surface.sd_mm).radius(s, phi)[:, 0]
            holds = np.abs(error) < NORMAL_95 * sd
            saddle = known & (s >= SADDLE_MM[0]) & (s <= SADDLE_MM[1])
            shares = [f"{100 * holds[some].mean():.0f} %" for some in (saddle, known & ~saddle, known)]
            off = f"{np.sqrt(np.mean(error[known] ** 2)):.1f}, {np.median(sd[known]):.1f}"
            print(f"| {name} | {n} | {' | '.join(shares)} | {off} |", flush=True)


def main() -> None:
    """Print the tables that were asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--backs", type=int, default=1000, help="drawn from the model")
    asked.add_argument("--found", type=int, default=0, help="of these, hyperparameters found anew")
    asked.add_argument("--meshes", type=Path, nargs=2, metavar=("FOLDER", "MARKS"))
    asked.add_argument("--rounded", action="store_true", help="facets of coarse meshes rounded off")
    wanted, _ = asked.parse_known_args()
    if wanted.backs:
        of_the_model(wanted.backs, wanted.found)
    if wanted.meshes:
        of_meshes(*wanted.meshes, rounded=wanted.rounded)


if __name__ == "__main__":
    main()
