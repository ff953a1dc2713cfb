"""The command that makes a saddle record from a scan of the saddle upside down."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
import trimesh
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import read_saddle
from saddlebench.exchange.saddles import saddle_document
from support.upturned import underside_of, upturned

RUNNER = CliRunner()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    held = tmp_path_factory.mktemp("scan")
    mesh = underside_of(model_from_numbers(ALL_ROUND, 2000), spacing=3.5)
    made = upturned(mesh, 5, noise_mm=0.7, with_clutter=False)
    trimesh.Trimesh(made.vertices / 1000.0, made.faces, process=False).export(held / "scan.ply")
    numbers = replace(ALL_ROUND, label="Rowan (invented)")
    record = SaddleRecord(
        label=numbers.label, numbers=numbers, alterable=usual_alterations(numbers, "not known")
    )
    (held / "rowan.json").write_text(json.dumps(saddle_document(record)), encoding="utf-8")
    return held


def run(folder: Path, *more: str) -> tuple[int, dict[str, object]]:
    given = [str(folder / "scan.ply"), "-s", str(folder / "rowan.json"), "-o", str(folder / "out.json")]
    done = RUNNER.invoke(app, ["saddle", "scan", *given, "--json", *more])
    return done.exit_code, json.loads(done.stdout)


def test_a_scan_becomes_a_record(folder: Path) -> None:
    code, told = run(folder, "--unit", "m", "--picture", str(folder / "seen.svg"), "--overwrite")
    assert code == 0, told
    result = told["result"]
    assert isinstance(result, dict)
    channel = ALL_ROUND.panel.channel_mm
    assert result["channel_mm"] == pytest.approx(list(channel), abs=3.0)
    twist, sure = float(result["twist_deg"]), float(result["twist_sd_deg"])
    assert abs(twist) < 2.0 * sure < 2.0
    assert "the tree’s points" in str(result["sentences"])
    record = read_saddle(folder / "out.json")
    assert record.shape_error is not None
    assert (folder / "seen.svg").read_text(encoding="utf-8").lstrip().startswith("<?xml")


@pytest.mark.parametrize(
    ("more", "words"),
    [((), "Likely: m"), (("--unit", "ft"), "no unit"), (("--unit", "m", "--heading", "up"), "pommel")],
)
def test_what_is_not_stated_is_asked(folder: Path, more: tuple[str, ...], words: str) -> None:
    code, told = run(folder, "--overwrite", *more)
    assert code == 1
    assert words in json.dumps(told, ensure_ascii=False)
