"""Scans of upturned saddles: how far what is found lies from the saddle that was played, and what it costs.

Run as `python -m benchmarks.underside --cases 3`: saddles of the demo (all invented) are played as scans
among table, stand, hand and straps: noise of 1 mm, turned any way, holed. Their own numbers look for them,
made wrong by some millimetres as tapes are. Times are of the machine as it is.
"""

import argparse
import resource
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from saddlebench.demo import saddles
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT, side_patch
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers
from saddlebench.engine.saddle.underside.cloud import FINE_MM, surface_points, thinned
from saddlebench.engine.saddle.underside.evenness import unevenness
from saddlebench.engine.saddle.underside.found import (
    FoundUnderside,
    find_underside,
    robust_line,
    rolls,
)
from saddlebench.engine.saddle.underside.heights import FaceGrid
from saddlebench.engine.saddle.underside.placing import place

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from support.upturned import Upturned, underside_of, upturned

SADDLES = {
    "all-round": saddles.ALL_ROUND,
    "long": saddles.TOO_LONG,
    "straight": saddles.BRIDGING,
    "curved": saddles.ROCKING,
    "badly flocked": saddles.BADLY_FLOCKED,
    "twisted": saddles.TWISTED,
    "foam": saddles.FOAM_DRESSAGE,
}
_RIM = slice(2, -2)


def main() -> None:
    """Print every case, then the summary."""
    asked = argparse.ArgumentParser(prog="benchmarks.underside")
    asked.add_argument("--cases", type=int, default=2)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--noise", type=float, default=1.0)
    asked.add_argument("--only", default="")
    wanted, _ = asked.parse_known_args()
    rows, refused = [], 0
    for name, numbers in SADDLES.items():
        if not name.startswith(wanted.only):
            continue
        for seed in range(wanted.first, wanted.first + wanted.cases):
            try:
                row = case(numbers, seed, wanted.noise)
            except InputProblemsError as error:
                refused += 1
                print(f"{name} {seed}: refused: {error}", flush=True)
                continue
            told = "  ".join(f"{key} {value:.2f}" for key, value in row.items())
            print(f"{name} {seed}: {told}", flush=True)
            rows.append(row)
    summary(rows, refused)


def case(numbers: PanelledNumbers, seed: int, noise_mm: float) -> dict[str, float]:
    """Return how far off everything is that was found of a saddle."""
    model = model_from_numbers(numbers, 2000)
    made = upturned(underside_of(model), seed, noise_mm=noise_mm, holes=8)
    pattern = model_from_numbers(as_by_tape(numbers, seed), 1500)
    started = time.process_time()
    points = thinned(surface_points(made.vertices, made.faces), FINE_MM)
    placed = place(points, pattern)
    found = find_underside(points, placed, pattern)
    seconds = time.process_time() - started
    return errors_of(found, made, model) | {
        "heading sure": float(placed.heading_is_sure),
        "CPU s": seconds,
        "GB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6,
    }


def as_by_tape(numbers: PanelledNumbers, seed: int) -> PanelledNumbers:
    """Return numbers as a tape gives them: off by some millimetres and degrees, without lumps and twist."""
    rng = np.random.default_rng([seed, 7])
    plain = saddles.ALL_ROUND
    panel, tree = numbers.panel, numbers.tree

    def taped(values: tuple[float, ...], sd: float) -> tuple[float, ...]:
        return tuple(float(value + rng.normal(0.0, sd)) for value in values)

    return replace(
        numbers,
        filling_left=plain.filling_left,
        filling_right=plain.filling_right,
        lumps=(),
        tree=replace(tree, width_mm=tree.width_mm + float(rng.normal(0.0, 3.0))),
        off_side=plain.off_side,
        panel=replace(
            panel,
            length_mm=panel.length_mm + float(rng.normal(0.0, 4.0)),
            channel_mm=taped(panel.channel_mm, 2.0),
            width_mm=taped(panel.width_mm, 3.0),
            angle_deg=taped(panel.angle_deg, 1.5),
        ),
    )


def errors_of(found: FoundUnderside, made: Upturned, model: SaddleModel) -> dict[str, float]:
    """Return the differences of what was found from the saddle that was played."""
    turned = np.degrees((found.placed.rotation @ made.rotation)[[2, 0, 1], [1, 2, 0]])
    near, off = exact_like(found.near, model), exact_like(found.off, model)
    length = float(np.ptp(side_patch(model.bearing, LEFT)(np.array([0.0, 1.0]), np.full(2, 0.5))[:, 0]))
    middle = np.zeros(len(near.behind_mm))
    inside = (near.behind_mm > 0.04 * length) & (near.behind_mm < 0.96 * length)
    twist = np.degrees(robust_line(near.behind_mm, rolls(near, off, middle), inside)[0] * length)
    own = {side: in_true_axes(grid, found, made) for side, grid in ((LEFT, found.near), (RIGHT, found.off))}
    edges = {side: edge_errors(points, side, model) for side, points in own.items()}
    channel = edges[LEFT][0] + edges[RIGHT][0]
    faces = np.concatenate([face_errors(points, side, model) for side, points in own.items()])
    lumps = [
        one.mean_mm - other.mean_mm
        for grid, exact in ((found.near, near), (found.off, off))
        for one, other in zip(
            unevenness(grid, found.length_mm), unevenness(exact, found.length_mm), strict=True
        )
    ]
    straight = (found.behind_mm > 0.06 * length) & (found.behind_mm < 0.92 * length)
    outer = np.concatenate([edges[LEFT][1][straight], edges[RIGHT][1][straight]])
    return {
        "axes °": float(np.abs(turned).max()),
        "length": found.length_mm - length,
        "channel rms": rms(channel[straight]),
        "channel worst": float(np.nanmax(np.abs(channel[straight]))),
        "at ends rms": rms(channel[~straight][1:-1]),
        "at ends worst": float(np.nanmax(np.abs(channel[~straight][1:-1]))),
        "channel mean": float(np.nanmean(channel[straight])),
        "channel sd told": found.channel_sd_mm,
        "outer rms": rms(outer),
        "face rms": rms(faces),
        "face 95 %": float(np.nanpercentile(np.abs(faces), 95.0)),
        "twist °": float(np.degrees(found.twist)) - twist,
        "twist sds": (np.degrees(found.twist) - twist) / np.degrees(found.twist_sd),
        "zone worst": float(np.nanmax(np.abs(lumps))),
        "measured": found.measured_share,
    }


