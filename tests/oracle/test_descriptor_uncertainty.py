"""Uncertainty of what is said of a back, against the closed forms of the guides on uncertainty.

JCGM 100:2008 (GUM), 5.2.2, eq. 13: the variance of a linear function of correlated inputs is `cᵀ U c`.
JCGM 101:2008, 7.6–7.7: mean, standard deviation and coverage interval from draws; for a linear model of
normal inputs they are the normal distribution's own.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.estimates import Estimate, estimate_from_draws, estimate_from_variance
from saddlebench.engine.back.gaussian import condition
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.profiles import Backs
from saddlebench.engine.back.regions import BANDS_MM, Across, difference_weights, side_differences
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.errors import NotMeasured, is_known
from support.measured import points_of

NOTHING = NotMeasured("no value")


@pytest.fixture(scope="module")
def back() -> EstimatedBack:
    points = points_of(PLAIN, lift_sd_mm=2.0, rng=np.random.default_rng(21))
    return estimate_back(points, PLAIN.landmarks)


def test_jcgm_101_7_7_interval_of_a_linear_model() -> None:
    rng = np.random.default_rng(1)
    count = 40_000
    # Y = 3 X₁ − 2 X₂ + 10, correlated normals: u² = 9·4 + 4·1 − 12·0.6·2·1 = 25.6.
    covariance = np.array([[4.0, 1.2], [1.2, 1.0]])
    x = rng.multivariate_normal([1.0, 2.0], covariance, count)
    exact = 9 * 4.0 + 4 * 1.0 - 12 * 1.2
    values = np.concatenate([[9.0], 3 * x[:, 0] - 2 * x[:, 1] + 10])
    got = estimate_from_draws(values, "mm", NOTHING)
    assert is_known(got)
    linear = estimate_from_variance(9.0, exact, "mm")
    # sd of a deviation from n draws: u/√(2n) = 0.018; of a 2.5 % point: u·√(pq/n)/density = 0.068.
    assert got.sd == pytest.approx(np.sqrt(exact), abs=4 * 0.018)
    assert (got.low, got.high) == pytest.approx((linear.low, linear.high), abs=4 * 0.068)
    assert linear.high == pytest.approx(stats.norm(9.0, np.sqrt(exact)).ppf(0.975), abs=1e-5)


def test_gum_eq_13_left_against_right_is_linear(back: EstimatedBack) -> None:
    count = 1500
    drawn = draw_radii(back, count, seed=5)
    marks = PLAIN.landmarks
    assert is_known(marks.last_rib)
    weights = difference_weights(back, (0.0, marks.last_rib.value_mm / 3), BANDS_MM[Across.OUTER])
    assert is_known(weights)
    from_draws = np.einsum("kij,ij->k", drawn, weights)
    exact = next(
        d.left_minus_right for d in side_differences(back, marks) if (d.along, d.across) == ("front", "outer")
    )
    assert isinstance(exact, Estimate)
    # Relative deviation of a deviation from n draws is 1/√(2n) = 1.8 %; four of them.
    assert from_draws.std(ddof=1) == pytest.approx(exact.sd, rel=4 / np.sqrt(2 * count))
    assert from_draws.mean() == pytest.approx(exact.value, abs=4 * exact.sd / np.sqrt(count))


def test_a_shared_lift_cancels_between_sides_and_not_in_height(back: EstimatedBack) -> None:
    lifted = back.posterior
    data = lifted.data
    still = condition(replace(data, error_gain=np.zeros((len(data.radius_mm), 0))), lifted.hyper)
    weights = difference_weights(back, (0.0, 180.0), BANDS_MM[Across.OUTER])
    assert is_known(weights)
    # A lift moves both flanks alike; the points' own noise, which is not symmetric, leaves a per cent or two.
    sides = [float(np.sqrt(field.covariance(weights[None])[0, 0])) for field in (lifted, still)]
    assert sides[0] == pytest.approx(sides[1], rel=0.03)
    # 2 mm of lift a station against 0.7 mm of noise a point: in a height nothing cancels.
    s = np.array([-20.0])
    heights = [float(np.sqrt(field.covariance_at(s, np.zeros(1))[0, 0])) for field in (lifted, still)]
    assert heights[0] > 2.5 * heights[1]
    assert heights[0] == pytest.approx(2.0, rel=0.2)


def test_height_of_a_topline_point_by_draws_and_in_closed_form(back: EstimatedBack) -> None:
    s = np.array([110.0])
    exact = float(np.sqrt(back.posterior.covariance_at(s, np.zeros(1))[0, 0]))
    count = 1500
    backs = Backs.through(back.surface.grid, draw_radii(back, count, seed=6))
    heights = backs.toplines(s)[:, 0]
    assert heights.std(ddof=1) == pytest.approx(exact, rel=4 / np.sqrt(2 * count))


def test_length_carries_both_marks_errors(back: EstimatedBack) -> None:
    settings = DescriptionSettings(draws=400)
    length = describe(back, PLAIN.landmarks, settings).length
    assert isinstance(length, Estimate)
    # Last rib ±20, shoulder the mean of two edges ±10 each: √(20² + 10²/2) (GUM eq. 10).
    exact = np.sqrt(20.0**2 + 10.0**2 / 2)
    assert length.sd == pytest.approx(exact, rel=4 / np.sqrt(2 * 400))
    assert length.value == pytest.approx(540.0)


def test_few_values_are_no_estimate() -> None:
    values = np.array([1.0, 1.1, np.inf, 0.9, np.inf])
    assert estimate_from_draws(values, "mm", NOTHING) is NOTHING
    assert estimate_from_draws(np.array([np.inf, 1.0, 1.0]), "mm", NOTHING) is NOTHING
