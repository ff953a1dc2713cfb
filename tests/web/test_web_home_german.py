"""The day, the diary, a horse, long work and signing in, in German."""

import html
import re
import uuid as uuids
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone
from django.utils.translation import gettext, override
from web_cast import Cast

from saddlebench.exchange.retelling import noting_missed
from saddlebench.practice import services
from saddlebench.practice.enums import Purpose, Subject
from saddlebench.web.links import DEEDS
from support.untold import messages_of, plain_words_of

WEB = Path(str(files("saddlebench.web")))
RECORDS = tuple(
    WEB / "records" / "templates" / "records" / f"{name}.html"
    for name in ("horse", "horse_work", "horses", "list_head", "record_deeds", "timeline")
)
TEMPLATES = (
    *sorted((WEB / "home" / "templates" / "home").glob("*.html")),
    *RECORDS,
    WEB / "base" / "templates" / "base" / "jobs.html",
    WEB / "base" / "templates" / "components" / "field.html",
    WEB / "accounts" / "templates" / "accounts" / "sign_in.html",
    WEB / "accounts" / "templates" / "accounts" / "first_start.html",
)
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}


@pytest.mark.parametrize("path", [*TEMPLATES, WEB / "home" / "views.py"], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    assert {path.name: plain_words_of(path) - {"UTC"} for path in TEMPLATES} == {
        path.name: set() for path in TEMPLATES
    }


def test_what_may_be_begun_from_a_record_has_its_german() -> None:
    with override("de"):
        assert [one.words for one in DEEDS if gettext(one.words) == one.words] == []


def test_the_day_and_what_it_leads_to_are_told_in_german(cast: Cast) -> None:
    day, horse = timezone.localdate(), cast.here[Subject.HORSE]
    for on in (day, day + timedelta(days=10)):
        services.start_visit(cast.actors["fitter"], on=on, purpose=Purpose.COMPLAINT, horse=uuids.UUID(horse))
    fitter = cast.browser("fitter")
    pages = (
        "/",
        "/diary/",
        f"/horses/{horse}/",
        "/horses/",
        "/horses/?q=no+such",
        f"/horses/{horse}/timeline/",
    )
    with noting_missed() as missed:
        answers = {one: fitter.get(one, **GERMAN) for one in (*pages, "/jobs/")}
    texts = {name: html.unescape(one.content.decode()) for name, one in answers.items()}
    assert sorted(set(missed)) == []
    assert [name for name, text in texts.items() if '<html lang="de">' not in text] == []
    assert all("Accept-Language" in one["Vary"] for one in answers.values())
    assert "Termine heute" in texts["/"]
    assert "Etwas stimmt nicht" in texts["/diary/"]
    assert re.search(r"Heute, \w\w \d+\. ", texts["/"])
    assert "Das Pferd" in texts[f"/horses/{horse}/"]
    assert "Visits today" in fitter.get("/").content.decode()


def test_signing_in_is_told_in_german(cast: Cast) -> None:
    assert cast.here
    stranger = Client()
    assert "Anmelden" in stranger.get("/sign-in/", **GERMAN).content.decode()
    wrong = stranger.post(
        "/sign-in/", {"sign-in-email": "nobody@invented.example", "sign-in-password": "x"}, **GERMAN
    )
    assert "E-Mail-Adresse und Passwort gehören nicht zusammen." in wrong.content.decode()
    assert "Sign in" in stranger.get("/sign-in/").content.decode()
