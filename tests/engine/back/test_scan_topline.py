"""The smooth topline: where a known curve bends and is lowest, whatever noise and holes do to it."""

import numpy as np
import pytest

from saddlebench.engine.back.scan_topline import HOLE_MM, lowest_on, smooth_topline, withers_on

ENDS = (-820.0, 260.0)
SUMMIT, LOWEST = -20.0, -260.0


def height(x):
    """Return a topline with a summit of the withers (sd 90 mm, 60 mm high) over a shallow dip at −260 mm."""
    return 60.0 * np.exp(-0.5 * ((x - SUMMIT) / 90.0) ** 2) + 1.2e-4 * (x - LOWEST) ** 2


def strip(seed, *, noise=3.0, apart=6.0, hole=None):
    rng = np.random.default_rng(seed)
    n = int((ENDS[1] - ENDS[0]) * 140.0 / apart**2)
    x, y = rng.uniform(*ENDS, n), rng.uniform(-70.0, 70.0, n)
    points = np.stack([x, y, height(x) - 1.5e-3 * y**2 + rng.normal(0.0, noise, n)], axis=1)
    belly = np.stack([x, y, np.full(n, -600.0)], axis=1)[: n // 3]
    if hole is not None:
        points = points[np.abs(points[:, 0] - hole[0]) > 0.5 * hole[1]]
    return np.concatenate([points, belly])


@pytest.mark.parametrize("apart", [4.0, 16.0])
def test_the_curve_is_followed_and_the_belly_below_it_is_not(apart):
    found = smooth_topline(strip(1, apart=apart), ENDS)
    x = np.arange(-700.0, 150.0, 10.0)
    assert np.sqrt(np.mean((found.ridge(x) - height(x)) ** 2)) < 2.0


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("apart", [4.0, 16.0])
def test_a_summit_is_found_within_fifteen_millimetres_though_expected_thirty_off(seed, apart):
    found = smooth_topline(strip(seed, apart=apart), ENDS)
    for expected in (-SUMMIT - 30.0, -SUMMIT + 30.0):
        at, sd = withers_on(found, expected, 35.0)
        assert at == pytest.approx(-SUMMIT, abs=15.0)
        assert sd < 30.0


def test_where_nothing_bends_the_expected_place_stands_with_its_own_doubt():
    x = np.random.default_rng(2).uniform(*ENDS, 9000)
    y = np.random.default_rng(3).uniform(-70.0, 70.0, 9000)
    found = smooth_topline(np.stack([x, y, 0.3 * x], axis=1), ENDS)
    at, sd = withers_on(found, 40.0, 35.0)
    assert at == pytest.approx(40.0, abs=0.5)
    assert sd == pytest.approx(35.0, abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_the_lowest_point_comes_back_from_noise_and_from_beside_a_hole(seed):
    true = float(np.arange(-500.0, -150.0)[np.argmin(height(np.arange(-500.0, -150.0)))])
    for hole in (None, (true + 60.0, 60.0)):
        found = smooth_topline(strip(seed, apart=8.0, hole=hole), ENDS)
        assert lowest_on(found, (-150.0, -560.0)) == pytest.approx(true, abs=15.0)


def test_no_lowest_point_where_it_only_falls():
    found = smooth_topline(strip(1), ENDS)
    assert lowest_on(found, (-40.0, -150.0)) is None


def test_a_hole_is_told_where_it_lies_and_nowhere_else():
    found = smooth_topline(strip(5, hole=(-20.0, 1.5 * HOLE_MM)), ENDS)
    assert not found.is_seen(-20.0)
    assert found.gap_at(-20.0) == pytest.approx(1.5 * HOLE_MM, abs=8.0)
    assert found.is_seen(-20.0 - HOLE_MM)
    assert smooth_topline(strip(5, hole=(-20.0, 0.4 * HOLE_MM)), ENDS).is_seen(-20.0)
    assert not found.is_seen(ENDS[1] + 1.0)


def test_hardly_anything_seen_gives_no_curve():
    assert smooth_topline(strip(1)[:50], ENDS) is None
    assert smooth_topline(np.zeros((0, 3)), ENDS) is None
