"""Visits that do not belong: one number off, a place off, a little off in everything, and nothing off."""

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.trend.oddness import Part, Scores, chance_of_sum, combined
from saddlebench.engine.change.trend.series import NOT_KNOWN, Correlations, Visit
from saddlebench.engine.change.trend.study import study_trends

FIRST = dt.date(2024, 5, 6)
PLACES, EACH, VISITS = ("withers", "shoulder", "lowest"), 4, 8
NUMBERS = tuple(Quantity(where=where, what=f"number {k}", unit="mm") for where in PLACES for k in range(EACH))
APART = Correlations(quantities=NUMBERS, rows=tuple((0.0,) * k for k in range(len(NUMBERS))))
ODD = 4


def _visits(seed, off=(), correlations=APART, common=0.0):
    """Return visits of a still back; `off` is added to its numbers on one day, in standard deviations."""
    rng = np.random.default_rng(seed)
    visits = []
    for k in range(VISITS):
        errors = np.sqrt(1.0 - common) * rng.standard_normal(len(NUMBERS))
        errors += np.sqrt(common) * rng.standard_normal()
        values = 200.0 + errors
        if k == ODD:
            values[: len(off)] += off
        visits.append(
            Visit(
                day=FIRST + dt.timedelta(days=42 * k),
                label="Bracken (invented)",
                device="comb",
                coat=Coat.SUMMER,
                estimates={
                    quantity: Estimate(value=value, sd=1.0, low=value - 2.0, high=value + 2.0, unit="mm")
                    for quantity, value in zip(NUMBERS, values.tolist(), strict=True)
                },
                fresh_share=dict.fromkeys(NUMBERS, 1.0),
                correlations=correlations,
            )
        )
    return visits


def test_a_number_far_off_is_named_alone():
    study = study_trends(_visits(1, off=[0.0, 9.0]))
    (odd,) = study.odd_visits
    assert (odd.day, odd.whole, odd.places) == (FIRST + dt.timedelta(days=42 * ODD), False, ())
    assert odd.numbers == (NUMBERS[1],)
    assert odd.chance < 0.01
    gone = [one.trend.quantity for one in study.fitted if not one.trend.points[ODD].belongs]
    assert gone == [NUMBERS[1]]


