"""The marks file: nothing is guessed, everything wrong is told at once, and its schema is published."""

import json
import tomllib
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.scans import read_marks, read_scan
from saddlebench.exchange.scans.marks import MarksFile, marks_from_table
from support.meshes import MARKS, trunk, write_marks

REPOSITORY = Path(__file__).resolve().parents[2]

SCHEMA = json.loads(files("saddlebench.exchange.scans").joinpath("marks.schema.json").read_text("utf-8"))
GOOD = {
    "unit": "mm",
    "up": {"axis": "+z"},
    "head": {"axis": "+x"},
    "marks": {"shoulder": [0, 0, 0], "last_rib": [-540, 0, 0]},
}


def sentences(table):
    with pytest.raises(InputProblemsError) as caught:
        marks_from_table(table, "marks.toml")
    return [str(problem) for problem in caught.value.problems]


def changed(**parts):
    return {key: value for key, value in (GOOD | parts).items() if value is not None}


def test_the_published_schema_is_the_one_that_is_used():
    wanted = {"$schema": "https://json-schema.org/draft/2020-12/schema", **MarksFile.model_json_schema()}
    assert wanted == SCHEMA
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(
    "path", sorted((REPOSITORY / "tests/data/marks").glob("*.toml")), ids=lambda p: p.stem
)
def test_marks_files_of_the_tests_obey_the_schema(path):
    table = tomllib.loads(path.read_text("utf-8"))
    jsonschema.validate(table, SCHEMA)
    assert read_marks(path).named_points.keys() >= {"shoulder", "last_rib"}


def test_a_unit_is_asked_for_never_guessed():
    told = sentences(changed(unit=None))
    assert len(told) == 1
    assert "neither its unit nor one length is stated" in told[0]
    assert "never guessed" in told[0]
    both = changed(known_length={"between": ["shoulder", "last_rib"], "length_mm": 540})
    assert "both a unit and a known length" in sentences(both)[0]


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"up": None}, "“up” is missing"),
        ({"up": {}}, "“up” must be stated in exactly one way"),
        ({"up": {"axis": "+z", "vector": [0, 0, 1]}}, "“up” must be stated in exactly one way"),
        ({"up": {"axis": "z"}}, "Write one of '+x', '-x'"),
        ({"head": None}, "“head” is missing"),
        ({"head": {"vector": [1, 2]}}, "this is no point or direction"),
        ({"unit": "furlong"}, "Write one of 'mm', 'cm', 'm' or 'in'"),
        ({"marks": {"shoulder": [0, 0, 0]}}, "“marks.last_rib” is missing"),
        ({"marks": GOOD["marks"] | {"shoulder": "suggest"}}, "this is no point or direction"),
        ({"marks": GOOD["marks"] | {"withers": "somewhere"}}, "this is no point or direction"),
        ({"marks": GOOD["marks"] | {"lowest": [0, 0, float("nan")]}}, "this is no point or direction"),
        ({"marks": GOOD["marks"] | {"wither": [0, 0, 0]}}, "Did you mean “withers”?"),
        ({"unti": "mm"}, "Did you mean “unit”?"),
        ({"spine_strip_width_mm": -4}, "out of its range"),
        ({"errors": {"point_sd_mm": "few"}}, "this is not a number"),
    ],
)
def test_what_is_wrong_is_told_with_its_place_and_its_cure(parts, words):
    told = sentences(changed(**parts))
    assert any(words in sentence for sentence in told), told
    assert all(sentence.startswith("marks.toml") for sentence in told)


def test_everything_wrong_is_told_together():
    told = sentences(
        {"unit": "yards", "head": {"axis": "up"}, "marks": {"shoulder": [1, 2], "lats_rib": [0, 0, 0]}}
    )
    joined = " | ".join(told)
    for words in (
        "unit",
        "“up” is missing",
        "head.axis",
        "marks.shoulder",
        "Did you mean “last_rib”",
        "marks.last_rib",
    ):
        assert words in joined


def test_a_known_length_must_name_points_that_are_there():
    parts = {"known_length": {"between": ["withers", "hoof"], "length_mm": 1600}, "unit": None}
    told = sentences(changed(**parts))
    assert len(told) == 2
    assert "“hoof”, which is no point of this file" in told[1]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "“up” is missing"),
        (b"unit = ", "not valid TOML"),
        (b"\xff\xfe\x00\x01", "no text"),
        (b"a = 1\n" * 20_000, "more than 64 kB"),
        (b"a = " + b"[" * 20_000, "not valid TOML"),
    ],
)
def test_a_file_that_is_no_marks_file_gives_a_sentence(tmp_path, content, words):
    path = tmp_path / "marks.toml"
    path.write_bytes(content)
    with pytest.raises(InputProblemsError, match=words):
        read_marks(path)
    with pytest.raises(InputProblemsError, match="cannot be opened"):
        read_marks(tmp_path / "nothing.toml")


