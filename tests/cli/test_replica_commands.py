"""Rebuilding a back elsewhere by the commands, as a person runs them, and what a machine reads."""

import json
import re
from pathlib import Path
from typing import Any

import pypdf
import pytest
from click.testing import Result
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo.files import write_table
from saddlebench.engine.back.readings import BackReadings, StationReadings
from saddlebench.exchange.instruments import example_instrument, write_instrument
from saddlebench.exchange.records import SettingsDocument, parse_document, write_back
from saddlebench.exchange.schemas import SCHEMAS
from support.commands import Run
from support.rebuilt import back_of, rebuilt

OUTPUT = Draft202012Validator(output_schema())
COMB = "comb-24x15-foot"


def told(done: Result) -> Any:
    assert done.exit_code == 0, done.output
    held = json.loads(done.stdout)
    assert list(OUTPUT.iter_errors(held)) == []
    return held["result"]


@pytest.fixture(scope="module")
def back(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("replica") / "back.json"
    write_back(back_of().record, path)
    return path


@pytest.fixture(scope="module")
def kit(back: Path) -> tuple[Path, Any]:
    folder = back.parent / "kit"
    words = ["replica", "kit", back, "-o", folder, "-i", COMB, "-i", "scan", "--json"]
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    held = json.loads(done.stdout)
    assert list(OUTPUT.iter_errors(held)) == []
    return folder, held


def test_the_kit_holds_every_way_to_rebuild_and_says_what_it_left_out(kit: tuple[Path, Any]) -> None:
    folder, held = kit
    written = [Path(path) for path in held["result"]["written"]]
    assert all(path.is_file() and path.stat().st_size > 0 for path in written)
    kinds = {(path.parent.name, path.suffix) for path in written}
    assert kinds >= {
        ("settings", ".pdf"), ("settings", ".json"), ("templates", ".pdf"), ("templates", ".svg"),
        ("templates", ".dxf"), ("ribs", ".svg"), ("ribs", ".dxf"), ("solid", ".3mf"), ("solid", ".stl"),
        ("solid", ".glb"),
    }  # fmt: skip
    about = (folder / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    assert "cannot hold one" in about
    assert any("cannot hold one" in problem["what"] for problem in held["problems"])
    assert "not a diagnosis" in about
    assert "A rebuild is hard; the horse is not." in about


def test_settings_as_a_document_are_under_the_published_schema_and_read_back(kit: tuple[Path, Any]) -> None:
    (path,) = (kit[0] / "settings").glob("*.json")
    text = path.read_text(encoding="utf-8")
    schema = Draft202012Validator(SCHEMAS["settings"].make())
    assert list(schema.iter_errors(json.loads(text))) == []
    held = parse_document(SettingsDocument, text, str(path))
    assert len(held.back_version) == 64
    assert held.readings().stations == held.stations
    assert max(fit.off_by_mm for fit in held.fits) < 1.0


def test_the_sheet_of_settings_says_every_reading_and_its_cautions(kit: tuple[Path, Any]) -> None:
    (path,) = (kit[0] / "settings").glob("*.pdf")
    reader = pypdf.PdfReader(path)
    words = "\n".join(page.extract_text() for page in reader.pages)
    assert words.count("Station ") >= 11
    assert "off by up to" in words
    assert "not a diagnosis" in words
    (document,) = (kit[0] / "settings").glob("*.json")
    station = json.loads(document.read_text(encoding="utf-8"))["stations"][4]
    shown = [f"{one:g}" for one in station["left"] if one is not None]
    assert all(one in words for one in shown)


def test_what_was_set_is_checked_from_a_table(back: Path, tmp_path: Path, run: Run) -> None:
    made = told(run("replica", "settings", back, "-i", COMB, "-o", tmp_path, "--json"))
    assert len(made["stations"]) == 11
    (document,) = tmp_path.glob("*.json")
    held = parse_document(SettingsDocument, document.read_text(encoding="utf-8"), str(document))
    right = held.readings()
    write_table(right, tmp_path / "as-set.csv")
    checked = told(run("replica", "check", back, tmp_path / "as-set.csv", "-i", COMB, "--json"))
    assert all(one["good"] for one in checked)

    first = right.stations[0]
    assert isinstance(first, StationReadings)
    row = list(first.left)
    assert row[3] is not None
    row[3] += 6.0
    wrong = BackReadings(
        stations=(
            StationReadings(number=1, distance_mm=first.distance_mm, left=tuple(row), right=first.right),
        ),
        topline=right.topline,
    )
    write_table(wrong, tmp_path / "wrong.csv")
    (one,) = told(run("replica", "check", back, tmp_path / "wrong.csv", "-i", COMB, "--json"))
    assert not one["good"]
    assert [(move["part"], move["by"]) for move in one["moves"]] == [("pin 9", -6.0)]
    spoken = run("replica", "check", back, tmp_path / "wrong.csv", "-i", COMB)
    assert "move pin 9 on the near side by −6, to" in " ".join(spoken.stdout.split())


def test_the_terminal_gives_lengths_in_inches_where_asked(back: Path, tmp_path: Path, run: Run) -> None:
    words = ["replica", "settings", back, "-o", tmp_path, "-i", COMB, "--at", "0, 150"]
    in_mm, in_inches = (
        run(*words).stdout,
        run(*words[:4], tmp_path / "in", *words[5:], "--lengths", "in").stdout,
    )
    assert "behind the mark, mm" in in_mm
    assert "behind the mark, ″" in in_inches
    # 150 mm are 5.9 inches of 25.4 mm.
    assert re.search(r"^ *2 +150 ", in_mm, re.MULTILINE)
    assert re.search(r"^ *2 +5\.9 ", in_inches, re.MULTILINE)


def test_a_rebuild_is_proved_with_a_check_sheet(back: Path, tmp_path: Path, run: Run) -> None:
    tool = example_instrument("comb-41x10")
    write_back(rebuilt(back_of().record.readings, tool).record, tmp_path / "rebuild.json")
    sheet = tmp_path / "sheet.pdf"
    found = told(run("replica", "prove", back, tmp_path / "rebuild.json", "-o", sheet, "--json"))
    assert found["verdict"] == "good"
    words = "\n".join(page.extract_text() for page in pypdf.PdfReader(sheet).pages)
    assert "Good: the rebuild shows the record." in words
    assert "not a diagnosis" in words
    again = run("replica", "prove", back, tmp_path / "rebuild.json", "-o", sheet)
    assert again.exit_code == 1
    assert "already there" in again.output


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["ribs", "--sheet", "300x200"], 1, "does not fit on the sheet"),
        (["ribs", "--sheet", "big"], 2, "1000x700"),
        (["ribs", "--thickness", "30", "--spacing", "40"], 1, "“spacing”"),
        (["solid", "--bed", "100x100x100"], 1, "the bed takes"),
        (["templates", "--at", "0, 4000"], 1, "measure a station there"),
        (["templates", "--at", "near the withers"], 2, "list of distances"),
        (["templates", "--measured-across", "97"], 1, "Measure both bars"),
        (["templates", "--measured-across", "9.7", "--measured-down", "100"], 1, "100 mm long in truth"),
        (["settings", "-i", "scan"], 1, "cannot hold one"),
        (["settings", "-i", "no-such"], 1, "no shipped instrument"),
    ],
)
def test_bad_input_is_said_in_a_sentence(
    back: Path, tmp_path: Path, run: Run, words: list[str], status: int, said: str
) -> None:
    done = run("replica", words[0], back, "-o", tmp_path / "out", *words[1:])
    assert done.exit_code == status, done.output
    assert said in " ".join(done.output.replace("│", " ").split())
    assert "Traceback" not in done.output
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_an_instrument_of_ones_own_is_read_from_its_file(back: Path, tmp_path: Path, run: Run) -> None:
    write_instrument(example_instrument("chain-8-uneven"), tmp_path / "mine.json")
    made = told(
        run("replica", "settings", back, "-i", tmp_path / "mine.json", "-o", tmp_path / "o", "--json")
    )
    assert made["off_by_mm"] < 1.0


