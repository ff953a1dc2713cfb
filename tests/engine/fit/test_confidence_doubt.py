"""From draws to "cannot tell", and to the reading that would help, with draws whose shares are known."""

from dataclasses import replace

import numpy as np
import pytest
from simple_pairs import plain_saddle

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.stations import Station
from saddlebench.engine.errors import Undetermined, is_known
from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.doubt import with_confidence
from saddlebench.engine.fit.findings import DoubtKind, judge, rows_that_apply
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.influence import driver_of, sources_of
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.verdicts import Verdict

TOP = MeasureKey(name=MeasureName.WITHERS_TOP, state=State.RIDER_UP)
GRID = PolarGrid(s0_mm=0.0, ds_mm=20.0, n_s=20, phi0=-1.2, dphi=0.1, n_phi=25, axis_z_mm=-200.0)
STATIONS = tuple(Station(number=k + 1, distance_mm=100.0 * k) for k in range(4))
COUNT = 400
STEPS = (np.arange(COUNT) + 0.5) / COUNT - 0.5
"""Evenly spaced from −½ to ½: a rectangular distribution without sampling noise."""
SADDLE, HORSE = plain_saddle(), Horse()


def table(values, known=None):
    count = np.size(values)
    return MeasureTable(
        count=count,
        columns={TOP: np.asarray(values, float)},
        known={TOP: np.ones(count, dtype=bool) if known is None else known},
        absent={},
        unsettled={},
    )


def sources(shift=None, inputs=None):
    values = np.random.default_rng(5).standard_normal((COUNT, 2)) if inputs is None else inputs
    shift = np.zeros((COUNT, GRID.n_s, GRID.n_phi)) if shift is None else shift
    return sources_of(("friction", "the girth"), values, GRID, shift, STATIONS)


def withers(nominal_mm, drawn_mm, known=None, causes=None):
    original = table([nominal_mm])
    rows = rows_that_apply(original, SADDLE, HORSE, DEFAULT_CRITERIA)
    found = judge(original, SADDLE, HORSE, DEFAULT_CRITERIA)
    confident = with_confidence(found, rows, table(drawn_mm, known), causes or sources())
    return next(one for one in confident if one.name is FindingName.WITHERS_TOP)


def test_shares_and_interval_of_a_rectangular_spread():
    found = withers(40.0, 40.0 + 40.0 * STEPS)  # even between 20 and 60: a quarter lies below the limit of 30
    assert found.confidence.shares[Verdict.FINE] == pytest.approx(0.75, abs=1 / COUNT)
    assert found.confidence.shares[Verdict.BORDERLINE] == pytest.approx(0.25, abs=1 / COUNT)
    assert sum(found.confidence.shares.values()) == pytest.approx(1.0)
    np.testing.assert_allclose(found.confidence.interval, [21.0, 59.0], atol=40.0 / COUNT)


def test_agreement_above_the_level_keeps_the_verdict():
    found = withers(40.0, 40.0 + 24.0 * STEPS)  # 28 to 52: one twelfth below 30
    assert found.verdict is Verdict.FINE
    assert found.doubt is None
    assert found.confidence.agreeing(Verdict.FINE) > AGREEING


def test_small_error_beside_the_limit_is_said_to_be_near_it():
    found = withers(30.2, 30.2 + 2.0 * STEPS)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.as_computed is Verdict.FINE
    assert found.doubt.kind is DoubtKind.NEAR_THE_LIMIT
    assert found.doubt.stations == ()


def test_large_error_names_the_station_to_measure_again():
    shift = np.zeros((COUNT, GRID.n_s, GRID.n_phi))
    beside = (GRID.phi < -0.2) & (GRID.phi > -0.9)
    order = np.random.default_rng(2).permutation(COUNT)
    shift[:, 10, beside] = STEPS[order, None]  # 200 mm behind the mark, off side: station 3
    found = withers(25.0, 25.0 + 30.0 * STEPS[order], causes=sources(shift))
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.doubt.kind is DoubtKind.NOT_MEASURED_WELL_ENOUGH
    assert found.doubt.stations == (3,)
    assert "off side" in found.doubt.reason
    assert found.confidence.driver.share == pytest.approx(1.0)


def test_a_band_narrower_than_the_error_is_not_told_even_when_most_draws_agree():
    # 85 % of the draws in the borderline band of 10 mm, the others far out: a wider interval than the band.
    drawn = np.where(np.arange(COUNT) < 0.85 * COUNT, 25.0, 60.0)
    found = withers(25.0, drawn)
    assert found.confidence.agreeing(Verdict.BORDERLINE) == pytest.approx(0.85)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.doubt.kind is DoubtKind.NOT_MEASURED_WELL_ENOUGH


def test_draws_that_do_not_sit_count_against_it():
    known = np.arange(COUNT) >= 0.3 * COUNT
    found = withers(40.0, np.full(COUNT, 40.0), known)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.doubt.kind is DoubtKind.DOES_NOT_SIT
    assert found.confidence.shares[Verdict.CANNOT_TELL] == pytest.approx(0.3)


def test_a_single_input_is_named_and_noise_is_not():
    inputs = np.random.default_rng(1).standard_normal((COUNT, 2))
    known = driver_of(sources(inputs=inputs), np.exp(inputs[:, 1]))
    assert is_known(known)
    assert known.source == "the girth"
    assert known.share == pytest.approx(1.0)  # ranks do not change under the exponential
    other = np.random.default_rng(9).standard_normal(COUNT)
    assert isinstance(driver_of(sources(inputs=inputs), other), Undetermined)


def test_share_of_two_inputs_is_near_their_share_of_the_variance():
    inputs = np.random.default_rng(3).standard_normal((COUNT, 2))
    found = driver_of(sources(inputs=inputs), 2.0 * inputs[:, 0] + inputs[:, 1])
    # 4/5 of the variance; for normal inputs Spearman's rank correlation is (6/π)·asin(ρ/2), so its square is
    # 0.78. With 400 draws the standard error of the square is about 0.03; 0.09 is three of them.
    assert found.share == pytest.approx(0.78, abs=0.09)


def test_what_could_not_be_told_before_stays_so():
    original = replace(table([40.0]), known={TOP: np.zeros(1, dtype=bool)})
    rows = rows_that_apply(original, SADDLE, HORSE, DEFAULT_CRITERIA)
    found = judge(original, SADDLE, HORSE, DEFAULT_CRITERIA)
    again = with_confidence(found, rows, table(np.full(COUNT, 40.0)), sources())
    for before, after in zip(found, again, strict=True):
        assert after == replace(before, confidence=after.confidence)
        assert isinstance(after.confidence, Undetermined)
