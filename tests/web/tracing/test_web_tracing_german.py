"""The pages of tracings in German: every word is in the catalogue; a browser that reads German gets it."""

import html
import re
import uuid as uuids
from importlib.resources import files
from pathlib import Path

import pytest
from django.utils.translation import gettext, override
from web_cast import Cast

import saddlebench
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.retelling import noting_missed
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.web.base.spoken import problem_told, told
from saddlebench.web.photos.measuring import drawn_shown
from saddlebench.web.tracing import adding, angles, saddle_pages
from saddlebench.web.tracing.typed import shown_numbers, typed_numbers
from support.untold import messages_of, untold

SOURCE = Path(saddlebench.__file__).parent
TRACING = Path(str(files("saddlebench.web"))) / "tracing"
TEMPLATES = sorted((TRACING / "templates" / "tracing").glob("*.html"))
MODULES = (*sorted(TRACING.glob("*.py")), SOURCE / "web" / "photos" / "measuring.py")
SPEAKING = (
    *sorted((SOURCE / "exchange" / "tracings").glob("*.py")),
    *sorted((SOURCE / "exchange" / "sheets").glob("*.py")),
    SOURCE / "engine" / "saddle" / "sections.py",
    SOURCE / "engine" / "saddle" / "underside" / "across.py",
    *(one for one in sorted(TRACING.glob("*.py")) if "api" not in one.name),
)
SAME = {"Station", "Station %(numbers)s"}
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-DE,de;q=0.9,en;q=0.5"}
REMARKS = (
    "curves meet so flatly that it cannot be told which goes on as which; both end there",
    "Trace them further apart, or on two sheets, if what lies beyond matters.",
    "the printing’s scale is not checked: the paper’s edges are not seen",
    "Measure the printed ruler and give its length, or take the whole sheet on a darker table.",
    "the sheet was printed at 97.4 % across, 97.1 % down",
    "This is put right; print at 100 % next time.",
    "the paper is curled (radius 0.8 m); this is put right",
    "3 stations are filled in, 2 curves are found",
    "curve 2 is drawn twice or very thick; the middle is taken",
    "the tracings lie 9 mm off the saddle’s numbers on average",
    "the front 60 mm of the panels are not traced: in a fit check they bear nothing",
    "the rear 60 mm of the panels are not traced: in a fit check they bear nothing",
    "where strokes are missing, the panels’ inner edges are taken by the channel’s width",
    "120 mm behind the front edge the near panel is 80 mm wide, 30 mm less than by its numbers",
    "the known length of 300 mm is 280 mm long by the paper’s size",
    "the picture is larger than 40 MB",
    "520 lies beyond a saddle’s panels",
    "29.5 is no lean of a rule on a saddle",
)


@pytest.mark.parametrize("path", [*TEMPLATES, *MODULES], ids=lambda path: path.name)
def test_every_word_has_its_german(path: Path) -> None:
    with override("de"):
        assert [one for one in messages_of(path) if gettext(one) == one and one not in SAME] == []


def test_words_that_templates_are_given_have_their_german() -> None:
    said = [words for _, words, *_ in (*adding.CORNERS, *adding.ENDS)]
    said += [words for words, *_ in angles.LINES.values()]
    with override("de"):
        assert [one for one in (*said, saddle_pages.WHY) if gettext(one) == one] == []


def test_no_plain_words_stand_in_the_templates() -> None:
    for path in TEMPLATES:
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.DOTALL)
        text = re.sub(r"\{% blocktranslate.*?%\}.*?\{% endblocktranslate %\}", "", text, flags=re.DOTALL)
        text = re.sub(r"\{[%{#].*?[%}#]\}|<[^>]*>|&\w+;", " ", text, flags=re.DOTALL)
        assert re.findall(r"[A-Za-z]{3,}", text) == [], path.name


