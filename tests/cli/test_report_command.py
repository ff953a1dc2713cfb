"""Reports from the command line: for whom, in which language, lengths and paper; what cannot be."""

import io
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest
from click.testing import Result
from PIL import Image

from saddlebench.exchange.records import write_change, write_study
from support.reports import NAMELESS, change_study, fit_study, text_of

Run = Callable[..., Result]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reports")
    write_study(fit_study(), folder / "fit.json")
    write_change(change_study(), folder / "change.json")
    held = io.BytesIO()
    Image.new("RGB", (80, 60), (90, 120, 60)).save(held, format="JPEG")
    (folder / "left.jpg").write_bytes(held.getvalue())
    (folder / "broken.png").write_bytes(b"\x89PNG broken")
    return folder


def test_the_owners_report_is_the_usual_one(files: Path, tmp_path: Path, run: Run) -> None:
    done = run("report", files / "fit.json", "-o", tmp_path / "a.pdf")
    assert done.exit_code == 0, done.stderr
    assert len(pypdf.PdfReader(tmp_path / "a.pdf").pages) == 1
    assert "What next" in text_of((tmp_path / "a.pdf").read_bytes())


def test_a_workshop_reads_german_on_letter_in_inches_under_a_letterhead(
    files: Path, tmp_path: Path, run: Run
) -> None:
    done = run(
        "report", files / "fit.json", "-o", tmp_path / "a.pdf", "--for", "workshop", "--in", "de",
        "--lengths", "in", "--paper", "letter", "--practice", "Rowan", "--line", "Mill Lane 3",
        "--logo", files / "left.jpg",
    )  # fmt: skip
    assert done.exit_code == 0, done.stderr
    document = (tmp_path / "a.pdf").read_bytes()
    text = text_of(document)
    assert text.startswith(f"Rowan Mill Lane 3 Für die Werkstatt: {NAMELESS} auf {NAMELESS}")
    assert "1,18″" in text
    assert float(pypdf.PdfReader(io.BytesIO(document)).pages[0].mediabox.width) == 612.0


def test_the_vet_gets_the_change_with_notes_and_photos(files: Path, tmp_path: Path, run: Run) -> None:
    done = run(
        "report", files / "change.json", "-o", tmp_path / "a.pdf", "--for", "vet", "--in", "en-us",
        "--noted", "Muscle behind the shoulder | full | hollow", "--first-photo", files / "left.jpg",
        "--last-photo", files / "left.jpg", "--json",
    )  # fmt: skip
    assert done.exit_code == 0, done.stderr
    text = text_of((tmp_path / "a.pdf").read_bytes())
    assert "Muscle behind the shoulder full hollow" in text
    assert "2 March 2026: left" in text
    assert "29 August 2026: left" in text


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--plan", "plan.json"), "workshop"),
        (("--noted", "a | b | c"), "vet"),
        (("--logo", "left.jpg"), "practice"),
        (("--in", "fr"), "fr"),
        (("--for", "vet", "--noted", "only this"), "what | first day | last day"),
    ],
)
def test_what_does_not_go_together_is_refused(
    options: tuple[str, ...], why: str, files: Path, tmp_path: Path, run: Run
) -> None:
    done = run("report", files / "fit.json", "-o", tmp_path / "a.pdf", *options)
    assert done.exit_code == 2
    assert why in " ".join(done.stderr.replace("│", " ").split())
    assert list(tmp_path.iterdir()) == []


def test_a_broken_logo_and_a_fit_check_for_the_vet_are_refused_in_words(
    files: Path, tmp_path: Path, run: Run
) -> None:
    out = tmp_path / "a.pdf"
    broken = run(
        "report", files / "fit.json", "-o", out, "--practice", "Rowan", "--logo", files / "broken.png"
    )
    assert (broken.exit_code, "cannot be read as a picture" in broken.stderr) == (1, True)
    wrong = run("report", files / "fit.json", "-o", out, "--for", "vet")
    assert (wrong.exit_code, "change study" in wrong.stderr) == (1, True)
    assert not out.exists()
