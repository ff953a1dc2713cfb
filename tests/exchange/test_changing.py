"""One thing changed on a fit check: what is computed, which way it goes, and what is refused."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from exchange.studies import back_record
from saddlebench.demo.saddles import ALL_ROUND, EVERYDAY_NUMNAH, TOO_NARROW, TREELESS, wider
from saddlebench.engine.errors import InputProblemsError, Undetermined
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.loads import RISING, Rider
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.saddle.alterable import ArchRange, NotAlterable, PadChoice, usual_alterations
from saddlebench.engine.saddle.materials import FELT_PAD
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.pads import pad_layer
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.changing import (
    RANGES_MM,
    Change,
    Changed,
    changed_study,
    own_range,
    refuse_beyond,
    thicker,
    widened,
)
from saddlebench.exchange.job import StudyRequest, study_of

REQUEST = StudyRequest(rider=Rider(mass_kg=70.0), draws=0)


def _record(numbers: SaddleNumbers = TOO_NARROW) -> SaddleRecord:
    return SaddleRecord(
        label=numbers.label, numbers=numbers, alterable=usual_alterations(numbers), pads=(EVERYDAY_NUMNAH,)
    )


@cache
def _back() -> MeasuredBack:
    return measured(back_record())


@cache
def _as_it_is() -> FitStudy:
    study = study_of(_back(), _record(), REQUEST)
    assert isinstance(study, FitStudy)
    return study


def _changed(what: Changed, by_mm: float) -> FitStudy:
    study = changed_study(_back(), _record(), replace(REQUEST, draws=64), Change(what=what, by_mm=by_mm))
    assert isinstance(study, FitStudy)
    assert study.draws == 0
    return study


def _number(study: FitStudy, name: FindingName) -> float:
    measure = next(one for one in study.findings if one.name is name).decided_by.measure
    assert isinstance(measure, Measure)
    return measure.shown


def test_nothing_changed_is_the_check_itself() -> None:
    for what in Changed:
        study = _changed(what, 0.0)
        assert [one.decided_by.measure for one in study.findings] == [
            one.decided_by.measure for one in _as_it_is().findings
        ]


def test_a_wider_arch_comes_down_on_the_withers_and_a_thicker_pad_lifts_it() -> None:
    name = FindingName.WITHERS_TOP
    assert _number(_changed(Changed.WIDTH, 15.0), name) < _number(_as_it_is(), name) - 3.0
    assert _number(_changed(Changed.PAD, 8.0), name) > _number(_as_it_is(), name) + 3.0


def test_a_saddle_put_further_back_lies_further_from_the_shoulder() -> None:
    before = _number(_as_it_is(), FindingName.BEHIND_SHOULDER)
    assert _number(_changed(Changed.PLACE, 20.0), FindingName.BEHIND_SHOULDER) == pytest.approx(
        before + 20.0, abs=0.5
    )  # rounding of what is shown


def test_the_pad_next_to_the_horse_changes_and_its_stiffness_follows_its_thickness() -> None:
    felt = pad_layer(FELT_PAD, (10.0, 10.0, 10.0, 0.0))
    above, last = thicker((EVERYDAY_NUMNAH, felt), 5.0)
    assert above == EVERYDAY_NUMNAH
    assert last.thickness_mm == (15.0, 15.0, 15.0, 0.0)
    as_made = pad_layer(FELT_PAD, (15.0, 15.0, 15.0, 0.0))
    assert last.material.stiffness_kpa_mm == pytest.approx(as_made.material.stiffness_kpa_mm, rel=1e-12)
    assert thicker((EVERYDAY_NUMNAH, felt), -10.0) == (EVERYDAY_NUMNAH,)
    assert thicker((), 6.0) == (pad_layer(FELT_PAD, (6.0, 6.0, 6.0, 6.0)),)
    assert thicker((), -6.0) == ()


def test_the_arch_alone_is_widened() -> None:
    assert widened(_record(ALL_ROUND), 12.0) == replace(
        _record(ALL_ROUND), numbers=wider(ALL_ROUND, 12.0, ALL_ROUND.label)
    )


def test_what_cannot_be_computed_says_why() -> None:
    for numbers in (TREELESS,):
        found = changed_study(_back(), _record(numbers), REQUEST, Change(what=Changed.WIDTH, by_mm=5.0))
        assert isinstance(found, Undetermined)
        assert "arch" in found.reason
    sectioned = replace(_record(), underside=())
    assert isinstance(widened(sectioned, 5.0), Undetermined)


@pytest.mark.parametrize("what", list(Changed))
def test_a_change_beyond_its_range_is_refused(what: Changed) -> None:
    low, high = RANGES_MM[what]
    for by_mm in (low - 0.1, high + 0.1, float("nan")):
        with pytest.raises(InputProblemsError, match="outside"):
            changed_study(_back(), _record(), REQUEST, Change(what=what, by_mm=by_mm))


def _said(record: SaddleRecord, what: Changed, by_mm: float) -> str:
    with pytest.raises(InputProblemsError) as refused:
        refuse_beyond(record, record.pads, Change(what=what, by_mm=by_mm))
    return str(refused.value)


def test_the_record_says_whether_and_how_far_the_arch_may_be_set() -> None:
    assert "ask its builder" in _said(_record(), Changed.WIDTH, 5.0)
    arch = ArchRange(narrower_mm=8.0, wider_mm=10.0, how="bent steel, cold")
    bendable = replace(_record(), alterable=replace(_record().alterable, arch=arch))
    own = own_range(bendable, bendable.pads, Changed.WIDTH)
    assert not isinstance(own, NotAlterable)
    assert (own.low_mm, own.high_mm) == (-8.0, 10.0)
    assert "bent steel" in own.words
    for by_mm in (-8.0, 0.0, 10.0):
        refuse_beyond(bendable, bendable.pads, Change(what=Changed.WIDTH, by_mm=by_mm))
    for by_mm in (-8.1, 10.1):
        assert "8 mm less to 10 mm more" in _said(bendable, Changed.WIDTH, by_mm)


def test_a_pad_is_no_thicker_than_the_record_allows_and_no_thinner_than_none() -> None:
    record = _record()
    thickest = replace(record, alterable=replace(record.alterable, pad=PadChoice(thickest_mm=10.0)))
    own = own_range(thickest, thickest.pads, Changed.PAD)
    assert not isinstance(own, NotAlterable)
    # The everyday pad is 6 mm.
    assert (own.low_mm, own.high_mm) == (-6.0, 4.0)
    assert "at most 10 mm" in _said(thickest, Changed.PAD, 5.0)
    fixed = replace(record, alterable=replace(record.alterable, pad=NotAlterable(reason="sewn in")))
    assert "sewn in" in _said(fixed, Changed.PAD, 1.0)
    refuse_beyond(fixed, fixed.pads, Change(what=Changed.PLACE, by_mm=40.0))


def test_further_cases_are_shown_and_change_nothing_that_is_judged() -> None:
    study = study_of(_back(), _record(), replace(REQUEST, more_cases=(RISING,)))
    assert isinstance(study, FitStudy)
    assert not isinstance(study.settlement.at(RISING.name), Undetermined)
    assert isinstance(_as_it_is().settlement.at(RISING.name), Undetermined)
    for one, other in zip(study.findings, _as_it_is().findings, strict=True):
        assert (one.name, one.as_computed) == (other.name, other.as_computed)
        if isinstance(one.decided_by.measure, Measure) and isinstance(other.decided_by.measure, Measure):
            assert np.isclose(one.decided_by.measure.shown, other.decided_by.measure.shown)
