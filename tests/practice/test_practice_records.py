"""Versions stay as they were recorded; a fit check says what it was run on; two recorders lose nothing."""

import hashlib
import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practice_cast import Cast, key
from practice_invented import BACK, SADDLE, STUDY, invented_yard

from saddlebench import __version__
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Value
from saddlebench.practice.catalogue.visit import STOPS_FIELDS
from saddlebench.practice.documents import LARGEST_BYTES, Document, check_document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Back, Study
from saddlebench.practice.queries.versions import document_of
from saddlebench.practice.services import Entered, StoppedError
from saddlebench.practice.stops import Stops, all_stops

DAY = date(2026, 3, 1)
BETTER = Document(
    text='{"format": "saddlebench back record", "version": 1, "readings": [1.5, 2.5, 3], "coat": 4}'
)


def test_a_correction_is_a_new_version_and_the_first_stays_byte_for_byte(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    first = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY)
    back = first.version.back
    second = services.correct_back(cast.owner, back.uuid, BETTER, why="Pin 3 was misread", seen=1)
    assert (second.version.number, second.is_current) == (2, True)
    assert document_of(cast.fitter, Subject.BACK, back.uuid, 1) == BACK.text
    newest, oldest = queries.versions_of(cast.fitter, Subject.BACK, back.uuid)
    assert (newest.is_current, newest.why, newest.made_by) == (True, "Pin 3 was misread", "Orla Invented")
    assert (oldest.is_current, oldest.schema_id, oldest.engine_version) == (
        False,
        "saddlebench back record 1",
        __version__,
    )
    assert oldest.sha256 == hashlib.sha256(BACK.text.encode()).hexdigest()


