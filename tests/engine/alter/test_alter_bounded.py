"""The bounded least squares against libraries, and its branch and bound against trying every combination."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import lsq_linear, minimize

from saddlebench.engine.alter.bounded import Priced, least_in_ranges, least_within


def made_up(seed: int, k: int, price: float) -> tuple[Priced, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    slopes = rng.normal(size=(40, k)) @ np.diag(rng.uniform(0.3, 3.0, k))
    start = rng.normal(size=40) * 4.0
    problem = Priced(square=slopes.T @ slopes, linear=slopes.T @ start, price=np.full(k, price))
    return problem, slopes, start


@pytest.mark.parametrize("seed", range(6))
def test_equals_scipys_bounded_least_squares(seed: int) -> None:
    problem, slopes, start = made_up(seed, 9, 0.0)
    low, high = np.full(9, -0.7), np.full(9, 0.4)
    ours = least_within(problem, low, high)
    theirs = lsq_linear(slopes, -start, (low, high), method="bvls", tol=1e-13).x
    assert ours == pytest.approx(theirs, abs=1e-7)
    assert np.any(ours == low) or np.any(ours == high)


@pytest.mark.parametrize("seed", range(4))
def test_with_a_price_equals_a_general_minimiser_on_split_unknowns(seed: int) -> None:
    problem, _, _ = made_up(seed, 5, 6.0)
    low, high = np.full(5, -0.7), np.full(5, 0.4)
    ours = least_within(problem, low, high)

    def value(split: np.ndarray) -> float:
        x = split[:5] - split[5:]
        return float(
            0.5 * x @ problem.square @ x + problem.linear @ x + problem.price @ (split[:5] + split[5:])
        )

    bounds = [(0.0, 0.4)] * 5 + [(0.0, 0.7)] * 5
    found = minimize(
        value, np.zeros(10), method="SLSQP", bounds=bounds, options={"ftol": 1e-13, "maxiter": 500}
    )
    assert problem.value(ours) == pytest.approx(found.fun, abs=1e-6)
    assert problem.value(ours) <= found.fun + 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_ranges_give_the_least_of_all_combinations(seed: int) -> None:
    problem, _, _ = made_up(seed, 4, 2.0)
    ranges = (
        ((-0.8, -0.3), (0.0, 0.0), (0.3, 0.8)),
        ((-0.8, -0.3), (0.0, 0.0), (0.3, 0.8)),
        ((0.0, 0.0), (0.25, 0.25), (0.5, 0.5)),
        ((-0.6, -0.6), (-0.3, -0.3), (0.0, 0.0), (0.3, 0.3)),
    )
    best = min(
        problem.value(
            least_within(problem, np.array([one[0] for one in chosen]), np.array([one[1] for one in chosen]))
        )
        for chosen in product(*ranges)
    )
    found = least_in_ranges(problem, ranges)
    assert found.value == pytest.approx(best, abs=2e-4 * max(1.0, abs(best)))
    assert found.bound <= found.value
    for value, allowed in zip(found.x, ranges, strict=True):
        assert any(low - 1e-9 <= value <= high + 1e-9 for low, high in allowed)


def test_what_is_allowed_already_is_left_alone() -> None:
    problem, _, _ = made_up(3, 3, 0.0)
    wide = ((-100.0, 100.0),)
    found = least_in_ranges(problem, (wide,) * 3)
    assert found.nodes == 1
    assert problem.square @ found.x == pytest.approx(-problem.linear, abs=1e-5)
