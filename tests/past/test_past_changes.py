"""Change studies that earlier versions wrote are read, told and drawn by this one."""

import gzip
from pathlib import Path

import numpy as np
import pytest

from saddlebench.engine.change.results import ChangeStudy, Comparison, Step
from saddlebench.exchange.change_json import change_as_json
from saddlebench.exchange.change_words import headline, sentences
from saddlebench.exchange.drawings import PHONE_WIDTH_MM, as_svg
from saddlebench.exchange.drawings.change_map import change_map
from saddlebench.exchange.records import read_change, write_change

HELD = sorted((Path(__file__).parent / "changes").glob("*.json.gz"))


@pytest.fixture(params=HELD, ids=lambda path: path.name.removesuffix(".json.gz"))
def written(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[ChangeStudy, Path]:
    """Return a study of an earlier version, and its file."""
    path = tmp_path / "old.change.json"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    return read_change(path), path


def test_there_are_studies_of_earlier_versions() -> None:
    assert len(HELD) >= 2


def test_an_earlier_study_says_what_it_said(written: tuple[ChangeStudy, Path]) -> None:
    study, _ = written
    whole = study.whole
    assert isinstance(whole, Comparison)
    (patch,) = whole.scan.patches
    assert patch.s_mm == pytest.approx(124.563, abs=1e-3)
    assert patch.depth.value == pytest.approx(7.7587, abs=1e-4)
    assert whole.map.is_real.shape == (whole.map.grid.n_s, whole.map.grid.n_phi)
    assert [step.scan.is_told for step in study.steps if isinstance(step, Step)] == [False, True]


def test_what_an_earlier_version_did_not_work_out_is_not_claimed(written: tuple[ChangeStudy, Path]) -> None:
    study, path = written
    whole = study.whole
    assert isinstance(whole, Comparison)
    assert whole.least_wide is None
    (patch,) = whole.scan.patches
    assert (patch.sure, patch.middles_mm) == (0.0, ())
    text = path.read_text(encoding="utf-8")
    if "place_sd_mm" not in text:
        assert patch.place_sd_mm == 0.0
        assert "its place sure to" not in " ".join(sentences(study))
    if '"expected":' not in text:
        assert all(move.expected == 0.0 for move in whole.registration.moves)


def test_an_earlier_study_is_told_and_drawn(written: tuple[ChangeStudy, Path]) -> None:
    study, _ = written
    assert headline(study) == "The back has changed in one place by more than measuring error explains."
    said = change_as_json(study)
    assert len(said["compared"]["patches"]) == 1
    assert "mm fuller" in " ".join(said["sentences"])
    assert "change-map" in as_svg(change_map(study, width_mm=PHONE_WIDTH_MM))


def test_written_again_it_reads_the_same(written: tuple[ChangeStudy, Path], tmp_path: Path) -> None:
    study, _ = written
    again = tmp_path / "again.change.json"
    write_change(study, again)
    held = read_change(again)
    assert isinstance(held.whole, Comparison)
    assert isinstance(study.whole, Comparison)
    assert (held.visits, held.steps, held.whole.numbers) == (study.visits, study.steps, study.whole.numbers)
    np.testing.assert_array_equal(held.whole.map.change_mm, study.whole.map.change_mm)
