"""Files as a fitter keeps them, made once; and the commands, run as a person runs them."""

from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.demo.day import DAY
from saddlebench.demo.fieldwork import measured_at, scanned
from saddlebench.demo.files import write_marks_file, write_ply, write_saddle_file, write_sheet, write_table
from saddlebench.demo.yard import YARD
from saddlebench.exchange.instruments import example_instrument
from support.commands import Run


@pytest.fixture
def run() -> Run:
    """Return a function that runs a command and returns its result."""
    runner = CliRunner()
    return lambda *words: runner.invoke(app, [str(word) for word in words])


@pytest.fixture(scope="session")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a table, a sheet, a saddle file, a scan and its marks, of an invented horse."""
    folder = tmp_path_factory.mktemp("kept")
    horse = YARD[0]
    instrument = example_instrument("comb-41x10")
    rng = np.random.default_rng(5)
    write_table(measured_at(horse.shape, instrument, horse.stations_mm, rng), folder / "readings.csv")
    write_sheet(
        folder / "sheet.toml",
        horse="Bramble (invented)",
        day=DAY,
        instrument="comb-41x10",
        marks=horse.shape.landmarks,
        tilt_deg=(0.0, 0.0),
        story="",
    )
    write_saddle_file(horse.saddle, folder / "saddle.json")
    write_ply(*scanned(horse.shape, rng), folder / "scan.ply")
    write_marks_file(folder / "marks.toml", horse="Bramble (invented)", day=DAY, shape=horse.shape)
    return folder