def in_true_axes(grid: FaceGrid, found: FoundUnderside, made: Upturned) -> FloatArray:
    """Return a face's places (r, c, 3) in the axes in which the saddle was played [mm]."""
    x = np.broadcast_to(-grid.behind_mm[:, None], grid.out_y_mm.shape)
    places = np.stack([x, grid.side * grid.out_y_mm, grid.z_mm], axis=-1)
    scan = places @ found.placed.rotation + found.placed.origin
    return (scan - made.shift) @ made.rotation


def edge_errors(points: FloatArray, side: int, model: SaddleModel) -> tuple[FloatArray, FloatArray]:
    """Return how far out of the true inner and outer edges lie those of the rows (r,) each [mm]."""
    inner, outer = outline(model, side)
    out = []
    for at, column, line in ((0, 1, inner), (-1, -2, outer)):
        # Where edges themselves have no height they are taken at their neighbours', which lie in one plane.
        x = np.where(np.isfinite(points[:, at, 0]), points[:, at, 0], points[:, column, 0])
        y = side * np.where(np.isfinite(points[:, at, 1]), points[:, at, 1], np.nan)
        out.append(y - np.interp(-x, line[:, 0], line[:, 1]))
    return out[0], out[1]


def outline(model: SaddleModel, side: int) -> tuple[FloatArray, FloatArray]:
    """Return a panel's inner and outer outline (n, 2: behind, outwards) with its rounded ends [mm].

    The front and rear edges belong to both: from the middle of the width inwards, and outwards.
    """
    patch = side_patch(model.bearing, side)
    t, half = np.linspace(0.0, 1.0, 400), np.linspace(0.5, 0.0, 60)
    lines = []
    for v in (half, 1.0 - half):
        front, rear = patch(np.zeros(60), v), patch(np.ones(60), v[::-1])
        line = np.concatenate([front[:-1], patch(t, np.full(400, v[-1])), rear[1:]])
        lines.append(np.stack([-line[:, 0], line[:, 1]], axis=1))
    return lines[0], lines[1]


def face_errors(points: FloatArray, side: int, model: SaddleModel) -> FloatArray:
    """Return heights (n,) of a face's inner places over the true face [mm], towards the horse positive."""
    patch = side_patch(model.bearing, side)
    t, v = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1, 240), np.linspace(0, 1, 60)))
    true = patch(t, v)
    height = LinearNDInterpolator(true[:, :2], true[:, 2])
    inner = points[_RIM, 1:-1].reshape(-1, 3)
    inner = inner[np.isfinite(inner).all(axis=1)]
    return np.asarray(height(inner[:, 0], side * inner[:, 1]) - inner[:, 2])


def exact_like(grid: FaceGrid, model: SaddleModel) -> FaceGrid:
    """Return the true face at the rows and columns of one that was found."""
    patch = side_patch(model.bearing, grid.side)
    rows, columns = grid.z_mm.shape
    t, v = np.meshgrid(np.linspace(0.004, 0.996, rows), np.linspace(0.0, 1.0, columns), indexing="ij")
    points = patch(t.ravel(), v.ravel()).reshape(rows, columns, 3)
    return FaceGrid(
        side=grid.side,
        behind_mm=-points[:, columns // 2, 0],
        out_y_mm=points[..., 1],
        z_mm=points[..., 2],
        sd_mm=np.full((rows, columns), 0.1),
    )


def rms(values: FloatArray) -> float:
    """Return the root mean square of what is known of values (n,) [mm]."""
    return float(np.sqrt(np.nanmean(np.square(values))))


def summary(rows: list[dict[str, float]], refused: int) -> None:
    """Print median, 95 % and worst of everything, signs apart."""
    print(f"\n{len(rows)} cases, {refused} refused")
    for name in rows[0] if rows else ():
        values = np.abs([row[name] for row in rows])
        print(
            f"  {name:14s} median {np.median(values):7.2f}  95 % {np.percentile(values, 95):7.2f}"
            f"  worst {values.max():7.2f}  least {values.min():7.2f}"
        )


if __name__ == "__main__":
    sys.exit(main())
