"""Alteration plans: how long, how many a second, and whether a general optimiser in minutes finds better."""

import os
import time
from contextlib import suppress

import numpy as np
from scipy.optimize import differential_evolution, minimize

from benchmarks._pairs import fit_for, timed
from saddlebench.demo.saddles import EVERYDAY_NUMNAH, FLOCK_GONE_IN_FRONT, NARROW_FOR_A_COB
from saddlebench.demo.shapes import LEFT_SHOULDER, WIDE_COB
from saddlebench.engine.alter import Policy, plan_alteration, quick_plan, try_alteration
from saddlebench.engine.alter.objective import Aimed, aimed_at, lies, priced
from saddlebench.engine.alter.search import Found, search
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import model_from_numbers

CASES = (
    ("badly flocked, unequal shoulders", LEFT_SHOULDER, FLOCK_GONE_IN_FRONT),
    ("narrow, on a wide cob", WIDE_COB, NARROW_FOR_A_COB),
)
SECONDS = float(os.environ.get("SADDLEBENCH_BENCH_SECONDS", "60"))
"""For each general optimiser and case; minutes are given by the environment."""


def main() -> None:
    speed()
    optimum()


def speed() -> None:
    """Time plans on the saddle's 2,000 points, trying by hand, and quick plans on 250."""
    print("Plans, one core: wall ms")
    print(f"  {'case':<36s} {'plan':>7s} {'try by hand':>12s} {'quick plan':>11s} {'quick a second':>15s}")
    for name, shape, numbers in CASES:
        allowed = usual_alterations(numbers, "bent steel")
        fit = fit_for(shape, model_from_numbers(numbers, 2000), (EVERYDAY_NUMNAH,))
        small = fit_for(shape, model_from_numbers(numbers, 250), (EVERYDAY_NUMNAH,))
        plan = plan_alteration(fit, allowed)
        if isinstance(plan, Undetermined):
            print(f"  {name}: {plan.reason}")
            continue
        whole = timed(lambda fit=fit, allowed=allowed: plan_alteration(fit, allowed), 5).median
        tried = timed(lambda fit=fit, plan=plan: try_alteration(fit, plan.alteration), 9).median
        quick = timed(lambda small=small, allowed=allowed: quick_plan(small, allowed), 25).median
        print(f"  {name:<36s} {whole:>7.0f} {tried:>12.0f} {quick:>11.1f} {1000.0 / quick:>15.0f}")
    print("  A plan: before and after settled and judged, without confidence.\n")


def optimum() -> None:
    """Give general optimisers of scipy the same objective and much more time."""
    print(f"The objective (misfit and price), 250 points, {SECONDS:.0f} s for each general optimiser")
    names = ("as it is", "ours", "s", "evolution", "Powell", "best/ours")
    widths = (9, 9, 6, 10, 9, 10)
    head = " ".join(name.rjust(width) for name, width in zip(names, widths, strict=True))
    print(f"  {'case':<36s} {head}")
    for name, shape, numbers in CASES:
        fit = fit_for(shape, model_from_numbers(numbers, 250), (EVERYDAY_NUMNAH,))
        aimed = aimed_at(fit, usual_alterations(numbers, "bent steel"), Policy())
        if not isinstance(aimed, Aimed):
            continue
        begun = time.perf_counter()
        found = search(aimed, _quiet)
        took = time.perf_counter() - begun
        if not isinstance(found, Found):
            continue
        ours = priced(aimed, found.free)
        evolved, climbed = _evolved(aimed, found), _climbed(aimed, found)
        best = min(evolved, climbed) / ours
        print(
            f"  {name:<36s} {priced(aimed, found.start):>9.5f} {ours:>9.5f} {took:>6.2f} {evolved:>10.5f} "
            f"{climbed:>9.5f} {best:>10.4f}"
        )
    print("  Below 0.98 in the last column a general optimiser would have found more than 2 % better.\n")


def _quiet(doing: str) -> None:
    del doing


class _Objective:
    def __init__(self, aimed: Aimed, found: Found) -> None:
        self.aimed, self.near, self.best = aimed, found.start, np.inf
        self.low = np.array([one.least for one in aimed.variables])
        self.high = np.array([one.most for one in aimed.variables])
        self.until = time.perf_counter() + SECONDS

    def __call__(self, x: np.ndarray) -> float:
        if time.perf_counter() > self.until:
            raise TimeoutError
        here = lies(self.aimed, np.clip(x, self.low, self.high), self.near)
        value = 10.0 if isinstance(here, Undetermined) else priced(self.aimed, here)
        self.best = min(self.best, value)
        return value


def _evolved(aimed: Aimed, found: Found) -> float:
    of = _Objective(aimed, found)
    bounds = list(zip(of.low, of.high, strict=True))
    with suppress(TimeoutError):
        differential_evolution(of, bounds, rng=1, popsize=4, maxiter=10_000, tol=1e-6, polish=False)
    return float(of.best)


def _climbed(aimed: Aimed, found: Found) -> float:
    """Start Powell's method from ours, then from nothing, then from places at random."""
    of = _Objective(aimed, found)
    rng = np.random.default_rng(2)
    bounds = list(zip(of.low, of.high, strict=True))
    start = found.free.x
    try:
        while True:
            minimize(of, start, method="Powell", bounds=bounds, options={"xtol": 1e-3, "ftol": 1e-6})
            start = rng.uniform(of.low, of.high)
    except TimeoutError:
        return float(of.best)
