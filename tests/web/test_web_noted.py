"""What was noted on both days goes into the vet's report, told in the reader's language."""

import uuid as uuids
from datetime import date

import pytest
from change_cast import record_story
from web_cast import Cast

from saddlebench.exchange.readers import Language, Reader
from saddlebench.exchange.retelling import noting_missed, retold
from saddlebench.practice import services
from saddlebench.practice.catalogue import VISIT_FIELDS, Value
from saddlebench.practice.catalogue.shots import USUAL_SHOTS
from saddlebench.practice.enums import Purpose, Subject
from saddlebench.practice.models import Back
from saddlebench.practice.phrases import choice_words
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import Entered, NotFoundError, enter
from saddlebench.practice.services.photos import set_shots
from saddlebench.web.base.noted import ABOUT, noted_of_both_days, shots_told
from saddlebench.web.base.outline import DEGREES, PLACES
from support.reports import text_of

GERMAN = Reader(language=Language.GERMAN)
EARLY, LATE = date(2026, 1, 5), date(2026, 6, 5)
SORE = {"x": 0.28, "y": 0.38, "kind": "sore", "degree": 2, "side": "near"}


def noted(cast: Cast, horse: str, day: date, **values: Value) -> None:
    actor = cast.actors["fitter"]
    visit = services.start_visit(actor, on=day, purpose=Purpose.RECHECK, horse=uuids.UUID(horse))
    entries = [Entered(field=name, value=value, key=uuids.uuid4(), seen=0) for name, value in values.items()]
    enter(actor, Subject.VISIT, visit.uuid, entries)


def test_what_was_felt_is_told_and_own_words_are_kept(cast: Cast) -> None:
    horse = cast.here[Subject.HORSE]
    noted(cast, horse, EARLY, palpation=[SORE], bigger_shoulder="near", symmetry="Left is fuller")
    noted(cast, horse, LATE, palpation=[], bigger_shoulder="alike")
    rows = noted_of_both_days(cast.actors["reader"], uuids.UUID(horse), (EARLY, LATE), GERMAN)
    assert [(one.what, one.earlier, one.later) for one in rows] == [
        ("Von Hand getastet", "Schmerzhaft, deutlich: Hinter der Schulter, links", "–"),
        ("Größere Schulter", "Links", "Gleich"),
        ("Symmetrie", "Left is fuller", "–"),
    ]


def test_days_without_a_visit_have_no_rows(cast: Cast) -> None:
    horse = uuids.UUID(cast.here[Subject.HORSE])
    assert (
        noted_of_both_days(cast.actors["reader"], horse, (date(2020, 1, 1), date(2020, 2, 1)), GERMAN) == ()
    )


def test_another_practice_and_nobody_learn_nothing(cast: Cast) -> None:
    horse = uuids.UUID(cast.here[Subject.HORSE])
    with pytest.raises(NotFoundError):
        noted_of_both_days(cast.actors["other"], horse, (EARLY, LATE), GERMAN)
    with pytest.raises(NotAllowedError):
        noted_of_both_days(None, horse, (EARLY, LATE), GERMAN)


def test_every_word_that_may_be_noted_is_told() -> None:
    words = (
        [shot.words for shot in USUAL_SHOTS]
        + [place.words for place in PLACES]
        + [one for one in DEGREES if one != "noted"]
    )
    for name in ABOUT:
        field = VISIT_FIELDS[name]
        words += [field.words, *(str(choice_words(choice)) for choice in field.choices)]
    with noting_missed() as missed:
        for one in words:
            retold(one, GERMAN)
    assert missed == []


def test_usual_shots_are_told_and_a_practices_own_kept(cast: Cast) -> None:
    told = shots_told(cast.actors["reader"], GERMAN)
    assert told["near_side"] == "Linke Seite, gerade stehend"
    assert told[""] == "Foto"
    set_shots(cast.actors["owner"], "From behind\nMy own shot")
    own = shots_told(cast.actors["reader"], GERMAN)
    assert "My own shot" in own.values()
    assert "Von hinten" in own.values()


def test_the_vets_report_has_it(cast: Cast) -> None:
    story = record_story(cast)
    days = sorted(Back.objects.filter(horse__uuid=story.horse).values_list("measured_on", flat=True))
    noted(cast, story.horse, days[0], palpation=[SORE])
    client = cast.browser("fitter")
    compared = client.post(f"/horses/{story.horse}/changed/compare/", {"version": story.versions})
    path = f"{compared['Location']}report.pdf"
    answer = client.get(path, {"language": "de"})
    assert "Schmerzhaft, deutlich: Hinter der Schulter, links" in text_of(answer.content)
    noted(cast, story.horse, days[-1], muscle=[{**SORE, "kind": "wasted"}])
    later = client.get(path, {"language": "de"})
    assert later["ETag"] != answer["ETag"]
    assert "Geschwunden, deutlich" in text_of(later.content)
