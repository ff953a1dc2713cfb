"""Settling: cold, in batches, and against a general minimiser on the same energy in the same run."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from benchmarks._pairs import HERE, all_pairs, fit_for, stock, timed
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import BACK_SHAPES, LEFT_SHOULDER, PLAIN
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.fit import settle as settling
from saddlebench.engine.fit._kernels.barrel import laid_girth
from saddlebench.engine.fit._kernels.energy import evaluate
from saddlebench.engine.fit._kernels.newton import LEVER, moved, relax
from saddlebench.engine.fit._kernels.parts import Girth
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settlement
from saddlebench.engine.fit.steps import ALL_FREE, Reached, Rig, new_work
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.numbers import model_from_numbers

COLD_REPEATS = 40
FROZEN = 0.0  # friction keeps its caps
BATCH_WIDTHS = (-34, 7, 6, 9, 9, 6, 6)
RIVAL_WIDTHS = (-34, 9, 8, 7, 9, 9)


def _row(cells: Sequence[str], widths: Sequence[int]) -> None:
    """Print cells in columns; a negative width is set to the left."""
    print(" ".join(c.rjust(w) if w > 0 else c.ljust(-w) for c, w in zip(cells, widths, strict=True)))


def main() -> None:
    cold()
    batches()
    rivals()


def cold() -> None:
    """One saddle, one back: placed, girthed, rider up, with all that is reported of them."""
    print("Cold settle (placed, girthed, rider up), one core: wall ms; work over the three steps")
    _row(
        ("points", "back", "median", "best", "iterations", "evaluations", "ns/pt", "residual"),
        (7, -16, 7, 7, 11, 12, 6, 9),
    )
    for n in (250, 500, 1000, 2000, 4000):
        saddle = model_from_numbers(ALL_ROUND, n)
        for name in ("plain", "high-withered", "left-shouldered"):
            shape = {"plain": PLAIN, "left-shouldered": LEFT_SHOULDER}.get(name) or BACK_SHAPES[
                "high-withers"
            ]
            fit = fit_for(shape, saddle)
            times = timed(lambda fit=fit: settle_many([fit], threads=1), COLD_REPEATS)
            work = _work(settle_many([fit], threads=1))
            ns = 1e6 * times.best / work.points
            cells = (
                str(n),
                name,
                f"{times.median:.2f}",
                f"{times.best:.2f}",
                str(work.iterations),
                str(work.evaluations),
                f"{ns:.0f}",
                f"{work.residual:.1e}",
            )
            _row(cells, (7, -16, 7, 7, 11, 12, 6, 9))
    print("ns/pt: whole time over the points evaluated, quick first pass included.\n")


@dataclass(frozen=True, slots=True)
class _Work:
    iterations: int
    evaluations: int
    points: int
    residual: float


def _work(settlements: Sequence[Settlement]) -> _Work:
    reports = [step.solver for one in settlements for step in one.steps]
    return _Work(
        iterations=sum(report.iterations for report in reports),
        evaluations=sum(report.evaluations for report in reports),
        points=sum(report.point_evaluations for report in reports),
        residual=max(report.force_residual for report in reports),
    )


def batches() -> None:
    """Time a stock on many backs (cold), and a cloud of draws of one pair (warm), on one and two threads."""
    print("Batches: settlements (three steps each) per second")
    _row(("batch", "points", "count", "1 thread", "2 threads", "sits", "evals"), BATCH_WIDTHS)
    for n in (250, 500, 2000):
        fits = all_pairs(n)
        _print_batch("every saddle on every back, cold", n, fits, None)
    for n in (250, 500, 2000):
        nominal = fit_for(LEFT_SHOULDER, stock(n)[0][0])
        start = settle_many([nominal], threads=1)[0]
        _print_batch("draws of one pair, warm", n, _draws(nominal, 128), start)
    print()


def _draws(fit: FitProblem, count: int) -> list[FitProblem]:
    """Return backs that differ by a smooth error of about a millimetre."""
    rng = np.random.default_rng(11)
    grid = fit.surface.grid
    s, phi = np.meshgrid(grid.s_mm, grid.phi, indexing="ij")
    fits = []
    for _ in range(count):
        a = rng.normal(0.0, 0.8, 4)
        error = a[0] + a[1] * np.sin(s / 140.0) + a[2] * phi + a[3] * np.cos(s / 90.0) * np.cos(2 * phi)
        radius = fit.surface.radius_mm + error
        surface = replace(fit.surface, radius_mm=radius, spline=PolarSpline.through(grid, radius))
        fits.append(replace(fit, surface=surface))
    return fits


def _print_batch(name: str, n: int, fits: list[FitProblem], start: Settlement | None) -> None:
    rates = []
    for threads in (1, 2):
        settle_many(fits[:4], start=start, threads=threads)
        begun = time.perf_counter()
        settled = settle_many(fits, start=start, threads=threads)
        rates.append(len(fits) / (time.perf_counter() - begun))
    sits = np.mean([step.outcome is Outcome.SITS for one in settled for step in one.steps])
    evaluations = _work(settled).evaluations / len(fits)
    cells = (
        name,
        str(n),
        str(len(fits)),
        f"{rates[0]:.0f}",
        f"{rates[1]:.0f}",
        f"{sits:.0%}",
        f"{evaluations:.1f}",
    )
    _row(cells, BATCH_WIDTHS)


@dataclass
class _SameEnergy:
    """The rider's step with friction as it ended, as a function of six numbers from the girthed pose."""

    rig: Rig
    state: Reached
    begin: FloatArray
    girth: Girth
    calls: int = 0

    def at(self, q: FloatArray) -> tuple[float, FloatArray]:
        self.calls += 1
        pose = np.zeros(12)
        moved(self.begin, q[:3].copy(), q[3:] / LEVER, pose)
        gradient, hessian, extra = np.zeros(6), np.zeros((6, 6)), np.zeros((6, 6))
        state = self.state
        state.work.free_until[:] = 0.0
        energy = evaluate(
            state.back,
            self.rig.panels,
            self.rig.laws,
            state.friction,
            self.girth,
            state.loads,
            pose,
            state.work,
            FROZEN,
            gradient,
            hessian,
            extra,
        )
        slope = gradient.copy()
        slope[3:] = _left_jacobian(q[3:] / LEVER).T @ gradient[3:] / LEVER
        return energy, slope

    def residual(self, q: FloatArray) -> float:
        return float(np.linalg.norm(self.at(q)[1])) / self.state.load_n


