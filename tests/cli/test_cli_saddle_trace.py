"""The command that makes a saddle record from photos of tracings across its panels."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.traced import write_photos
from saddlebench.demo.traced_saddle import leans_deg, traced_saddle_photos
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import read_saddle
from saddlebench.exchange.saddles import saddle_document

RUNNER = CliRunner()
STATIONS = (20.0, 120.0, 240.0, 350.0)
MODEL = model_from_numbers(ALL_ROUND, 800)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    held = tmp_path_factory.mktemp("traced")
    write_photos(traced_saddle_photos(MODEL, behind_mm=STATIONS), held)
    numbers = replace(ALL_ROUND, label="Rowan (invented)")
    record = SaddleRecord(
        label=numbers.label, numbers=numbers, alterable=usual_alterations(numbers, "not known")
    )
    (held / "rowan.json").write_text(json.dumps(saddle_document(record)), encoding="utf-8")
    return held


def run(folder: Path, *more: str) -> tuple[int, dict[str, object], str]:
    photos = [str(folder / f"sheet-{k}.jpg") for k in (1, 2)]
    given = [*photos, "-s", str(folder / "rowan.json"), "-o", str(folder / "out.json"), "--json", *more]
    done = RUNNER.invoke(app, ["saddle", "trace", *given])
    return done.exit_code, json.loads(done.stdout) if done.stdout.startswith("{") else {}, done.output


def test_two_sheets_become_a_record_and_a_picture(folder: Path) -> None:
    leans = ", ".join(f"{one:.1f}" for one in leans_deg(MODEL, STATIONS))
    at = ", ".join(f"{one:g}" for one in STATIONS)
    code, told, said = run(folder, "--at", at, "--lean", leans, "--picture", str(folder / "seen.svg"))
    assert code == 0, said
    Draft202012Validator(output_schema()).validate(told)
    result = told["result"]
    assert isinstance(result, dict)
    assert abs(float(result["twist_deg"])) < float(result["twist_sd_deg"])
    assert [one["behind_mm"] for one in result["sections"]] == list(STATIONS)
    assert result["narrowest_channel_mm"] == pytest.approx(72.1, abs=1.0)
    assert any("not a diagnosis" in one for one in result["sentences"])
    record = read_saddle(folder / "out.json")
    assert record.shape_error is not None
    assert isinstance(record.underside, tuple)
    assert (folder / "seen.svg").read_text(encoding="utf-8").lstrip().startswith("<?xml")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--at", "20, x"), "no list of numbers"),
        (("--at", "20, 120", "--lean", "1; a"), "numbers and dashes"),
        (("--at", "20, 120", "--corners", "1,1 2,2"), "four corners"),
    ],
    ids=["stations", "leans", "corners"],
)
def test_what_is_written_otherwise_is_said_before_any_photo_is_read(
    folder: Path, more: tuple[str, ...], words: str
) -> None:
    code, _, said = run(folder, "--overwrite", *more)
    assert code == 2
    assert words in " ".join(said.replace("│", " ").split())


def test_a_saddle_without_panels_is_refused(folder: Path, tmp_path: Path) -> None:
    done = RUNNER.invoke(
        app,
        [
            "saddle",
            "trace",
            "none.jpg",
            "-s",
            str(tmp_path / "none.toml"),
            "--at",
            "20",
            "-o",
            "x.json",
            "--json",
        ],
    )
    assert done.exit_code != 0
    assert "none.toml" in done.output
