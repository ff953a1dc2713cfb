"""The pages of a fit check in German: every word has its German, and a filled check is told wholly."""

import html
import re
from importlib.resources import files
from pathlib import Path

import pytest
from django.utils.translation import gettext, override
from study_cast import record_checked
from web_cast import Cast

from saddlebench.exchange.retelling import noting_missed
from saddlebench.web.base.script_words import WORDS
from saddlebench.web.study.states import PLACE_WORDS
from saddlebench.web.study.states import WORDS as CASES
from support.untold import messages_of, plain_words_of

WEB = Path(str(files("saddlebench.web")))
TEMPLATES = sorted((WEB / "study" / "templates" / "study").glob("*.html"))
MODULES = sorted((WEB / "study").glob("*.py"))
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}
SAME = {"Hand", "Name"}
PICTURES = ("overview", "section", "sections", "plan", "side", "load", "findings", "doubt")


@pytest.mark.parametrize("path", [*TEMPLATES, *MODULES], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one and one not in SAME] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    assert {path.name: plain_words_of(path) - {"saddlebench"} for path in TEMPLATES} == {
        path.name: set() for path in TEMPLATES
    }


def test_what_is_looked_at_and_what_scripts_say_have_their_german() -> None:
    with override("en-gb"):
        said = [str(one) for one in (*CASES.values(), *PLACE_WORDS.values(), *WORDS.values())]
    with override("de"):
        assert [one for one in said if gettext(one) == one] == []
    scripts = [*(WEB / "base" / "script").rglob("*.js")]
    told = {
        one
        for path in scripts
        for one in re.findall(r'\btold\(\s*"([^"]+)"', path.read_text(encoding="utf-8"))
    }
    assert told == set(WORDS)


def test_a_filled_check_is_told_in_german(cast: Cast) -> None:
    checked = record_checked(cast)
    fitter = cast.browser("fitter")
    base = f"/checks/{checked.study}/"
    more = (
        f"{base}beside/",
        f"{base}beside/?by=rider",
        f"{base}change/",
        "/checks/limits/",
        "/checks/agreement/",
    )
    with noting_missed() as missed:
        answer = fitter.get(base, **GERMAN)
        page = html.unescape(answer.content.decode())
        others = [fitter.get(one, **GERMAN) for one in (*more, f"/horses/{checked.horse}/check/")]
        drawn = {name: fitter.get(f"{base}runs/1/{name}.svg", **GERMAN) for name in PICTURES}
    assert sorted(set(missed)) == []
    assert {one.status_code for one in (*others, *drawn.values())} == {200}
    assert all('<html lang="de">' in one.content.decode() for one in (answer, *others))
    assert "Accept-Language" in answer["Vary"]
    assert re.search(r"\d+ von 100 Versuchen innerhalb der Messfehler sagen", page)
    assert "Woher der Zweifel kommt" in page
    assert "Bevor Sie sich darauf verlassen" in page
    assert "Woher der Zweifel kommt" in drawn["doubt"].content.decode()
    english = fitter.get(f"{base}runs/1/doubt.svg")
    assert english["ETag"] != drawn["doubt"]["ETag"]
    assert "What the doubt comes from" in english.content.decode()
    assert "What the doubt comes from" in fitter.get(base).content.decode()


def test_what_is_wrong_with_a_question_is_told_in_german(cast: Cast) -> None:
    checked = record_checked(cast)
    with noting_missed() as missed:
        answer = cast.browser("fitter").post(f"/horses/{checked.horse}/check/", {"rider_mass": "7"}, **GERMAN)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert sorted(set(missed)) == []
    assert "Ihr eigenes Urteil kommt zuerst" in page
    assert "liegt außerhalb von 15 bis 200" in page