def test_problems_of_both_files_are_told_together(tmp_path):
    (tmp_path / "a.ply").write_bytes(b"")
    (tmp_path / "marks.toml").write_text("unit = 'ell'")
    with pytest.raises(InputProblemsError) as caught:
        read_scan(tmp_path / "a.ply", tmp_path / "marks.toml")
    assert {problem.where.file for problem in caught.value.problems} == {"a.ply", "marks.toml"}


@pytest.fixture(scope="module")
def mesh_path(tmp_path_factory):
    path = tmp_path_factory.mktemp("mesh") / "trunk.ply"
    trunk().export(path)
    return path


def test_a_known_length_sets_the_size_and_its_error(tmp_path, mesh_path):
    head = MARKS.replace(
        'unit = "mm"', 'known_length = { between = ["shoulder", "last_rib"], length_mm = 1100, sd_mm = 11 }'
    )
    scan = read_scan(mesh_path, write_marks(tmp_path, head))
    apart = scan.marks[ScanMark.SHOULDER] - scan.marks[ScanMark.LAST_RIB]
    assert np.linalg.norm(apart) == pytest.approx(1100.0)
    # 1 % of the length, with 0.5 % that any scan has by default.
    assert scan.instrument.scale_sd == pytest.approx(np.hypot(0.01, 0.005))


def test_an_upright_length_counts_height_only(tmp_path, mesh_path):
    known = 'known_length = { between = ["a", "b"], length_mm = 500, measured = "upright" }'
    head = MARKS.replace('unit = "mm"', known)
    path = write_marks(tmp_path, head)
    path.write_text(path.read_text() + "[points]\na = [10, 20, 0]\nb = [400, 0, 500]\n")
    assert np.ptp(read_scan(mesh_path, path).vertices_instrument[:, 0]) == pytest.approx(
        np.ptp(trunk().vertices[:, 0]), abs=0.1
    )
    path.write_text(path.read_text().replace("b = [400, 0, 500]", "b = [400, 0, 0]"))
    with pytest.raises(InputProblemsError, match="at the same place"):
        read_scan(mesh_path, path)


def test_inches_stated_are_inches(tmp_path, mesh_path):
    scan = read_scan(mesh_path, write_marks(tmp_path, MARKS.replace('"mm"', '"in"')))
    with pytest.raises(InputProblemsError, match="which no horse has"):
        align_scan(scan)


def test_three_points_of_the_ground_give_up(tmp_path, mesh_path):
    ground = "up = { ground = [[0, 0, -900], [-900, 0, -900], [0, 300, -900]] }"
    scan = read_scan(mesh_path, write_marks(tmp_path, MARKS.replace('up = { axis = "+z" }', ground)))
    np.testing.assert_allclose(scan.up, [0.0, 0.0, 1.0])
    line = "up = { ground = [[0, 0, -900], [-900, 0, -900], [300, 0, -900]] }"
    with pytest.raises(InputProblemsError, match="lie in one line"):
        read_scan(mesh_path, write_marks(tmp_path, MARKS.replace('up = { axis = "+z" }', line)))


def test_a_head_above_the_horse_is_refused(tmp_path, mesh_path):
    with pytest.raises(InputProblemsError, match="straight above or below"):
        read_scan(mesh_path, write_marks(tmp_path, MARKS.replace('"+x"', '"-z"')))


def test_suggestions_and_the_spine_strip_are_carried(tmp_path, mesh_path):
    head = "spine_strip_width_mm = 44\n" + MARKS
    scan = read_scan(mesh_path, write_marks(tmp_path, head, withers="suggest", lowest="suggest"))
    assert scan.suggest == {ScanMark.WITHERS, ScanMark.LOWEST}
    assert isinstance(scan.spine_strip_width_mm, Mark)
    assert align_scan(scan).landmarks.spine_strip_width.value_mm == 44.0


def test_the_marks_file_in_the_guide_is_a_good_one():
    guide = (REPOSITORY / "docs" / "how-to" / "bring-a-scan.md").read_text("utf-8")
    examples = [part.split("```")[0] for part in guide.split("```toml\n")[1:]]
    (example,) = (one for one in examples if "[marks]" in one)
    marks = marks_from_table(tomllib.loads(example), "guide")
    jsonschema.validate({k: v for k, v in tomllib.loads(example).items() if k != "measured_on"}, SCHEMA)
    assert marks.measured_on.isoformat() == "2026-05-14"
    assert marks.known_length.measured == "upright"
