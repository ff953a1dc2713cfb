"""A fit check's page says what its doubt comes from, and where the repeat begins that would help most."""

import html
import uuid as uuids

from study_cast import record_checked
from web_cast import Cast

from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.doubt_words import advice_of, title_of_doubt, worth_telling
from saddlebench.exchange.records import StudyDocument, parse_document
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.versions import document_of


def doubts(cast: Cast, study: str) -> tuple[FindingDoubt, ...]:
    text = document_of(cast.actors["fitter"], Subject.STUDY, uuids.UUID(study), 1)
    return worth_telling(parse_document(StudyDocument, text, "check").study().put.doubts)


def test_the_doubt_is_told_with_the_repeat_that_helps_most(cast: Cast) -> None:
    checked = record_checked(cast)
    held = doubts(cast, checked.study)
    assert held
    page = cast.browser("fitter").get(f"/checks/{checked.study}/").content.decode()
    first = title_of_doubt(held[0])
    assert f"{first[:1].upper()}{first[1:]}</strong>: {advice_of(held[0])}" in html.unescape(page)
    assert "No repeat lessens an assumption" in html.unescape(page)
    drawn = cast.browser("fitter").get(f"/checks/{checked.study}/runs/1/doubt.svg").content.decode()
    assert "What the doubt comes from" in drawn
    # This back came in as a document: there are no single readings to take up.
    assert f"/measure/new/?horse={checked.horse}" in page
    reader = cast.browser("reader").get(f"/checks/{checked.study}/").content.decode()
    assert "What the doubt comes from" in reader
    assert f"/measure/new/?horse={checked.horse}" not in reader
