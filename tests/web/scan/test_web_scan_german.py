"""The pages of scans in German: every word is in the catalogue; a browser that reads German gets it."""

import re
import uuid as uuids
from importlib.resources import files
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils.translation import gettext, override
from web_cast import Cast, do_waiting

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import Problem, Where
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.scans import ScanState
from saddlebench.web.base.spoken import problem_told, told
from saddlebench.web.scan import laying, looking, marking, starting
from saddlebench.web.slices import SLICES
from support.untold import messages_of

WEB = Path(str(files("saddlebench.web")))
SPOKEN = (
    *sorted((WEB / "scan" / "templates").rglob("*.html")),
    *sorted((WEB / "underside" / "templates").rglob("*.html")),
    *(WEB / "base" / "templates" / part for part in ("base/page.html", "base/job_part.html")),
    *(WEB / "base" / "templates" / "components" / part for part in ("problems.html", "just_done.html")),
)
MODULES = (*sorted((WEB / "scan").glob("*.py")), *sorted((WEB / "underside").glob("*.py")))
SAME = {"Scan", "Scan of %(horse)s", "Scan of %(saddle)s"}
"""Words that are the same, or nearly, in both languages."""
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}


@pytest.mark.parametrize("path", [*SPOKEN, *MODULES], ids=lambda path: f"{path.parent.name}-{path.name}")
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        missing = [one for one in messages_of(path) if gettext(one) == one and one not in SAME]
    assert missing == []


def test_what_is_named_elsewhere_has_its_german_too() -> None:
    scripts = (looking.SCRIPT_WORDS, starting.SCRIPT_WORDS, laying.SCRIPT_WORDS)
    with override("en-gb"):
        said = [str(words) for one in scripts for words in one.values()]
    said += [state.value for state in ScanState]
    said += [str(mark) for mark, _letter in marking.LETTERED]
    said += [marking.SUGGESTED, marking.SET, marking.FELT, marking.UNSEEN]
    said += [entry.words for one in SLICES for entry in one.nav]
    assert len(said) > 30
    assert ScanMark.WITHERS.value in said
    with override("de"):
        assert [one for one in said if gettext(one) == one] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    """Between tags and marks nothing is left that a reader would read, but names of files and units."""
    for path in SPOKEN[:-4]:
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"\{% blocktranslate.*?%\}.*?\{% endblocktranslate %\}", "", text, flags=re.DOTALL)
        text = re.sub(r"\{[%{#].*?[%}#]\}|<[^>]*>|&\w+;", " ", text, flags=re.DOTALL)
        left = [word for word in re.findall(r"[A-Za-z]{3,}", text) if word not in {"noscript"}]
        assert left == [], path.name


def test_a_browser_that_reads_german_gets_german_and_others_english(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    address = f"/scans/new/?horse={cast.here[Subject.HORSE]}"
    german = fitter.get(address, **GERMAN)
    page = german.content.decode()
    assert '<html lang="de">' in page
    assert "Wer es hält, bleibt vom Rücken weg." in page
    assert "Pferde" in page
    assert "Accept-Language" in german["Vary"]
    for headers in ({}, {"HTTP_ACCEPT_LANGUAGE": "fr,en;q=0.8"}):
        page = fitter.get(address, **headers).content.decode()
        assert '<html lang="en-GB">' in page
        assert "Whoever holds it keeps clear of the back." in page


def refused(fitter: Client, cast: Cast, **more: str) -> str:
    form = {"horse": cast.here[Subject.HORSE], "day": "2026-05-04", "uuid": str(uuids.uuid4()), **more}
    answer = fitter.post("/scans/new/", form, **GERMAN)
    assert answer.status_code == 422
    return answer.content.decode()


def test_what_is_wrong_and_how_far_it_is_are_told_in_german(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    assert "kein Scan wurde gewählt. Wählen Sie seine Datei." in refused(fitter, cast)
    uuid = str(uuids.uuid4())
    points = b"".join(b"%d %d 0\n" % (x, y) for x in range(40) for y in range(40))
    form = {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-05-04",
        "uuid": uuid,
        "scan": SimpleUploadedFile("floor.xyz", points),
    }
    assert fitter.post("/scans/new/", form, **GERMAN).status_code == 302
    assert "Wartet auf die Arbeit davor." in fitter.get(f"/jobs/{uuid}/", **GERMAN).content.decode()
    do_waiting()
    page = fitter.get(f"/scans/{uuid}/", **GERMAN).content.decode()
    assert "im Scan ist kein Rumpf eines Tieres zu finden" in page
    assert "war so nicht zu gebrauchen" in page


def test_what_is_said_of_a_piece_is_german_after_its_files_name() -> None:
    said = (
        "near.ply: in mm what it shows would be 0.005 m long. "
        "Check the unit of this file; each piece may have its own."
    )
    with override("de"):
        german = told(f"{said}\n{said.replace('near', 'off')}")
    first = (
        "near.ply: in mm wäre, was es zeigt, 0.005 m lang. "
        "Prüfen Sie die Einheit dieser Datei; jedes Teil kann eine eigene haben."
    )
    assert german == f"{first}\n{first.replace('near', 'off')}"


def test_the_place_of_a_problem_is_german_too() -> None:
    with override("de"):
        told_of = problem_told(
            Problem(what="this is no place", cure="Correct it.", where=Where(field="Unit"))
        )
    assert str(told_of) == "“Einheit”: das ist keine Stelle. Berichtigen Sie es."
