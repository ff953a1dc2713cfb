"""One name per thing: what people can meet in the code stands on the words page or a reference page."""

import re
import runpy
from enum import Enum
from pathlib import Path

import pytest
from typer.main import get_command

from saddlebench.cli.app import app
from saddlebench.engine.back.quality import Verdict as RecordVerdict
from saddlebench.engine.back.record import Coat
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.hand_slide import Feel
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.settled import Outcome, Position
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.model import Family, PadCut, Zone

DOCS = Path(__file__).resolve().parents[2] / "docs"
NEVER_ON_A_SCREEN = re.compile(r"\b(pose|residuals?|settl(?:e|es|ed|ing)|convergence|draws)\b", re.IGNORECASE)


def words_page() -> str:
    return (DOCS / "reference" / "words.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "member",
    [
        m
        for kind in (Family, Outcome, Position, State, Verdict, RecordVerdict, Coat, Feel, PadCut)
        for m in kind
    ],
    ids=lambda member: f"{type(member).__name__}-{member.value}",
)
def test_every_word_the_program_says_stands_on_the_words_page(member: Enum) -> None:
    assert str(member.value) in words_page()


@pytest.mark.parametrize("zone", list(Zone))
def test_every_zone_stands_on_the_words_page(zone: Zone) -> None:
    assert zone.name.lower() in words_page()


def test_every_finding_stands_on_the_findings_page() -> None:
    page = (DOCS / "reference" / "findings.md").read_text(encoding="utf-8").lower()
    assert [name.value for name in FindingName if name.value.lower() not in page] == []


def test_every_link_in_the_documentation_leads_somewhere() -> None:
    links = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
    broken = [
        f"{page.name}: {target}"
        for page in [*DOCS.rglob("*.md"), DOCS.parent / "README.md"]
        for target in links.findall(page.read_text(encoding="utf-8"))
        if not (page.parent / target).exists()
    ]
    assert broken == []


def test_the_commands_help_uses_no_solver_words() -> None:
    page = (DOCS / "reference" / "commands.md").read_text(encoding="utf-8")
    assert NEVER_ON_A_SCREEN.findall(page) == []
    assert app.registered_commands


def test_every_command_stands_on_the_commands_page() -> None:
    helps = runpy.run_path(str(DOCS.parent / "scripts" / "write_commands.py"))["helps"]
    text = (DOCS / "reference" / "commands.md").read_text(encoding="utf-8")
    headings = re.findall(r"(?m)^## (.+)$", text)
    assert headings == [words for words, _ in helps(get_command(app), "saddlebench")]
    assert len(headings) > 12