def test_a_settings_file_is_shown_in_the_order_one_sets_it(back: Path, tmp_path: Path, run: Run) -> None:
    made = told(run("replica", "settings", back, "-i", COMB, "-o", tmp_path, "--json"))
    (document,) = tmp_path.glob("*.json")
    shown = told(run("show", document, "--json"))
    assert shown == {**made, "written": []}
    lines = run("show", document).stdout.splitlines()
    parts = [line.split() for line in lines]
    held = parse_document(SettingsDocument, document.read_text(encoding="utf-8"), str(document))
    of_stations = [one for one in held.steps if one.station is not None]
    first = next(i for i, words in enumerate(parts) if words[:1] == ["1"])
    assert parts[first][-1] == f"{of_stations[0].reading:g}"
    assert sum("comes within" in line for line in lines) == len(held.fits)


@pytest.mark.parametrize(("beside", "members"), [("none", 1), ("60, 110", 5)])
def test_members_beside_the_midline_can_be_chosen(
    back: Path, tmp_path: Path, run: Run, beside: str, members: int
) -> None:
    told(run("replica", "ribs", back, "-o", tmp_path, "--beside", beside, "--sheet", "1500x1200", "--json"))
    text = "".join(path.read_text(encoding="utf-8") for path in tmp_path.glob("*.svg"))
    assert len(set(re.findall(r">(L\d+)<", text))) == members