def _left_jacobian(w: FloatArray) -> FloatArray:
    """Return how exp([w]×) turns on as w grows: I + (1 − cos θ)/θ² [w]× + (θ − sin θ)/θ³ [w]×²."""
    angle = float(np.linalg.norm(w))
    cross = np.array([[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]])
    if angle < 1e-4:
        return np.eye(3) + 0.5 * cross + cross @ cross / 6.0
    a = (1.0 - np.cos(angle)) / angle**2
    b = (angle - np.sin(angle)) / angle**3
    return np.eye(3) + a * cross + b * cross @ cross


def rivals() -> None:
    """Minimise the same energy from the girthed pose to the rider up by other means."""
    print("The rider's step, friction frozen as it ended: the same energy by others (2,000 points)")
    _row(("method", "ms", "ratio", "evals", "residual", "mm off"), RIVAL_WIDTHS)
    fit = fit_for(LEFT_SHOULDER, model_from_numbers(ALL_ROUND, 2000))
    rig, states = settling.states_of(fit)
    girthed, rider = states[1], states[2]
    girth = laid_girth(rig.back, rider.straps, girthed.pose)
    task = _SameEnergy(rig, rider, girthed.pose, girth)
    box = np.concatenate([girthed.pose, [1e9, 10.0], [rig.lever_mm]])

    def ours() -> FloatArray:
        pose = girthed.pose.copy()
        rider.work.free_until[:] = 0.0
        rider.work.numbers[0] = 0.0
        goal = HERE.force_tolerance * rider.load_n
        relax(
            rider.back,
            rig.panels,
            rig.laws,
            rider.friction,
            girth,
            rider.loads,
            pose,
            box,
            ALL_FREE,
            goal,
            0.0,
            rider.work,
        )
        return pose

    base = timed(ours, 20).median
    rider.work.counts[:] = new_work(1, np.zeros(4, dtype=np.int64)).counts
    end = ours()
    residual = rider.work.numbers[2] / rider.load_n
    own = (
        "Newton with the exact Hessian",
        f"{base:.2f}",
        "1",
        str(rider.work.counts[1]),
        f"{residual:.1e}",
        "",
    )
    _row(own, RIVAL_WIDTHS)
    for name, method, uses_gradient, options in (
        ("BFGS with our gradient", "BFGS", True, {"gtol": 1e-3}),
        ("L-BFGS-B with our gradient", "L-BFGS-B", True, {"ftol": 1e-15, "gtol": 1e-3}),
        ("Powell without derivatives", "Powell", False, {"xtol": 1e-7, "ftol": 1e-13, "maxfev": 6000}),
        (
            "Nelder–Mead without derivatives",
            "Nelder-Mead",
            False,
            {"xatol": 1e-5, "fatol": 1e-7, "maxfev": 6000},
        ),
    ):
        task.calls = 0
        begun = time.perf_counter()
        if uses_gradient:
            found = minimize(task.at, np.zeros(6), jac=True, method=method, options=options)
        else:
            found = minimize(lambda q: task.at(q)[0], np.zeros(6), method=method, options=options)
        ms = 1e3 * (time.perf_counter() - begun)
        calls = task.calls
        pose = np.zeros(12)
        moved(girthed.pose, found.x[:3].copy(), found.x[3:] / LEVER, pose)
        off = float(np.linalg.norm(pose[9:] - end[9:]))
        cells = (
            name,
            f"{ms:.1f}",
            f"{ms / base:.0f}",
            str(calls),
            f"{task.residual(found.x):.1e}",
            f"{off:.1e}",
        )
        _row(cells, RIVAL_WIDTHS)
