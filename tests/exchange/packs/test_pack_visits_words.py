"""A visit in a pack: each field and choice of the program's forms in words, in English and in German."""

import datetime as dt
import re
from html import unescape

import pytest

from saddlebench.exchange.packs import made_keys
from saddlebench.exchange.packs.document import PackDocument, TriedPart, VisitPart
from saddlebench.exchange.packs.page_work import visits_told
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.retelling import noting_missed
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Field, Kind
from saddlebench.practice.catalogue.visit import is_about_people
from support.packs import content_of

GERMAN = Reader(language=Language.GERMAN)
SAID = "The brown one, as Wilma said."


def invented(field: Field) -> object:
    """Return a value that the field takes: all its choices where it has any."""
    if field.choices:
        return [str(one) for one in field.choices]
    match field.kind:
        case Kind.NUMBER | Kind.WHOLE:
            return 12.5
        case Kind.YES_NO:
            return True
        case Kind.DATE:
            return "2026-05-14"
        case _:
            return SAID


@pytest.fixture(scope="module")
def document() -> PackDocument:
    content = content_of(made_keys(), photos=0, message="")
    held = content.document
    answers = {name: invented(one) for name, one in VISIT_FIELDS.items() if not is_about_people(one)}
    of_saddle = {name: invented(one) for name, one in VISIT_SADDLE_FIELDS.items()}
    visit = VisitPart(
        uuid=held.horses[0].uuid,
        horse=held.horses[0].uuid,
        day=dt.date(2026, 5, 14),
        purpose="recheck",
        answers=answers,
        tried=(TriedPart(saddle=held.saddles[0].uuid, answers=of_saddle),),
    )
    return held.model_copy(update={"visits": (visit,)})


def shown(document: PackDocument) -> dict[str, str]:
    page = "".join(visits_told(document))
    cells = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td>', page)
    return {unescape(name): unescape(value) for name, value in cells}


def test_in_english_a_field_is_named_without_its_units_and_signs(document: PackDocument) -> None:
    told = shown(document)
    assert told["Girth groove"] == "12.5 mm"
    assert told["Ridden, left rein, walk, lifts behind"] == "yes"
    assert not [name for name in told if "_" in name or re.search(r" (mm|cm|kg)$", name)]
    assert SAID in told.values()


def test_in_german_every_field_and_choice_has_its_words(document: PackDocument) -> None:
    with read_by(GERMAN), noting_missed() as missed:
        told = shown(document)
    assert missed == []
    assert told["Gurtlage"] == "12,5 mm"
    assert "14.\u00a0Mai 2026" in told.values()
    assert SAID in told.values()
