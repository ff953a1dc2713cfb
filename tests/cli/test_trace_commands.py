"""The trace commands as a person runs them, and what a machine reads."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pypdf
import pytest
from click.testing import Result
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo import shapes
from saddlebench.demo.files import write_sheet
from saddlebench.demo.photographed import PenLine, Scene, photographed
from saddlebench.demo.traced import section_on_sheet, write_photos
from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.exchange.records import read_back
from saddlebench.exchange.sheets.layout import SheetKind, layout_of

OUTPUT = Draft202012Validator(output_schema())
PLACES = (0.0, 120.0)


def call(*words: object) -> Result:
    return CliRunner().invoke(app, ["trace", *(str(one) for one in words)])


def told(done: Result) -> Any:
    assert done.exit_code == 0, done.output
    held = json.loads(done.stdout)
    assert list(OUTPUT.iter_errors(held)) == []
    return held["result"]


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    layout = layout_of(SheetKind.SECTIONS, "a3")
    pictures = tuple(
        photographed(
            layout,
            [PenLine(points=section_on_sheet(shapes.PLAIN, place, layout))],
            Scene(tilt_deg=12.0, toward_deg=200.0, filled_rings=(k,)),
        )
        for k, place in enumerate(PLACES, start=1)
    )
    return write_photos(pictures, tmp_path_factory.mktemp("photos"))


def test_a_sheet_is_written_at_its_papers_true_size(tmp_path: Path) -> None:
    path = tmp_path / "sections.pdf"
    found = told(call("sheet", "sections", "--paper", "a4", "-o", path, "--json"))
    assert found["papers"] == 3
    with pypdf.PdfReader(path) as reader:
        assert len(reader.pages) == 3
        box = reader.pages[1].mediabox
        text = reader.pages[1].extract_text()
    assert float(box.width) * 25.4 / 72 == pytest.approx(210.0, abs=0.1)
    assert float(box.height) * 25.4 / 72 == pytest.approx(297.0, abs=0.1)
    assert "horse" in text
    assert "check: 100 mm" in text
    again = call("sheet", "sections", "-o", path)
    assert again.exit_code == 1


def test_photos_become_a_back_record_that_states_their_error(
    photos: tuple[Path, ...], tmp_path: Path
) -> None:
    sheet, output = tmp_path / "bramble.toml", tmp_path / "bramble.back.json"
    write_sheet(
        sheet,
        horse="Bramble",
        day=dt.date(2026, 5, 14),
        instrument="curve-mm",
        marks=shapes.PLAIN.landmarks,
        tilt_deg=(0.0, 0.0),
        story="invented",
    )
    without = call("back", *photos[:1], "--sheet", sheet, "--at", "0", "-o", output)
    assert without.exit_code == 1
    assert "topline was not measured" in " ".join(without.output.split())
    given = ("--sheet", sheet, "--at", "0, 120", "--heights", "0, -30", "-o", output)
    told(call("back", *photos, *given, "--json"))
    record = read_back(output)
    assert [one.distance_mm for one in record.readings.stations] == list(PLACES)
    assert isinstance(record.instrument, TracedCurve)
    assert 0.5 < record.instrument.point_sd_mm < 0.8
    assert record.instrument.scale_sd == pytest.approx(0.0034, abs=0.0005)


def test_what_was_read_is_told_and_drawn_on_the_photo(photos: tuple[Path, ...], tmp_path: Path) -> None:
    found = told(call("read", photos[0], "-o", tmp_path / "looked", "--json"))
    assert found["photos"][0]["stations"] == [1]
    assert len(found["photos"][0]["curves"]) == 1
    assert Path(found["written"][0]).read_bytes()[:2] == b"\xff\xd8"


def test_an_angle_carries_its_error_and_the_caution() -> None:
    found = told(call("angle", "0,1000 1000,0", "--level", "0,1500 2000,1500", "--json"))
    assert found["angle_deg"] == pytest.approx(45.0, abs=0.2)
    assert any("diagnosis" in one for one in found["sentences"])
    # The camera's stand, unknown to 8 degrees, is most of it; known lengths both ways take that away.
    known = ("--upright", "100,1500 100,500", "--level-mm", "1000", "--upright-mm", "500")
    put_right = told(
        call(
            "angle",
            "0,1000 1000,0",
            "--level",
            "0,1500 2000,1500",
            *known,
            "--photo-size",
            "2000x1500",
            "--json",
        )
    )
    assert put_right["angle_deg"] == pytest.approx(45.0, abs=0.2)
    assert put_right["sd_deg"] < found["sd_deg"] / 3.0


def test_wrong_calls_and_photos_are_answered_in_words(tmp_path: Path) -> None:
    assert call("sheet", "sidelines", "-o", tmp_path / "x.pdf").exit_code == 2
    words = tmp_path / "words.jpg"
    words.write_text("no picture")
    refused = call("read", words)
    assert refused.exit_code == 1
    assert "no picture that can be read" in refused.output
    assert call("angle", "1,1").exit_code == 2
