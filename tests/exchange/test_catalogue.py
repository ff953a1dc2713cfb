"""The German catalogue is whole: every word that reaches a report has its message, and says it in German."""

import ast
import re
from collections.abc import Iterable
from enum import StrEnum
from itertools import product
from pathlib import Path

import pytest
from matplotlib.text import Text

import saddlebench
from saddlebench.engine.alter import ShimPlace
from saddlebench.engine.alter.policy import Aim
from saddlebench.engine.back.levels import Level
from saddlebench.engine.back.record import Coat
from saddlebench.engine.back.regions import Across, Along
from saddlebench.engine.change.study import AGAINST_AROUND, BEYOND_CHANCE, NOT_WHY, SCREENING
from saddlebench.engine.fit.criteria import Note
from saddlebench.engine.fit.findings import TOUCHING, DoubtKind
from saddlebench.engine.fit.hand_slide import Feel
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import MeasureName, Part, PressureName
from saddlebench.engine.fit.saddle_error import MODE_WORDS
from saddlebench.engine.fit.settled import Outcome, Position
from saddlebench.engine.fit.study import CAUTIONS, NOT_RIGID_CAUTION, PEAK_CAUTION, SIDEWAYS_CAUTION
from saddlebench.engine.fit.uncertain import MARK_WORDS, REGIONS
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.model import Family
from saddlebench.exchange import phrases
from saddlebench.exchange.altering import SHORT_OF_IT, ZONE_WORDS
from saddlebench.exchange.drawings import (
    Drawing,
    Scene,
    back_view,
    findings_strip,
    line_load,
    overview,
    plan,
    section_row,
    sections,
    side,
)
from saddlebench.exchange.drawings.change_map import change_map
from saddlebench.exchange.drawings.change_numbers import change_numbers
from saddlebench.exchange.drawings.change_sections import change_sections
from saddlebench.exchange.drawings.doubt import doubt_chart
from saddlebench.exchange.drawings.trend import trend_chart
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.retelling import PLACEHOLDER, messages, noting_missed, retold
from saddlebench.report import owner_report, vet_report, workshop_report
from support.german import slipped
from support.reports import (
    change_study,
    doubtful_study,
    figures_of,
    fit_study,
    followed,
    setting,
    text_of,
)

GERMAN = Reader(language=Language.GERMAN)
SOURCE = Path(saddlebench.__file__).parent
CATALOGUE = SOURCE / "exchange" / "locale" / "de" / "LC_MESSAGES" / "saddlebench.po"
LISTS: tuple[type[StrEnum], ...] = (
    Verdict, State, Outcome, Position, Family, Note, DoubtKind, Feel, MeasureName, PressureName, Part, Aim,
    ShimPlace, Coat, Along, Across, Level,
)  # fmt: skip
SENTENCES = (
    *CAUTIONS, SIDEWAYS_CAUTION, PEAK_CAUTION, NOT_RIGID_CAUTION, *SCREENING, BEYOND_CHANCE, AGAINST_AROUND,
    NOT_WHY, SHORT_OF_IT, phrases.MODEL_NOTE, *phrases.PLAIN_NAMES.values(), *phrases.SHORT_DOUBTS.values(),
    *MARK_WORDS.values(), *MODE_WORDS.values(), *ZONE_WORDS.values(),
    *(f"Rider up, the saddle {note}." for note in TOUCHING.values()),
    *(f"how soft the back is over {region}" for region in REGIONS),
)  # fmt: skip
REASONS = {"NotMeasured", "Undetermined", "Doubt"}
STAND_INS = ("3", "12.5", "20 mm", "slides back", "near side", "20 mm behind the shoulder mark")
NOT_FOR_REPORTS = {
    "fit/second_opinion.py", "fit/halfspace.py", "fit/agreement.py", "fit/settled.py",
    "fit/worth_repeating.py",
}  # fmt: skip
"""Reasons that only pages and commands show."""


def missed_of(texts: Iterable[str]) -> list[str]:
    with noting_missed() as missed:
        for text in texts:
            retold(text, GERMAN)
    return missed


@pytest.mark.parametrize("listed", LISTS, ids=lambda one: one.__name__)
def test_every_member_that_a_report_may_show_is_told(listed: type[StrEnum]) -> None:
    assert missed_of(member.value for member in listed) == []


def test_every_fixed_sentence_is_told() -> None:
    assert missed_of(SENTENCES) == []


