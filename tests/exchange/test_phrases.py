"""The shared words: complete, plain, and with numbers as people write them."""

import re
from dataclasses import replace
from math import inf

import pytest

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.criteria import FindingName, Note
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.findings import Confidence, Doubt, DoubtKind, Finding, Judged
from saddlebench.engine.fit.hand_slide import Feel, HandSlide, Stretch
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import (
    MeasureKey,
    MeasureName,
    Part,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.verdicts import (
    Levels,
    Limit,
    PressureGuide,
    Verdict,
    at_least,
    at_most,
    either_way,
)
from saddlebench.engine.units import QUANTITIES
from saddlebench.exchange import phrases

MM, DEGREE, KPA = QUANTITIES["length"], QUANTITIES["angle"], QUANTITIES["pressure"]
TOP = MeasureKey(name=MeasureName.WITHERS_TOP, state=State.RIDER_UP)
NOT_FOR_PEOPLE = re.compile(r"\b(poses?|draws?|residuals?|settl\w+|converg\w+)\b", re.IGNORECASE)


def finding(**changes) -> Finding:
    judged = Judged(
        limit=Limit(measure=TOP, levels=at_least(30, 20)),
        measure=Measure(24.4, MM),
        verdict=Verdict.BORDERLINE,
    )
    made = Finding(
        name=FindingName.WITHERS_TOP,
        side=Side.BOTH,
        verdict=Verdict.BORDERLINE,
        as_computed=Verdict.BORDERLINE,
        decided_by=judged,
        all_judged=(judged,),
        note=Note.SITS_LOW,
        confidence=Confidence(
            tried=256,
            shares={Verdict.BORDERLINE: 0.874, Verdict.FINE: 0.126},
            interval=(19.6, 31.2),
            driver=Undetermined("no single reading stands out"),
        ),
        doubt=None,
    )
    return replace(made, **changes)


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (24.4, MM, "24 mm"),
        (-0.3, MM, "0 mm"),
        (-12.6, MM, "−13 mm"),
        (4.6, DEGREE, "5°"),
        (9.96, KPA, "10.0 kPa"),
        (51.2, QUANTITIES["share"], "51%"),
    ],
)
def test_amounts_are_rounded_and_keep_their_unit(value, unit, words):
    assert phrases.amount(value, unit).replace("\u00a0", " ") == words


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        (at_least(30, 20), "fine from 30 mm, not right below 20 mm"),
        (at_most(15, 25), "fine up to 15 mm, not right above 25 mm"),
        (either_way(10, 20), "fine within ±10 mm, not right beyond ±20 mm"),
        (Levels(fine=(65, 100), borderline=(55, inf)), "fine 65 mm to 100 mm, not right below 55 mm"),
        (
            Levels(fine=(45, 55), borderline=(40, 60)),
            "fine 45 mm to 55 mm, not right below 40 mm or above 60 mm",
        ),
        (Levels(fine=(40, 75), borderline=(-inf, inf)), "fine 40 mm to 75 mm"),
    ],
)
def test_limits_say_what_is_fine_and_what_is_not_right(levels, words):
    assert phrases.limits_of(Limit(measure=TOP, levels=levels)).replace("\u00a0", " ") == words


def test_a_pressure_is_never_said_to_be_not_right():
    key = PressureKey(name=PressureName.MEAN, state=State.RIDER_UP, part=Part.REAR)
    words = phrases.limits_of(PressureGuide(measure=key, usual_below_kpa=10.0, source="a study"))
    assert words.replace("\u00a0", " ") == "usual up to 10.0 kPa"


def test_absent_numbers_say_so():
    assert phrases.number_of(NotMeasured("station 4 is missing")) == "not measured"
    assert phrases.number_of(Undetermined("it rolls off")) == "no number"


def test_a_place_names_part_side_and_state():
    key = MeasureKey(name=MeasureName.FACE_ANGLE, state=State.RIDER_UP, side=Side.NEAR, part=Part.REAR)
    assert phrases.place_of(key) == "panel face angle against the back, rear third, near (left), rider up"


