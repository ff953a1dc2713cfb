"""The pages of changes in German: every word is in the catalogue; a browser that reads German gets it."""

import html
import re
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path

import pytest
from change_cast import BEFORE, BUILT, record_repeats, record_story
from django.utils.translation import gettext, override
from web_cast import Cast

from saddlebench.exchange.retelling import noting_missed
from saddlebench.practice.estimates.recheck import REASONS, words_of_reason
from saddlebench.web.base.days import day_and_time, day_of_week, short_day
from saddlebench.web.change.tolerances import UNITS
from support.untold import messages_of

CHANGE = Path(str(files("saddlebench.web"))) / "change"
TEMPLATES = sorted((CHANGE / "templates" / "change").glob("*.html"))
MODULES = sorted(CHANGE.glob("*.py"))
SAME = {"Trend"}
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}
AGAIN = (
    "Compare again as things are now",
    "Judge them again as things are now",
    "Check again as things are now",
)


@pytest.mark.parametrize("path", [*TEMPLATES, *MODULES], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one and one not in SAME] == []


def test_words_that_templates_are_given_have_their_german() -> None:
    named = [words_of_reason(one) for one in REASONS] + [words for _, words, _ in UNITS]
    with override("de"):
        assert [one for one in (*named, *AGAIN, "Before", "After") if gettext(one) == one] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    for path in TEMPLATES:
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.DOTALL)
        text = re.sub(r"\{% blocktranslate.*?%\}.*?\{% endblocktranslate %\}", "", text, flags=re.DOTALL)
        text = re.sub(r"\{[%{#].*?[%}#]\}|<[^>]*>|&\w+;", " ", text, flags=re.DOTALL)
        assert [word for word in re.findall(r"[A-Za-z]{3,}", text) if word != "saddlebench"] == [], path.name


def test_a_change_its_trend_and_its_pictures_are_told_in_german(cast: Cast) -> None:
    story = record_story(cast, (BEFORE, 3, BUILT), numbers=True)
    fitter = cast.browser("fitter")
    asked = fitter.post(
        f"/horses/{story.horse}/changed/compare/", {"version": [story.versions[0], story.versions[-1]]}
    )
    with noting_missed() as missed:
        answer = fitter.get(asked["Location"], **GERMAN)
        page = html.unescape(answer.content.decode())
        trend = html.unescape(fitter.get(f"/horses/{story.horse}/trend/", **GERMAN).content.decode())
    assert sorted(set(missed)) == []
    assert '<html lang="de">' in page
    assert "Accept-Language" in answer["Vary"]
    assert "verändert, als der Messfehler erklärt" in page
    assert re.search(r"\d{1,2}\. Mai 2024</a>", page)
    assert not re.search(r"\d (?:Mai|Juni|Sept|Okt)", page)
    assert "Bevor Sie sich darauf verlassen" in page
    assert "Wieder ansehen bis" in trend
    assert "Übliche Praxis für" in trend
    for part in ("map", "numbers"):
        drawn = fitter.get(f"{asked['Location']}{part}.svg", **GERMAN)
        told = fitter.get(f"{asked['Location']}{part}.svg")
        assert drawn["ETag"] != told["ETag"]
        assert "LINKS" in drawn.content.decode() or "Um wie viel" in drawn.content.decode()
    english = fitter.get(asked["Location"]).content.decode()
    assert "The back has changed in" in english
    assert "Before you rely on this" in english


def test_days_are_written_in_the_language_of_the_page() -> None:
    """Ordinals and shortened months have their dots in German (Duden, common practice)."""
    spring, autumn = date(2024, 5, 6), date(2025, 9, 22)
    with override("de"):
        assert (short_day(spring), short_day(autumn)) == ("6. Mai 2024", "22. Sept. 2025")
        assert day_of_week(spring, with_year=True) == "Mo 6. Mai 2024"
        assert day_of_week(autumn, with_year=False) == "Mo 22. Sept."
        assert day_and_time(datetime(2025, 9, 22, 12, 30, tzinfo=UTC)).startswith("22. Sept. 2025, ")
    with override("en-gb"):
        assert (short_day(spring), short_day(autumn)) == ("6 May 2024", "22 Sep 2025")
        assert day_of_week(spring, with_year=True) == "Mon 6 May 2024"


def test_a_hand_is_told_in_german(cast: Cast) -> None:
    story = record_repeats(cast, 3)
    fitter = cast.browser("fitter")
    made = fitter.post(f"/horses/{story.horse}/check-me/result/", {"version": story.versions})
    with noting_missed() as missed:
        page = html.unescape(fitter.get(made["Location"], **GERMAN).content.decode())
        figures = html.unescape(fitter.get("/check-me/", **GERMAN).content.decode())
        drawn = fitter.get(f"{made['Location']}numbers.svg", **GERMAN).content.decode()
    assert sorted(set(missed)) == []
    assert "Über den ganzen Rücken streuen Ihre Wiederholungen" in page
    assert "In Gebrauch" in figures
    assert "Wie gut diese Hand wiederholt" in drawn
