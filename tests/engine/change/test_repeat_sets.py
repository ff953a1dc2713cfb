"""Repeat sets of invented backs: laid over each other, held against the instrument's statement."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo import shapes
from saddlebench.demo.fieldwork import REACH
from saddlebench.engine.back.backwards import readings_of, sections_of_radius
from saddlebench.engine.back.quantities import WITHERS_WIDTH, Quantity
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.change.repeat.exercise import Hand, Pattern, check_me
from saddlebench.engine.change.repeat.own import (
    ENOUGH_DEGREES,
    InUse,
    Ratio,
    own_errors,
)
from saddlebench.engine.change.repeat.scaled import with_errors_times
from saddlebench.engine.change.repeat.sets import SURFACE, MeasuredRepeat, Repeat, laid_over, repeats_of
from saddlebench.engine.change.repeat.stated import stated_repeats, without_standing_errors
from saddlebench.engine.change.repeat.study import against_tolerances, study_repeats
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.instruments import example_instrument
from support.scattered import measured_again

SHAPE = shapes.PLAIN
STATIONS = (-140.0, -20.0, 110.0, 280.0, 450.0, 600.0)
PHI = np.linspace(-REACH, REACH, 321)


@pytest.fixture(scope="module")
def record():
    instrument = example_instrument("comb-24x15-foot")
    exact = readings_of(sections_of_radius(SHAPE.radius, SHAPE.axis_z_mm, PHI), instrument, STATIONS)
    return BackRecord(
        label="an invented back",
        measured_on=dt.date(2026, 5, 14),
        instrument=instrument,
        readings=exact,
        landmarks=SHAPE.landmarks,
    )


def _repeats(record, factor, count, seed):
    """Return backs measured again and again by a hand whose fresh errors are `factor` times the stated."""
    own = without_standing_errors(with_errors_times(record.instrument, factor))
    points, rng = measure_points(replace(record, instrument=own)), np.random.default_rng(seed)
    believed = measure_points(record)
    return [
        estimate_back(
            replace(believed, points_back=measured_again(points, rng).points_back), record.landmarks
        )
        for _ in range(count)
    ]


@pytest.fixture(scope="module")
def steady(record):
    return _repeats(record, 1.0, 5, 2)


@pytest.fixture(scope="module")
def shaky(record):
    return _repeats(record, 4.0, 5, 3)


def test_a_back_laid_over_itself_lies_nowhere_higher(steady):
    laid = laid_over([steady[0], steady[0]])
    assert np.abs(laid.height_mm * laid.is_common).max() < 1e-9
    assert len(laid.regions) >= 12
    assert all(weight.sum() == pytest.approx(1.0) for weight in laid.regions.values())


def test_a_back_raised_by_3_mm_is_found_3_mm_higher(record):
    points = measure_points(record)
    raised = replace(points, points_back=points.points_back + np.array([0.0, 0.0, 3.0]))
    backs = [estimate_back(one, record.landmarks) for one in (points, raised)]
    middle = [v for q, v in laid_over(backs).means()[1].items() if "inner" in q.where]
    assert 2.0 < min(middle) < max(middle) < 3.2


def test_a_hand_as_steady_as_stated_is_called_so(steady, record):
    found = check_me(steady, record, marks_again=False)
    assert found.overall.low <= 1.0 <= found.overall.high
    assert found.practise == ""
    assert found.n_repeats == 5
    told = [one.hand for one in found.numbers]
    assert sum(hand is Hand.AS_STATED for hand in told) >= 0.8 * len(told)
    named = next(one for one in found.numbers if one.quantity == WITHERS_WIDTH)
    assert named.own.low < named.stated_sd < named.own.high


def test_a_shaky_hand_is_called_so_and_told_what_to_practise(shaky, record):
    found = check_me(shaky, record, marks_again=False)
    assert found.overall.low > 1.0
    assert found.overall.factor == pytest.approx(4.0, rel=0.5)
    assert found.overall.in_use is not InUse.STATED
    assert found.practise.split(":")[0] in set(Pattern)
    assert sum(one.hand is Hand.LESS_STEADY for one in found.numbers) > len(found.numbers) / 3
    wider = with_errors_times(record.instrument, found.overall.applied)
    assert wider.pin_sd_mm == pytest.approx(record.instrument.pin_sd_mm * found.overall.applied)
    assert wider.zero_sd_mm == record.instrument.zero_sd_mm
    assert wider.scale == record.instrument.scale


def test_an_error_of_one_kind_is_named(record):
    """Stations 8 mm further back at every other repeat: the place along the back disagrees."""
    points = measure_points(record)
    backs = [
        estimate_back(replace(points, points_back=points.points_back - [mm, 0.0, 0.0]), record.landmarks)
        for mm in (0.0, 14.0, -14.0, 14.0)
    ]
    assert check_me(backs, record, marks_again=False).patterns[0].pattern is Pattern.ALONG


def test_two_repeats_are_too_few_to_check_a_hand(steady, record):
    assert isinstance(check_me(steady[:2], record), Undetermined)


def test_marks_felt_again_widen_what_is_allowed(steady, record):
    with_marks = stated_repeats(steady[0], record, marks_again=True)
    without = stated_repeats(steady[0], record, marks_again=False)
    length = Quantity(where="topline", what="length, shoulder mark to last-rib mark", unit="mm")
    assert with_marks.deviations[length] > 15.0
    assert without.deviations[length] == 0.0


def _ratio(observed, degrees):
    return Ratio(observed=observed, stated=4.0, fixed=0.5, degrees=degrees, n_repeats=4)


def test_own_figures_replace_the_stated_ones_once_there_are_enough():
    few = own_errors([_ratio(5.0, 3.0)])
    assert few.in_use is InUse.STATED
    assert few.applied == 1.0
    enough = own_errors([_ratio(5.0, 3.0)] * 3)
    assert enough.degrees == 9.0 > ENOUGH_DEGREES
    assert enough.in_use is InUse.OWN
    assert enough.applied == pytest.approx(np.sqrt((5.0 - 0.5) / (4.0 - 0.5)))


def test_few_repeats_that_are_surely_worse_widen_but_do_not_replace():
    found = own_errors([_ratio(200.0, 3.0)])
    assert found.in_use is InUse.BOTH
    assert found.applied**2 == pytest.approx((8.0 + 3.0 * found.factor**2) / 11.0)
    assert 1.0 < found.applied < found.factor


def test_repeats_of_one_visit_never_more_than_halve_the_stated_errors():
    found = own_errors([_ratio(0.5, 5.0)] * 4)
    assert found.factor == 0.0
    assert found.applied == 0.5
    assert "halved" in found.why


@pytest.mark.parametrize("name", ["chain-12x30", "comb-41x10", "curve-mm", "comb-24x15-foot"])
def test_every_family_can_be_scaled_and_stripped_of_what_stands(name):
    instrument = example_instrument(name)
    assert with_errors_times(instrument, 1.0) == instrument
    assert with_errors_times(instrument, 2.0).placing.along_mm == 2.0 * instrument.placing.along_mm
    assert with_errors_times(without_standing_errors(instrument), 0.0).placing.contact_mm == 0.0


def test_a_study_of_records_has_numbers_and_regions(steady, shaky):
    records = [
        MeasuredRepeat(back="an invented back", fitter=fitter, instrument="comb", estimated=back)
        for fitter, backs in (("A", steady[:3]), ("B", shaky[:3]))
        for back in backs
    ]
    study = study_repeats(repeats_of(records))
    assert study.fitters == ("A", "B")
    assert study.n_repeats == 6
    surface = [one for one in study.quantities if one.quantity.what == SURFACE]
    assert len(surface) >= 12
    both = [one for one in study.quantities if one.n_results == 6]
    assert len(both) > 30
    assert all(one.reproducibility.sd >= one.repeatability.sd for one in both)
    assert isinstance(study.quantities[0].gauge, Undetermined)


def test_several_backs_by_two_fitters_give_every_statistic():
    rng, width = np.random.default_rng(5), WITHERS_WIDTH
    repeats = [
        Repeat(
            back=f"back {b}",
            fitter=fitter,
            instrument="comb",
            values={width: 250.0 + 12.0 * b + off + rng.normal(0.0, 1.0)},
        )
        for b in range(6)
        for fitter, off in (("A", 0.0), ("B", 3.0))
        for _ in range(2)
    ]
    study = study_repeats(repeats)
    assert study.quantities[0].tolerance is None
    assert isinstance(study.quantities[0].of_tolerance, Undetermined)
    found = against_tolerances(study, {width: 20.0}.get).quantities[0]
    assert found.repeatability.low < 1.0 < found.repeatability.high
    assert found.agreement[0].limits.bias == pytest.approx(-3.0, abs=1.5)
    assert {one.form.value for one in found.correlation} >= {"ICC(1,1)", "ICC(2,1)", "ICC(3,1)"}
    assert found.gauge.parts > 10.0 > found.gauge.gauge
    assert found.gauge.of_tolerance == pytest.approx(6.0 * found.gauge.gauge / 20.0)
    assert found.of_tolerance == found.gauge.of_tolerance
    # Of one back alone no spread of backs is known, but what reading takes of the tolerance is.
    alone = against_tolerances(study_repeats(repeats[:4]), {width: 20.0}.get).quantities[0]
    assert isinstance(alone.gauge, Undetermined)
    assert alone.of_tolerance == pytest.approx(6.0 * alone.reproducibility.sd / 20.0)
    one_hand = against_tolerances(study_repeats(repeats[:2]), {width: 20.0}.get).quantities[0]
    assert one_hand.of_tolerance == pytest.approx(6.0 * one_hand.repeatability.sd / 20.0)