def test_what_differed_between_two_versions_is_named_place_by_place(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version.back
    services.correct_back(cast.fitter, back.uuid, BETTER, why="", seen=1)
    found = queries.differences(cast.fitter, Subject.BACK, back.uuid, 1, 2)
    assert {(d.place, d.before, d.after) for d in found} == {
        ("/readings/2", 2.25, 2.5),
        ("/readings/3", None, 3),
        ("/label", "Juniper", None),
        ("/coat", None, 4),
    }


def test_what_a_later_version_adds_is_named_to_its_last_number(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version.back
    held = json.loads(BACK.text)
    more = Document(text=json.dumps(held | {"coat": {"near": [4.0, 5.0], "said": "clipped"}}))
    services.correct_back(cast.fitter, back.uuid, more, why="", seen=1)
    added = {("/coat/near/1", 4.0), ("/coat/near/2", 5.0), ("/coat/said", "clipped")}
    there = queries.differences(cast.fitter, Subject.BACK, back.uuid, 1, 2)
    assert {(one.place, one.after) for one in there} == added
    again = queries.differences(cast.fitter, Subject.BACK, back.uuid, 2, 1)
    assert {(one.place, one.before) for one in again} == added


def test_two_who_correct_at_once_keep_both_and_one_chooses(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version.back
    services.correct_back(cast.owner, back.uuid, BETTER, why="first", seen=1)
    late = services.correct_back(cast.fitter, back.uuid, BACK, why="second", seen=1)
    assert (late.is_current, late.version.number, late.current.number) == (False, 3, 2)
    assert Back.objects.get(pk=back.pk).current == late.current
    services.choose_version(cast.fitter, Subject.BACK, back.uuid, 3)
    assert Back.objects.get(pk=back.pk).current == late.version


def test_a_repeat_is_no_second_record(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    same = key()
    for _ in range(2):
        services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY, uuid=same)
    assert Back.objects.filter(horse=yard.horse).count() == 1


def test_a_fit_check_names_its_versions_and_says_when_they_are_no_longer_current(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version
    saddle = services.record_saddle(cast.workshop, yard.saddle.uuid, SADDLE).version
    study = services.record_study(
        cast.fitter, STUDY, back_version=back.uuid, saddle_version=saddle.uuid
    ).version.study
    (use,) = queries.study_use(cast.fitter, study.uuid)
    assert (use.back_sha256, use.saddle_sha256) == (BACK.sha256, SADDLE.sha256)
    assert (use.engine_version, use.back_number, use.is_on_current) == (__version__, 1, True)
    better = services.correct_back(cast.fitter, back.back.uuid, BETTER, why="", seen=1).version
    assert queries.study_use(cast.fitter, study.uuid)[0].is_on_current is False
    run = services.record_run(
        cast.fitter,
        study.uuid,
        STUDY,
        back_version=better.uuid,
        saddle_version=saddle.uuid,
        why="On the corrected back",
        seen=1,
    )
    assert run.is_current
    newest, oldest = queries.study_use(cast.fitter, study.uuid)
    assert (newest.back_number, newest.is_on_current, oldest.back_number) == (2, True, 1)


def test_a_run_cannot_be_of_another_horse(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    other = services.take_on_horse(cast.fitter, {"label": "Sorrel"})
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version
    theirs = services.record_back(cast.fitter, other.uuid, BACK, measured_on=DAY).version
    saddle = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version
    study = services.record_study(
        cast.fitter, STUDY, back_version=back.uuid, saddle_version=saddle.uuid
    ).version.study
    with pytest.raises(InputProblemsError, match="another horse"):
        services.record_run(
            cast.fitter,
            study.uuid,
            STUDY,
            back_version=theirs.uuid,
            saddle_version=saddle.uuid,
            why="",
            seen=1,
        )


@pytest.mark.parametrize(
    ("field", "stop", "said"),
    [
        ("stops_vet_first", "lame_or_unsteady", "the vet comes first"),
        ("stops_not_today", "sedated", "not today"),
        ("stops_do_not_ride", "tree_in_doubt", "not to be ridden"),
    ],
)
def test_a_stop_ends_the_fitting_and_says_who_comes_first(
    cast: Cast, field: str, stop: str, said: str
) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version
    saddle = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version

    def check() -> object:
        return services.record_study(
            cast.fitter,
            STUDY,
            back_version=back.uuid,
            saddle_version=saddle.uuid,
            visit_uuid=yard.visit.uuid,
        )

    def stops(value: list[str], seen: int) -> None:
        one = Entered(field=field, value=list(value), key=key(), seen=seen)
        services.enter(cast.fitter, Subject.VISIT, yard.visit.uuid, [one])

    stops([stop], 0)
    with pytest.raises(StoppedError, match=said):
        check()
    assert queries.visit_page(cast.fitter, yard.visit.uuid).stops == {field: (stop,)}
    assert not Study.objects.exists()
    stops([], 1)
    check()
    assert Study.objects.count() == 1


def test_a_saddle_in_doubt_gets_no_fit_check_and_another_at_the_same_visit_does(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version
    doubtful = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version
    sound = services.record_saddle(cast.fitter, yard.stock.uuid, SADDLE).version
    tried = services.try_saddle(cast.fitter, yard.visit.uuid, yard.saddle.uuid)
    services.try_saddle(cast.fitter, yard.visit.uuid, yard.stock.uuid)
    one = Entered(field="tree_flex", value="doubtful", key=key(), seen=0)
    services.enter(cast.fitter, Subject.VISIT_SADDLE, tried.uuid, [one])
    page = queries.visit_page(cast.fitter, yard.visit.uuid)
    assert [saddle.stops for saddle in page.tried] == [{"stops_do_not_ride": ("tree_in_doubt",)}, {}]
    for version, is_refused in ((doubtful, True), (sound, False)):
        refused = []
        try:
            services.record_study(
                cast.fitter,
                STUDY,
                back_version=back.uuid,
                saddle_version=version.uuid,
                visit_uuid=yard.visit.uuid,
            )
        except StoppedError as error:
            refused.append(error.stops)
        assert bool(refused) is is_refused


def _mark(kind: str) -> Value:
    return {"x": 0.4, "y": 0.3, "kind": kind, "degree": 2, "side": "near", "note": ""}


@pytest.mark.parametrize(
    ("visit", "saddle", "stops"),
    [
        ({}, None, {}),
        ({"sedated": False}, {"straps": "worn", "tree_flex": "sound"}, {}),
        ({"sedated": True}, None, {"stops_not_today": ("sedated",)}),
        ({"sedated": True, "stops_not_today": ["sedated"]}, None, {"stops_not_today": ("sedated",)}),
        ({"condition_score": 1}, None, {"stops_not_today": ("very_thin",)}),
        ({"palpation": [_mark("sore"), _mark("tight")]}, None, {}),
        (
            {"palpation": [_mark("sore"), _mark("flinch")]},
            None,
            {"stops_vet_first": ("pain_at_light_touch",)},
        ),
        *(
            ({"palpation": [_mark(kind)]}, None, {"stops_vet_first": ("wound_heat_swelling_gall",)})
            for kind in ("wound", "heat", "swelling", "gall")
        ),
        ({}, {"stirrup_bars_tight": False}, {"stops_do_not_ride": ("stirrup_bar_in_doubt",)}),
        (
            {"stops_vet_first": ["lame_or_unsteady"]},
            {"rigging": "unsafe", "webs": "unsafe", "straps": "unsafe"},
            {
                "stops_vet_first": ("lame_or_unsteady",),
                "stops_do_not_ride": ("strap_in_doubt", "rigging_in_doubt"),
            },
        ),
    ],
)
def test_stops_are_said_or_follow_from_answers(
    visit: dict[str, Value], saddle: dict[str, Value] | None, stops: Stops
) -> None:
    assert all_stops(visit, saddle) == stops


def test_every_cause_that_may_follow_is_one_that_may_be_said() -> None:
    said = {choice for name in STOPS_FIELDS for choice in VISIT_FIELDS[name].choices}
    everything: dict[str, Value] = {"sedated": True, "condition_score": 1, "girthy": "dangerous"}
    everything |= {"palpation": [_mark("gall"), _mark("flinch")]}
    unsafe: dict[str, Value] = {
        name: False if name.startswith("stirrup") else "unsafe" for name in VISIT_SADDLE_FIELDS
    }
    found = all_stops(everything, unsafe | {"tree_flex": "broken", "tree_spread": True})
    assert {cause for causes in found.values() for cause in causes} <= said
    assert len(found["stops_do_not_ride"]) == 4


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "null",
        "{",
        '{"a": NaN}',
        '{"a": Infinity}',
        '{"a": 1, "a": 2}',
        '{"a": ' + "[" * 100 + "]" * 100 + "}",
        "{" + '"a":[' * 100_000,
        '{"a": "\ud800"}',
    ],
)
def test_what_is_no_record_document_is_refused(text: str) -> None:
    with pytest.raises(InputProblemsError):
        check_document(Document(text=text))


@given(st.text(max_size=80) | st.recursive(st.none() | st.text(max_size=5), st.lists).map(json.dumps))
def test_any_text_is_an_object_or_a_sentence(text: str) -> None:
    found: list[object] = []
    try:
        found.append(check_document(Document(text=text)))
    except InputProblemsError as error:
        found += error.problems
    assert found
    assert all(isinstance(one, dict | Problem) for one in found)


def test_a_document_that_is_too_large_is_refused() -> None:
    with pytest.raises(InputProblemsError, match="larger"):
        check_document(Document(text=" " * (LARGEST_BYTES + 1)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{}", "no back record"),
        (SADDLE.text, "no back record"),
        ('{"format": "saddlebench back record"}', "does not say its version"),
        ('{"format": "saddlebench back record", "version": true}', "does not say its version"),
        ('{"format": "saddlebench back record", "version": 0}', "does not say its version"),
    ],
)
def test_a_document_of_another_kind_is_not_recorded(cast: Cast, text: str, said: str) -> None:
    yard = invented_yard(cast.fitter)
    with pytest.raises(InputProblemsError, match=said):
        services.record_back(cast.fitter, yard.horse.uuid, Document(text=text), measured_on=DAY)
    assert not Back.objects.exists()
