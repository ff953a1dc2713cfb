"""The yard card as a command: written, counted, refused in words, and no data folder for it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pypdf
import pytest
from jsonschema import Draft202012Validator

from saddlebench.cli.output_schema import output_schema
from support.commands import Run


def test_a_card_is_written_and_counted(tmp_path: Path, run: Run) -> None:
    path = tmp_path / "card.pdf"
    done = run("yard-card", "-i", "chain-12x30", "--parts", "back", "--sections", 2, "-o", path, "--json")
    assert done.exit_code == 0, done.output
    held = json.loads(done.stdout)
    assert list(Draft202012Validator(output_schema()).iter_errors(held)) == []
    # Marks 5, stance and coat 5, two heights, (12 + 12 joints, tilt, square) three times, girth and strip.
    assert held["result"]["fields"] == 5 + 5 + 2 + 3 * 26 + 2
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    assert "Section 1 again" in " ".join(text.split())
    assert run("yard-card", "-o", path).exit_code == 1, "what is there is not written over unasked"


@pytest.mark.parametrize("option", ["--in", "--language"])
def test_a_card_is_written_in_german(tmp_path: Path, run: Run, option: str) -> None:
    path = tmp_path / "karte.pdf"
    done = run("yard-card", option, "de", "--parts", "visit", "-o", path)
    assert done.exit_code == 0, done.output
    text = " ".join(pypdf.PdfReader(path).pages[0].extract_text().split())
    assert text.startswith("Stallkarte Pferd Tag")
    assert "Zuerst kommt der Tierarzt" in text


@pytest.mark.parametrize(
    ("words", "said", "code"),
    [
        (("-i", "scan"), "not read by hand", 1),
        (("-i", "chain12x30"), "no shipped instrument “chain12x30”. Choose one of: chain-12x30", 1),
        (("--parts", "back, seat"), "“seat” is not one of visit, back, saddle", 2),
        (("--in", "fr"), "“fr” is not one of en, de", 2),
        (("--paper", "a5"), "“a5” is not one of a4, letter", 2),
        (("--sections", "40"), "less than or equal to 12", 2),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    tmp_path: Path, run: Run, words: tuple[str, ...], said: str, code: int
) -> None:
    done = run("yard-card", *words, "-o", tmp_path / "card.pdf")
    assert done.exit_code == code
    assert said in " ".join(done.output.split())
    assert not (tmp_path / "card.pdf").exists()


def test_it_needs_no_records_and_leaves_none(tmp_path: Path) -> None:
    home, out = tmp_path / "home", tmp_path / "card.pdf"
    named = {key: value for key, value in os.environ.items() if key != "DJANGO_SETTINGS_MODULE"}
    code = "from saddlebench.cli import main; main()"
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code, "yard-card", "--parts", "visit", "-o", str(out)],
        env={**named, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert out.is_file()
    assert not home.exists()
