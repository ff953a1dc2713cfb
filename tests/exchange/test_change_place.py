"""Where a patch's middle may be: the region that sentences bound and the map draws."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.change.results import Patch
from saddlebench.exchange.change_place import CELL_MM, outside_place_mm, place_bounds_mm
from saddlebench.exchange.change_words import patch_words

TWO_DIMENSIONS = round(float(stats.chi2.ppf(0.95, 2)) ** 0.5, 3)
PATCH = Patch(
    s_mm=200.0,
    phi=0.4,
    from_midline_mm=90.0,
    diameter_mm=100.0,
    depth=Estimate(value=5.0, low=3.0, high=7.0, sd=1.0, unit="mm"),
    strength=6.0,
    place_sd_mm=20.0,
    middles_mm=((200.0, 90.0), (230.0, 90.0), (200.0, -60.0)),
    sure=0.95,
)


def outside(s_mm: float, from_midline_mm: float, patch: Patch = PATCH) -> float:
    return float(outside_place_mm(patch, np.array(s_mm), np.array(from_midline_mm)))


@pytest.mark.parametrize("place", PATCH.middles_mm)
def test_every_stated_middle_lies_within_with_all_that_is_nearest_to_it(place: tuple[float, float]) -> None:
    s, over = place
    # Half the 30 mm from one tried middle to the next, to the corner.
    corners = [outside(s + a, over + b) for a in (-14.8, 14.8) for b in (-14.8, 14.8)]
    assert max(corners) < 0.0


def test_two_parts_stay_two_and_what_lies_between_is_outside() -> None:
    assert outside(200.0, 10.0) == pytest.approx(min(70.0 - CELL_MM, 80.0 - 20.0 * TWO_DIMENSIONS))
    assert outside(200.0, 10.0) > 0.0
    assert outside(200.0, 90.0) == pytest.approx(-20.0 * TWO_DIMENSIONS)


def test_the_bounds_hold_all_of_the_region_and_no_more() -> None:
    (s_low, s_high), (low, high) = place_bounds_mm(PATCH)
    s, over = np.meshgrid(np.arange(0.0, 400.0), np.arange(-200.0, 300.0), indexing="ij")
    within = outside_place_mm(PATCH, s, over) <= 0.0
    assert (s[within].min(), s[within].max()) == pytest.approx((s_low, s_high), abs=1.0)
    assert (over[within].min(), over[within].max()) == pytest.approx((low, high), abs=1.0)


def test_the_sentence_states_the_bounds_outwards_to_ten_mm() -> None:
    told = patch_words(PATCH).replace("\u00a0", " ")
    assert "its middle, in 95 of 100 cases: 150 to 260 mm behind the shoulder mark" in told
    assert "up to 140 mm down the near (left) and 90 mm down the off (right) side" in told


def test_one_middle_alone_is_not_known_better_than_its_own_deviation() -> None:
    alone = replace(PATCH, middles_mm=((200.0, 90.0),), place_sd_mm=30.0)
    reach = 30.0 * TWO_DIMENSIONS
    assert place_bounds_mm(alone)[0] == pytest.approx((200.0 - reach, 200.0 + reach))
    assert place_bounds_mm(alone)[1] == pytest.approx((90.0 - reach, 90.0 + reach))