def test_a_little_off_in_every_number_is_odd_as_a_whole_and_left_out_of_all():
    """Three standard deviations each: no number would be told alone, of twelve at eight visits."""
    off = 3.0 * np.tile([1.0, -1.0], len(NUMBERS) // 2)
    study = study_trends(_visits(2, off=off))
    (odd,) = study.odd_visits
    assert odd.whole
    assert (odd.places, odd.numbers) == ((), ())
    assert all(not one.trend.points[ODD].belongs for one in study.fitted)
    assert all(point.belongs for one in study.fitted for k, point in enumerate(one.trend.points) if k != ODD)
    alone = np.array([one.trend.points[ODD].chance for one in study.fitted])
    assert np.all(alone * len(NUMBERS) * VISITS > 0.05)


def test_where_nothing_is_known_of_how_numbers_go_together_the_same_is_held_against_more():
    off = 3.0 * np.tile([1.0, -1.0], len(NUMBERS) // 2)
    assert study_trends(_visits(2, off=off, correlations=NOT_KNOWN)).odd_visits == ()
    far = study_trends(_visits(2, off=3.0 * off, correlations=NOT_KNOWN)).odd_visits
    assert [one.day for one in far] == [FIRST + dt.timedelta(days=42 * ODD)]


def test_a_place_that_is_off_is_named_as_one():
    (odd,) = study_trends(_visits(3, off=[4.5, -4.5, 4.5, -4.5])).odd_visits
    assert not odd.whole
    assert odd.places == ("withers",)


def test_many_numbers_far_off_each_by_itself_are_one_odd_visit_and_no_list():
    far = np.zeros(len(NUMBERS))
    far[[0, 3, 5, 6, 9]] = 12.0
    study = study_trends(_visits(4, off=far))
    (odd,) = study.odd_visits
    assert odd.whole
    assert (odd.places, odd.numbers) == ((), ())
    assert all(not one.trend.points[ODD].belongs for one in study.fitted)


@pytest.mark.parametrize("common", [0.0, 0.7])
def test_visits_that_all_belong_show_an_odd_one_hardly_ever(common):
    """At most 5 of 100 by the level; numbers that go together, said so or not known."""
    rows = tuple((common,) * k for k in range(len(NUMBERS)))
    told = Correlations(quantities=NUMBERS, rows=rows)
    shown = [
        bool(study_trends(_visits(100 + seed, common=common, correlations=held)).odd_visits)
        for seed in range(3)
        for held in (told, NOT_KNOWN)
    ]
    assert sum(shown) <= 1


@pytest.mark.parametrize(("total", "expected"), [(2.0, 0.1240), (0.7, 0.5064)])
def test_a_sum_of_unequal_squares_as_in_imhofs_table(total, expected):
    """0.6, 0.3 and 0.1 times χ² of one degree: Imhof (1961) Biometrika 48:419, table 1 (from memory)."""
    assert chance_of_sum(total, np.array([0.6, 0.3, 0.1])) == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize("chance", [1e-2, 1e-4, 1e-8])
@pytest.mark.parametrize("degrees", [1, 4, 29])
def test_a_sum_of_equal_squares_is_scipys_chi_square(chance, degrees):
    total = float(stats.chi2.isf(chance, degrees))
    assert chance_of_sum(total, np.ones(degrees)) == pytest.approx(chance, rel=0.2)


def test_a_sum_of_correlated_squares_is_what_drawn_ones_show():
    rng = np.random.default_rng(5)
    root = rng.standard_normal((12, 3)) @ rng.standard_normal((3, 12)) + np.eye(12)
    sums = np.sum((rng.standard_normal((100_000, 12)) @ root) ** 2, axis=1)
    total = float(np.quantile(sums, 0.99))
    assert chance_of_sum(total, np.linalg.eigvalsh(root.T @ root)) == pytest.approx(0.01, rel=0.1)


def test_chances_are_combined_as_scipys_cauchy_combines_them():
    chances, weights = np.array([0.002, 0.3, 0.04]), np.array([0.5, 0.25, 0.25])
    parts = [
        Part(quantities=NUMBERS[:1], where="", weight=float(w), chance=float(c))
        for c, w in zip(chances, weights, strict=True)
    ]
    expected = stats.cauchy.sf(np.sum(weights * stats.cauchy.isf(chances)))
    assert combined(parts) == pytest.approx(float(expected), rel=1e-9)


def test_parts_share_out_the_level_among_numbers_places_and_the_whole():
    n = len(NUMBERS)
    scores = Scores(quantities=NUMBERS, chance=np.full(n, 0.5), score=np.full(n, 0.67), own=np.full(n, 0.8))
    parts = scores.parts(APART)
    assert sum(one.weight for one in parts) == pytest.approx(1.0)
    assert [len(one.quantities) for one in parts] == [1] * n + [EACH] * len(PLACES) + [n]


def test_correlations_are_those_of_the_draws_and_follow_the_order_asked():
    rng = np.random.default_rng(6)
    first = rng.standard_normal(4000)
    draws = {
        NUMBERS[0]: first,
        NUMBERS[1]: first + rng.standard_normal(4000),
        NUMBERS[2]: np.ones(4000),
        NUMBERS[3]: rng.standard_normal(4000),
    }
    held = Correlations.of(draws)
    assert held.quantities == (NUMBERS[0], NUMBERS[1], NUMBERS[3])
    among = held.among((NUMBERS[1], NUMBERS[0], NUMBERS[2]))
    assert among[0, 1] == pytest.approx(np.sqrt(0.5), abs=0.05)
    assert among[0, 2] == 1.0
    assert held.of_those((NUMBERS[3], NUMBERS[2], NUMBERS[0])).quantities == (NUMBERS[3], NUMBERS[0])
