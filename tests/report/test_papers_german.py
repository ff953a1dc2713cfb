"""Every paper of a rebuild, the work order and the page of a pack: all in German, nothing in English."""

import re
from html import unescape

import pytest

from saddlebench.engine.replica.ribs import rib_replica
from saddlebench.engine.replica.templates import template_set
from saddlebench.engine.units import Length
from saddlebench.exchange.packs import made_keys
from saddlebench.exchange.packs.page import index_page, read_me
from saddlebench.exchange.planar import PlanarDrawing, planar_svg
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.retelling import noting_missed
from saddlebench.exchange.ribs import nested, sheet_drawing
from saddlebench.exchange.templates import (
    template_drawing,
)
from support.german import slipped
from support.packs import content_of
from support.papers import NAMES, PAPERS_MADE, UNDATED, back, order
from support.reports import NAMELESS, figures_of, text_of

GERMAN = Reader(language=Language.GERMAN)
INCHES = Reader(length=Length.INCH)


WITH_BARE_LENGTHS = ("settings of a comb", "settings of a curve", "a good rebuild", "a rebuild to move")


@pytest.mark.parametrize("name", PAPERS_MADE)
def test_no_english_word_slips_into_a_german_paper(name: str) -> None:
    with read_by(GERMAN), noting_missed() as missed:
        content = PAPERS_MADE[name]()
    assert missed == []
    assert slipped(text_of(content)) == set()
    assert ("14. Mai 2026" in text_of(content)) == (name not in UNDATED)
    for words in figures_of(content):
        assert slipped(words) == set()


@pytest.mark.parametrize("name", PAPERS_MADE)
def test_no_millimetre_is_left_for_a_reader_of_inches(name: str) -> None:
    """But for what is a thing's own: a check bar's and ruler's length, a curve's unit."""
    with read_by(INCHES):
        text = text_of(PAPERS_MADE[name]())
    own = r"check bar: 100 mm \(3\.94″\)|check: 100 mm|One unit of the instrument: 1 mm\."
    assert re.findall(r"\S+ mm\b", re.sub(own, "", text)) == []
    assert ("Lengths are in inches." in text) == (name in WITH_BARE_LENGTHS)


def test_the_check_would_find_english_in_them() -> None:
    assert {"looked", "again"} <= slipped(text_of(order(all_of_it=True)))
    assert "14 May 2026" in text_of(order(all_of_it=True))


def drawings() -> list[PlanarDrawing]:
    made = template_set(back().estimated, (0.0, 150.0), thickness_mm=3.0)
    sheets = nested(rib_replica(back().estimated))
    day = "14. Mai 2026"
    return [
        *(template_drawing(one, NAMES) for one in made),
        *(sheet_drawing(one, len(sheets), NAMELESS, day, 4.0) for one in sheets),
    ]


def test_no_english_word_slips_into_a_german_template_or_sheet_of_ribs() -> None:
    with read_by(GERMAN), noting_missed() as missed:
        held = drawings()
    assert missed == []
    layers = {"CUT", "ENGRAVE", "TEXT", "SHEET"}
    for one in held:
        told = " ".join([one.title, one.description, *(label.words for label in one.labels)])
        told = " ".join(word for word in re.split(r"[\s,.]+", told) if word not in layers)
        assert slipped(told) == set(), one.title
        assert planar_svg(one).startswith("<?xml") or "svg" in planar_svg(one)[:80]


def test_no_english_word_slips_into_the_german_page_of_a_pack() -> None:
    content = content_of(made_keys(), photos=2, message=NAMELESS)
    with read_by(GERMAN), noting_missed() as missed:
        page, note = index_page(content.document, content.files), read_me(content.document)
    assert missed == []
    text = unescape(re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL))
    own = "English Juniper 3 May The brown one on Gorse Saddlery invented Side on JSON comb"
    assert slipped(text) <= {word.lower() for word in own.split()}
    shown = [line for line in note.splitlines() if "saddlebench pack" not in line]
    names = {"gorse", "saddlery", "invented"}
    assert slipped(re.sub(r"\S+\.(html|json|txt)|\S+/", " ", " ".join(shown))) <= names
    assert 'lang="de"' in page