def parts_of(node: ast.expr) -> list[str | None] | None:
    """Return the pieces of a string expression, None for each that is filled in; None for no string."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        return [str(one.value) if isinstance(one, ast.Constant) else None for one in node.values]
    return None


def reasons() -> list[tuple[str, list[str | None]]]:
    found = []
    for folder in ("fit", "change"):
        for path in sorted((SOURCE / "engine" / folder).rglob("*.py")):
            place = path.relative_to(SOURCE / "engine").as_posix()
            if place in NOT_FOR_REPORTS or "repeat" in place or "trend" in place:
                continue
            for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in REASONS:
                    given = [*call.args, *(word.value for word in call.keywords if word.arg == "reason")]
                    found += [(place, parts) for one in given if (parts := parts_of(one))]
    return found


def test_every_reason_that_the_engine_gives_is_told() -> None:
    held = reasons()
    assert len(held) > 25
    untold = []
    for place, parts in held:
        holes = parts.count(None)
        fillings = product(STAND_INS, repeat=holes) if holes <= 3 else [(STAND_INS[0],) * holes]
        for filling in fillings:
            rest = iter(filling)
            if not missed_of(["".join(next(rest) if part is None else part for part in parts)]):
                break
        else:
            untold.append((place, parts))
    assert untold == []


def test_every_message_is_translated_with_its_placeholders() -> None:
    catalogue = messages(Language.GERMAN)
    assert len(catalogue) > 400
    for english, german in catalogue.items():
        assert german.strip(), english
        named = sorted(found[0] for found in PLACEHOLDER.finditer(english))
        assert sorted(found[0] for found in PLACEHOLDER.finditer(german)) == named, english
        # Every brace is a placeholder of a kind that is known.
        assert not re.search(r"[{}]", PLACEHOLDER.sub("", english) + PLACEHOLDER.sub("", german)), english
        assert english[-1:] in ".:?" or german[-1:] not in ".:", english


def test_the_compiled_catalogue_is_that_of_the_source() -> None:
    text = CATALOGUE.read_text(encoding="utf-8")
    assert "fuzzy" not in text
    pairs = re.findall(r'^msgid (".*")\nmsgstr (".*")$', text, re.MULTILINE)
    written = {ast.literal_eval(english): ast.literal_eval(german) for english, german in pairs}
    written.pop("", None)
    assert messages(Language.GERMAN) == written


def test_no_message_is_left_over() -> None:
    """Every word of a message's English stands in some string of the sources."""
    used: set[str] = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                used |= set(re.findall(r"[^\W_]+", node.value.lower()))
    for english in messages(Language.GERMAN):
        words = set(re.findall(r"[^\W_]+", PLACEHOLDER.sub(" ", english).lower()))
        assert words <= used, (english, words - used)


def test_the_check_for_english_finds_english() -> None:
    assert {"withers", "beside"} <= slipped(text_of(owner_report(fit_study(), setting())))
    assert "Widerrist" in text_of(owner_report(fit_study(), setting(Language.GERMAN)))


@pytest.mark.parametrize("who", ["owner", "workshop", "vet"])
def test_no_english_word_slips_into_a_german_report(who: str) -> None:
    held = setting(Language.GERMAN)
    with noting_missed() as missed:
        document = {
            "owner": lambda: owner_report(doubtful_study(), held),
            "workshop": lambda: workshop_report(doubtful_study(), held),
            "vet": lambda: vet_report(change_study(), held, followed=followed()),
        }[who]()
    assert missed == []
    assert slipped(text_of(document)) == set()
    for words in figures_of(document):
        assert slipped(words) == set()


def german_drawings() -> list[Drawing]:
    study, change = fit_study(), change_study()
    scene = Scene.of_study(study)
    assert isinstance(scene, Scene)
    return [
        back_view(scene), section_row(scene), sections(scene), line_load(scene), side(scene), plan(scene),
        overview(scene, study.findings), findings_strip(study.findings, pair=scene.pair),
        change_map(change), change_sections(change), change_numbers(change),
        trend_chart(followed().trends, advice=followed().advice),
        doubt_chart(doubtful_study().put.doubts[:3], pair=scene.pair),
    ]  # fmt: skip


def test_no_english_word_slips_into_a_german_drawing() -> None:
    with read_by(GERMAN), noting_missed() as missed:
        drawings = german_drawings()
    assert missed == []
    for drawing in drawings:
        written = " ".join(one.get_text() for one in drawing.figure.findobj(Text) if isinstance(one, Text))
        assert slipped(f"{written} {drawing.title} {drawing.description}") == set(), drawing.title