def test_a_finding_as_a_sentence_with_its_range_and_how_sure_it_is():
    told = finding()
    assert phrases.sentence_of(told).replace("\u00a0", " ") == (
        "Room above the withers, rider up: borderline, 24 mm; fine from 30 mm, not right below 20 mm."
    )
    assert phrases.interval_of(told).replace("\u00a0", " ") == "20 to 31 mm"
    assert phrases.agreement_of(told) == "87 of 100 tries agree"
    assert "87 of 100 tries" in phrases.confidence_of(told)
    assert phrases.remark_of(told) == "Sits low in front: too wide?"
    assert phrases.interval_of(replace(told, confidence=Undetermined("not asked for"))) == ""
    assert phrases.agreement_of(replace(told, confidence=Undetermined("not asked for"))) == ""


def test_a_doubt_says_what_to_measure_again():
    doubt = Doubt(
        kind=DoubtKind.NOT_MEASURED_WELL_ENOUGH, reason="it is known to ±9 mm only", stations=(3, 8)
    )
    told = finding(verdict=Verdict.CANNOT_TELL, doubt=doubt, note=None)
    assert phrases.remark_of(told) == (
        "Not measured well enough: it is known to ±9 mm only. Measure stations 3, 8 again."
    )
    assert phrases.short_remark_of(told) == "station 3, 8 again"
    near = Doubt(kind=DoubtKind.NEAR_THE_LIMIT, reason="it lies too near the limit", stations=(3,))
    assert "again" not in phrases.doubt_of(near)


def test_a_hand_slide_names_only_what_is_not_even():
    slack = HandSlide(
        side=Side.NEAR,
        stretches=(
            Stretch(feel=Feel.TIGHT, from_mm=-40.0, to_mm=7.0),
            Stretch(feel=Feel.EVEN, from_mm=7.0, to_mm=120.0),
            Stretch(feel=Feel.SLACK, from_mm=120.0, to_mm=200.0),
        ),
    )
    words = phrases.hand_slide_of(slack).replace("\u00a0", " ")
    assert words == (
        "near (left) tight from 40 mm in front of the point to 7 mm behind it, "
        "slack 120–200 mm behind the point, else even"
    )
    even = HandSlide(side=Side.OFF, stretches=(Stretch(feel=Feel.EVEN, from_mm=0.0, to_mm=400.0),))
    assert phrases.hand_slide_of(even) == "off (right) even throughout"


def test_findings_are_sorted_worst_first_and_stay_in_order_within_a_verdict():
    verdicts = [Verdict.FINE, Verdict.CANNOT_TELL, Verdict.NOT_RIGHT, Verdict.BORDERLINE, Verdict.NOT_RIGHT]
    names = list(FindingName)[:5]
    made = [finding(name=name, verdict=verdict) for name, verdict in zip(names, verdicts, strict=True)]
    ordered = phrases.sorted_worst_first(made)
    assert [one.name for one in ordered] == [names[2], names[4], names[3], names[1], names[0]]


def test_every_finding_has_a_plain_name_and_every_verdict_a_symbol_of_its_own():
    assert set(phrases.PLAIN_NAMES) == set(FindingName)
    assert len(set(phrases.PLAIN_NAMES.values())) == len(FindingName)
    assert set(phrases.SHORT_DOUBTS) == set(DoubtKind)
    assert len(set(phrases.SYMBOLS.values())) == len(phrases.SYMBOLS) == len(Verdict)


def test_no_word_of_the_trade_inside_the_engine_reaches_people():
    said = [*phrases.PLAIN_NAMES.values(), phrases.SCREENING_NOTE, phrases.MODEL_NOTE]
    said += [phrases.limits_of(limit) for row in DEFAULT_CRITERIA.rows for limit in row.limits]
    said += [phrases.place_of(limit.measure) for row in DEFAULT_CRITERIA.rows for limit in row.limits]
    assert [words for words in said if NOT_FOR_PEOPLE.search(words)] == []
