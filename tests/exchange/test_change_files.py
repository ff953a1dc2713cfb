"""A change study's file, pictures, words and JSON; saddles of one day on the back of another."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from saddlebench.demo.saddles import SADDLES
from saddlebench.engine.change.results import ChangeStudy, Comparison, NotComparable
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.units import Length
from saddlebench.exchange.change_job import change_files, rejudge
from saddlebench.exchange.change_json import change_as_json
from saddlebench.exchange.change_words import headline, patch_words, sentences, signed, told_spans
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, as_svg
from saddlebench.exchange.drawings.change_album import PICTURES, write_change_album
from saddlebench.exchange.drawings.change_ink import CHANGE_MAP, change_lab, srgb_of_lab
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.readers import Reader, read_by
from saddlebench.exchange.records import read_change, write_back, write_change
from support.visits import disc, visited

QUICK = ChangeSettings(simulations=600, draws=64)


@pytest.fixture(scope="module")
def study() -> ChangeStudy:
    backs = [visited(0, 1), visited(90, 2), visited(180, 3, change=disc(-9.0, 150.0, 0.4, 140.0))]
    return study_change(backs, settings=QUICK)


@pytest.fixture(scope="module")
def other_horse() -> ChangeStudy:
    return study_change([visited(0, 1), visited(90, 2, label="Kestrel (invented)")], settings=QUICK)


@pytest.mark.parametrize("name", ["study", "other_horse"])
def test_a_study_reads_back_as_it_was(name: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    held = request.getfixturevalue(name)
    path = tmp_path / "a.change.json"
    write_change(held, path)
    back = read_change(path)
    assert (back.horse, back.visits, back.steps, back.cautions) == (
        held.horse,
        held.visits,
        held.steps,
        held.cautions,
    )
    assert type(back.whole) is type(held.whole)
    if isinstance(held.whole, Comparison):
        assert isinstance(back.whole, Comparison)
        assert back.whole.numbers == held.whole.numbers
        np.testing.assert_allclose(back.whole.map.change_mm, held.whole.map.change_mm, atol=1e-4)
        assert np.array_equal(back.whole.map.common, held.whole.map.common)
    write_change(back, tmp_path / "b.change.json")
    assert (tmp_path / "b.change.json").read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (lambda held: held | {"version": 2}, "newer"),
        (lambda held: held | {"visits": held["visits"][:1]}, "visits"),
        (
            lambda held: held | {"steps": [{"compared": held["steps"][0]["compared"] | {"later": 9}}]},
            "visit 9",
        ),
        (lambda held: held | {"extra": 1}, "extra"),
    ],
)
def test_a_spoiled_file_is_refused_with_its_place(
    spoil, word: str, study: ChangeStudy, tmp_path: Path
) -> None:
    path = tmp_path / "a.change.json"
    write_change(study, path)
    path.write_text(json.dumps(spoil(json.loads(path.read_text(encoding="utf-8")))), encoding="utf-8")
    with pytest.raises(InputProblemsError, match=word):
        read_change(path)


def test_the_words_say_what_where_and_what_could_have_been_told(study: ChangeStudy) -> None:
    said = " ".join(sentences(study))
    assert isinstance(study.whole, Comparison)
    patch = patch_words(study.whole.scan.patches[0])
    assert "less" in patch
    assert "near (left)" in patch
    assert patch in said
    assert "95 of 100 cases" in said
    assert told_spans(study) == ((study.visits[2], study.visits[2]),)


def test_records_of_two_horses_are_told_apart_in_words(other_horse: ChangeStudy, tmp_path: Path) -> None:
    assert isinstance(other_horse.whole, NotComparable)
    assert headline(other_horse) == "These records cannot be compared."
    assert "two horses" in " ".join(sentences(other_horse))
    assert write_change_album(other_horse, tmp_path) == []
    assert change_as_json(other_horse)["compared"] is None


def test_numbers_are_drawn_in_the_readers_unit_which_is_named(study: ChangeStudy) -> None:
    plain = as_svg(PICTURES["change-numbers"](study, width_mm=PAGE_WIDTH_MM))
    with read_by(Reader(length=Length.INCH)):
        inches = as_svg(PICTURES["change-numbers"](study, width_mm=PAGE_WIDTH_MM))
    assert ("[mm]" in plain, "[″]" in plain, "[cm³]" in plain) == (True, False, True)
    assert ("[mm]" in inches, "[″]" in inches, "[cm³]" in inches) == (False, True, True)


def test_the_map_draws_where_a_patchs_middle_may_be_and_names_the_line(study: ChangeStudy) -> None:
    assert isinstance(study.whole, Comparison)
    drawn = as_svg(PICTURES["change-map"](study, width_mm=PAGE_WIDTH_MM))
    assert "where its middle is, in 95 of 100 cases" in drawn
    patches = tuple(replace(patch, middles_mm=()) for patch in study.whole.scan.patches)
    assert patches
    older = replace(study, whole=replace(study.whole, scan=replace(study.whole.scan, patches=patches)))
    # The line itself and its light edge, for every patch.
    lines = drawn.count("<path") - as_svg(PICTURES["change-map"](older, width_mm=PAGE_WIDTH_MM)).count(
        "<path"
    )
    assert lines >= 2 * len(patches)


@pytest.mark.parametrize("width", [PHONE_WIDTH_MM, PAGE_WIDTH_MM])
@pytest.mark.parametrize("name", list(PICTURES))
def test_pictures_are_of_the_papers_width_and_say_what_they_show(
    name: str, width: float, study: ChangeStudy
) -> None:
    drawing = PICTURES[name](study, width_mm=width)
    svg = as_svg(drawing)
    assert drawing.figure.get_figwidth() * 25.4 == pytest.approx(width)
    assert "Bramble (invented)" in drawing.title
    assert drawing.description
    assert svg.count("<title") >= 1
    assert svg == as_svg(PICTURES[name](study, width_mm=width))


def test_fuller_and_less_are_equally_strong_and_apart_for_colour_blind_eyes() -> None:
    """Lightness L* mirrors about the middle and falls evenly (CIE 1976); hues are blue and orange."""
    lab = change_lab(257)
    np.testing.assert_allclose(lab[:, 0], lab[::-1, 0])
    steps = np.diff(lab[:129, 0])
    np.testing.assert_allclose(steps, steps[0])
    assert np.all(np.hypot(lab[:, 1], lab[:, 2]) <= 60.0)
    assert lab[0, 2] < -30.0
    assert lab[-1, 2] > 30.0
    assert srgb_of_lab(np.array([[100.0, 0.0, 0.0]]))[0] == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)
    assert CHANGE_MAP(0.5)[:3] == pytest.approx([0.955] * 3, abs=0.02)


def test_numbers_that_round_to_nothing_carry_no_sign() -> None:
    assert signed(-0.04, 1) == "0.0"
    assert signed(1.24, 1) == "+1.2"


def test_files_of_records_make_a_study_that_names_them(tmp_path: Path) -> None:
    paths = []
    for k, back in enumerate((visited(0, 1), visited(90, 2))):
        paths.append(tmp_path / f"{k}.back.json")
        write_back(back.record, paths[-1])
    told: list[str] = []
    held = change_files(paths[::-1], settings=QUICK, progress=lambda _done, _of, doing: told.append(doing))
    assert [visit.measured_on for visit in held.visits] == [
        visited(0, 1).record.measured_on,
        visited(90, 2).record.measured_on,
    ]
    assert all(len(visit.version) == 64 for visit in held.visits)
    assert told[-1] == "done"


def test_a_saddle_is_judged_on_every_days_back() -> None:
    wasted = visited(180, 3, change=disc(-25.0, 60.0, 0.6, 300.0))
    held = rejudge([visited(0, 1), wasted], SADDLES[:1], StudyRequest(rider=Rider(mass_kg=70.0), draws=0))
    (one,) = held
    assert len(one.studies) == 2
    rows = one.rows()
    assert len(rows) >= 20
    assert all(len(row) == 2 for row in rows)
    assert set(one.changed()) <= set(rows)
    same = replace(one, studies=(one.studies[0], one.studies[0]))
    assert same.changed() == ()