@pytest.mark.parametrize("path", SPEAKING, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_sentence_has_its_german(path: Path) -> None:
    assert untold(path) == set()


@pytest.mark.parametrize("said", REMARKS)
def test_a_remark_has_its_german(said: str) -> None:
    with override("de"), noting_missed() as missed:
        german = told(said)
        # What is wrong with one of several photos is said after its name.
        named = told(f"photo 2: {said}.")
    assert german != said
    assert named.startswith("Foto 2: ")
    assert missed == []


def test_the_place_of_a_problem_is_german_too() -> None:
    with override("de"):
        told_of = problem_told(
            Problem(what="no station has a distance", cure="Choose one.", where=Where(field="Stations"))
        )
    assert str(told_of) == "“Stationen”: keine Station hat einen Abstand. Wählen Sie eines."


def test_numbers_are_typed_and_shown_in_the_readers_way() -> None:
    problems: list[Problem] = []
    assert typed_numbers("1,4 1.1, –; -0,5", "leans", problems, has_gaps=True) == (1.4, 1.1, None, -0.5)
    assert problems == []
    with override("de"):
        assert shown_numbers((1.4, None, 20.0)) == "1,4 - 20"
    with override("en-gb"):
        assert shown_numbers((1.4, None, 20.0)) == "1.4 - 20"


def test_what_is_measured_on_a_photo_is_german() -> None:
    def line(kind: str, *points: tuple[float, float], mm: float | None = None) -> dict[str, object]:
        return {"key": kind, "kind": kind, "points": [list(one) for one in points], "known_mm": mm}

    marks = [
        line("topline", (0.3, 0.4), (0.6, 0.35)),
        line("line", (0.1, 0.5), (0.4, 0.5)),
        line("upright", (0.9, 0.9), (0.9, 0.2), mm=1650.5),
        line("angle", (0.1, 0.1), (0.2, 0.2), (0.3, 0.1)),
        line("distance", (0.1, 0.1), (0.2, 0.2)),
    ]
    with override("de"), noting_missed() as missed:
        shown = [one.words for one in drawn_shown(marks, 1000, 1000)]
    assert missed == []
    assert re.fullmatch(
        r"Oberlinie: \d+,\d° ± \d+,\d° \(eine Standardabweichung\), nach rechts steigend, gegen die untere "
        r"Kante des Bildes, wie es gehalten wurde, berichtigt nach der lotrechten Linie",
        shown[0],
    )
    assert shown[1:] == [
        "Linie, waagrecht",
        "Lotrechte Linie, 1650,5 mm lang",
        "Winkel von 90,0°",
        "Abstand: zeichnen Sie zuerst eine bekannte Länge",
    ]


def test_a_browser_that_reads_german_gets_german_and_others_english(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    address = f"/tracings/new/?horse={cast.here[Subject.HORSE]}"
    german = fitter.get(address, **GERMAN)
    page = html.unescape(german.content.decode())
    assert '<html lang="de">' in page
    assert "Drucken Sie mit 100 %, kleben Sie die Papiere Linie auf Linie" in page
    assert "Biegelineal, 1:1 nachgezeichnet" in page
    assert "Accept-Language" in german["Vary"]
    # The sheets of the reader's own language come first.
    links = re.findall(r'sheets/sections/a4/\?language=(\w+)" hreflang="\w+" lang="\w+">([^<]*)<', page)
    assert links == [("de", "A4"), ("en", "A4, English")]
    page = fitter.get(address).content.decode()
    assert '<html lang="en-GB">' in page
    assert "glue the papers line on line" in page
    wrong = fitter.post("/tracings/new/", {"horse": cast.here[Subject.HORSE], "distances": "x"}, **GERMAN)
    assert wrong.status_code == 422
    assert "kein Foto wurde gewählt" in html.unescape(wrong.content.decode())


def test_a_saddles_form_is_german(cast: Cast) -> None:
    saddle, actor = uuids.UUID(cast.here[Subject.SADDLE]), cast.actors["fitter"]
    record = SaddleRecord(
        label="Juniper's", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known")
    )
    seen = queries.saddle_page(actor, saddle).current_number or 0
    services.record_saddle(actor, saddle, Document(text=as_json(SaddleDocument.of(record))), seen=seen)
    fitter = cast.browser("fitter")
    address = f"/saddles/{saddle}/tracings/new/"
    page = html.unescape(fitter.get(address, **GERMAN).content.decode())
    assert "Legen Sie das Biegelineal quer über beide Kissen" in page
    with noting_missed() as missed:
        wrong = fitter.post(address, {"stations": "20 9999", "leans": "1"}, **GERMAN)
    assert wrong.status_code == 422
    page = html.unescape(wrong.content.decode())
    assert "9999 liegt jenseits der Kissen eines Sattels" in page
    assert "1 Werte sind für 2 Stationen angegeben" in page
    assert missed == []
