"""The pages of a plan in German: every word has its German, and a filled plan is told wholly."""

import html
import re
from importlib.resources import files
from pathlib import Path

import pytest
from django.utils.translation import gettext, override
from planned_cast import recorded_plan
from study_cast import record_checked
from web_cast import Cast

from saddlebench.exchange.retelling import noting_missed
from saddlebench.web.alter.asking import MAY, PRICES
from support.untold import messages_of, plain_words_of

ALTER = Path(str(files("saddlebench.web"))) / "alter"
TEMPLATES = sorted((ALTER / "templates" / "alter").glob("*.html"))
MODULES = sorted(ALTER.glob("*.py"))
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}
SAME = {"Plan"}


@pytest.mark.parametrize("path", [*TEMPLATES, *MODULES], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one and one not in SAME] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    assert {path.name for path in TEMPLATES if plain_words_of(path)} == set()


def test_a_plan_and_what_leads_to_it_are_told_in_german(cast: Cast) -> None:
    checked = record_checked(cast)
    plan = recorded_plan(cast, checked)
    fitter = cast.browser("fitter")
    with noting_missed() as missed:
        page = html.unescape(fitter.get(f"/plans/{plan}/", **GERMAN).content.decode())
        asked = html.unescape(fitter.get(f"/checks/{checked.study}/what-to-do/", **GERMAN).content.decode())
        tried = html.unescape(fitter.get(f"/checks/{checked.study}/try/", **GERMAN).content.decode())
        drawn = fitter.get(f"/plans/{plan}/underside.svg", **GERMAN)
    assert sorted(set(missed)) == []
    assert all('<html lang="de">' in one for one in (page, asked, tried))
    assert re.search(r"\d+ von 100 Versuchen innerhalb der Messfehler sagen", page)
    assert "Auf der Bank" in page
    with override("de"):
        words = [str(one) for one in (*MAY.values(), *(words for _, words in PRICES.values()))]
    assert [one for one in words if one not in asked] == []
    assert "links vorn" in tried
    assert "VORDERZWIESEL" in drawn.content.decode()
    assert drawn["ETag"] != fitter.get(f"/plans/{plan}/underside.svg")["ETag"]
    assert "On the bench" in fitter.get(f"/plans/{plan}/").content.decode()
