"""The fitter's own verdict, taken before the program's: given once, kept, compared, counted."""

import json
import uuid as uuids
from datetime import date

import pytest
from practice_cast import Cast
from practice_invented import BACK, SADDLE, STUDY, invented_yard

from exchange.studies import study
from saddlebench.engine.errors import InputProblemsError, Undetermined
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.hand_slide import Feel
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange.records import StudyDocument, as_json
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.models import BackVersion, Opinion, SaddleVersion
from saddlebench.practice.opinions import (
    CANNOT_TELL,
    FEELS,
    FINDINGS_OF,
    TOPIC_WORDS,
    VERDICTS,
    Judge,
    Topic,
    feel_of,
    verdict_of,
)
from saddlebench.practice.queries.studies import check_choices, study_page, tally
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.opinions import give_opinions, program_opinions, set_beside


def _recorded(cast: Cast) -> tuple[BackVersion, SaddleVersion]:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=date(2026, 3, 1)).version
    return back, services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version


def test_topics_speak_of_findings_that_there_are_in_the_engines_words() -> None:
    named = set().union(*FINDINGS_OF.values())
    assert named <= {name.value for name in FindingName}
    assert {*VERDICTS, CANNOT_TELL} == {verdict.value for verdict in Verdict}
    assert set(FEELS) == {feel.value for feel in Feel}
    assert set(TOPIC_WORDS) == set(Topic)


def test_the_worst_that_is_known_stands_for_a_topic() -> None:
    name = "bridging, rider up", "bridging, girthed only"
    for said, expected in (
        (("fine", "fine"), "fine"),
        (("fine", "not right"), "not right"),
        (("cannot tell", "borderline"), "borderline"),
        (("fine", "cannot tell"), "cannot tell"),
    ):
        assert verdict_of(Topic.MIDDLE, zip(name, said, strict=True)) == expected
    assert verdict_of(Topic.MIDDLE, [("rocking", "not right")]) == "cannot tell"


def test_a_hand_says_what_the_longest_stretch_that_is_not_even_says() -> None:
    assert feel_of([("even", 300.0), ("slack", 60.0), ("tight", 40.0), ("slack", 20.0)]) == "slack"
    assert feel_of([("even", 300.0)]) == "even"
    assert feel_of([]) == "cannot tell"


def test_the_program_is_read_off_a_real_check() -> None:
    answers = program_opinions(as_json(StudyDocument.of(study())))
    by_name = {finding.name: finding.verdict for finding in study().findings}
    assert answers[Topic.ROCKING] == by_name[FindingName.ROCKING]
    slides = study().put.hand_slide
    assert not isinstance(slides, Undetermined)
    longest = {
        slide.side: max(
            (s for s in slide.stretches if s.feel is not Feel.EVEN),
            key=lambda s: s.to_mm - s.from_mm,
            default=None,
        )
        for slide in slides
    }
    for topic, side in ((Topic.HAND_NEAR, "near"), (Topic.HAND_OFF, "off")):
        expected = longest[side].feel if longest[side] else "even"
        assert answers[topic] == expected


def _document(**verdicts: str) -> Document:
    findings = [
        {"name": name.replace("_", " "), "side": "", "verdict": said} for name, said in verdicts.items()
    ]
    return Document(text=json.dumps({**json.loads(STUDY.text), "put": {"findings": findings}}))


def test_an_opinion_comes_first_and_once_and_is_counted_against_the_program(cast: Cast) -> None:
    back, saddle = _recorded(cast)
    uuid = uuids.uuid4()
    said = {"rocking": "not right", "channel": "fine", "seat": "fine", "length": ""}
    assert give_opinions(cast.fitter, uuid, said, back_version=back.uuid) == 3
    assert give_opinions(cast.fitter, uuid, {"rocking": "fine"}, back_version=back.uuid) == 3
    document = _document(rocking="not right", channel_width="borderline")
    services.record_study(
        cast.fitter, document, back_version=back.uuid, saddle_version=saddle.uuid, uuid=uuid
    )
    assert set_beside(cast.fitter, uuid) == 3
    assert set_beside(cast.fitter, uuid) == 0
    page = study_page(cast.reader, uuid)
    shown = {one.topic: (one.fitter, one.program, one.agrees) for one in page.opinions}
    assert shown == {
        Topic.ROCKING: ("not right", "not right", True),
        Topic.CHANNEL: ("fine", "borderline", False),
        Topic.SEAT: ("fine", "cannot tell", None),
    }
    first = Opinion.objects.filter(judge=Judge.FITTER).first()
    assert first is not None
    assert first.made_at <= page.run.made_at
    counted = {row.words: (row.compared, row.agreed, row.program_cannot_tell) for row in tally(cast.reader)}
    assert counted == {
        str(TOPIC_WORDS[Topic.CHANNEL]): (1, 0, 0),
        str(TOPIC_WORDS[Topic.ROCKING]): (1, 1, 0),
        str(TOPIC_WORDS[Topic.SEAT]): (0, 0, 1),
    }
    assert tally(cast.other) == ()
    late = uuids.uuid4()
    services.record_study(cast.fitter, STUDY, back_version=back.uuid, saddle_version=saddle.uuid, uuid=late)
    with pytest.raises(InputProblemsError, match="run already"):
        give_opinions(cast.fitter, late, said, back_version=back.uuid)


def test_answers_that_there_are_not_are_all_told(cast: Cast) -> None:
    back, _ = _recorded(cast)
    wrong = {"rocking": "slack", "hand_near": "fine", "paint": "fine", "seat": "fine"}
    with pytest.raises(InputProblemsError) as caught:
        give_opinions(cast.fitter, uuids.uuid4(), wrong, back_version=back.uuid)
    assert len(caught.value.problems) == 3
    assert not Opinion.objects.exists()


def test_opinions_are_for_those_who_run_checks_of_their_own_horses(cast: Cast) -> None:
    back, _ = _recorded(cast)
    said = {"rocking": "fine"}
    for who in (cast.workshop, cast.reader, None):
        with pytest.raises(NotAllowedError):
            give_opinions(who, uuids.uuid4(), said, back_version=back.uuid)
        with pytest.raises(NotAllowedError):
            set_beside(who, uuids.uuid4())
    with pytest.raises(NotFoundError):
        give_opinions(cast.other, uuids.uuid4(), said, back_version=back.uuid)


def test_choices_are_this_horses_versions_and_the_stock(cast: Cast) -> None:
    back, saddle = _recorded(cast)
    services.correct_back(cast.fitter, back.back.uuid, BACK, why="again", seen=1)
    services.use_saddle_on(cast.fitter, saddle.saddle.uuid, [back.back.horse.uuid])
    page = check_choices(cast.fitter, back.back.horse.uuid)
    assert [(one.number, one.is_current) for one in page.backs] == [(2, True), (1, False)]
    assert [(one.uuid, one.is_this_horses) for one in page.saddles] == [(saddle.uuid, True)]
    with pytest.raises(NotFoundError):
        check_choices(cast.other, back.back.horse.uuid)
    with pytest.raises(NotAllowedError):
        check_choices(cast.reader, back.back.horse.uuid)


def test_erasing_a_person_takes_opinions_on_their_horses_along(cast: Cast, home: object) -> None:
    back, _ = _recorded(cast)
    give_opinions(cast.fitter, uuids.uuid4(), {"rocking": "fine"}, back_version=back.uuid)
    client = back.back.horse.client
    assert client is not None
    services.erase_person(cast.owner, client.uuid, home)  # type: ignore[arg-type]
    assert not Opinion.objects.exists()
