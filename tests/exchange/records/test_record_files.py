"""Record files: what is written is read back, and what is broken is refused with its place."""

import datetime as dt
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from exchange.studies import COMB, back_record, study
from saddlebench.demo.saddles import (
    ALL_ROUND,
    BARS,
    CUT_BACK,
    EVERYDAY_NUMNAH,
    FLEXIBLE,
    SIDE_SADDLE,
    TREELESS,
)
from saddlebench.engine.back.instruments import JointedChain, Scale, Scan, TracedCurve, even_arm
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.readings import (
    BackReadings,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import BackRecord, Coat
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Weight, Where
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord, UndersideMesh
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.units import Length
from saddlebench.exchange import schemas
from saddlebench.exchange.drawings import Scene, line_load, plan, section_row, side
from saddlebench.exchange.records import (
    BackDocument,
    SaddleDocument,
    ScanFile,
    StudyDocument,
    read_back,
    read_saddle,
    read_study,
    schema_of,
    write_back,
    write_saddle,
    write_study,
)
from saddlebench.exchange.records.document import as_json

QUICK = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
KINDS = {"back": BackDocument, "saddle": SaddleDocument, "study": StudyDocument}

number = st.floats(-1e6, 1e6, allow_nan=False)
text = st.text(max_size=30)
label = st.text(min_size=1, max_size=30)
mark = st.builds(Mark, number, st.floats(0.1, 100.0)) | st.builds(NotMeasured, text)
landmarks = st.builds(Landmarks, withers=mark, last_rib=mark, girth_groove=mark)
readings = st.lists(st.none() | number, max_size=6).map(tuple)
station = st.builds(
    StationReadings,
    number=st.integers(1, 40),
    distance_mm=number,
    left=readings,
    right=readings,
    middle=st.none() | number,
    tilt_deg=number,
    repeat=st.integers(0, 3),
)
points = st.lists(st.tuples(number, number), max_size=5).map(tuple)
section = st.builds(SectionPoints, number=st.integers(1, 40), distance_mm=number, left=points, right=points)
heights = st.builds(
    ToplineHeights,
    distance_mm=st.lists(number, max_size=4).map(tuple),
    height_mm=st.lists(number, max_size=4).map(tuple),
)
joints = st.builds(ToplineJoints, start_mm=number, level_deg=number, joints=readings)
topline = heights | joints | st.builds(NotMeasured, text)
ARM = even_arm(5, 40.0, Scale(lowest=-90.0, highest=90.0, step=0.5))
read_off = st.tuples(
    st.just(COMB) | st.just(JointedChain(name="chain", left=ARM, right=ARM)), st.lists(station, max_size=4)
)
drawn = st.tuples(
    st.builds(TracedCurve, name=st.just("curve"), mm_per_unit=st.floats(0.1, 10.0))
    | st.builds(Scan, name=st.just("scan"), scale_sd=st.floats(0.0, 0.5)),
    st.lists(section, max_size=4),
)


@st.composite
def back_records(draw):
    instrument, stations = draw(read_off | drawn)
    return BackRecord(
        label=draw(label),
        measured_on=draw(st.dates()),
        instrument=instrument,
        readings=BackReadings(stations=tuple(stations), topline=draw(topline)),
        stance=Stance(pitch_deg=draw(number), roll_deg=draw(number)),
        landmarks=draw(landmarks),
        coat_mm=draw(st.floats(0.0, 100.0) | st.builds(NotMeasured, text)),
        coat=draw(st.sampled_from(Coat)),
        notes=draw(text),
    )


@given(record=back_records())
@QUICK
def test_a_back_record_is_read_back_to_the_last_digit(record, tmp_path):
    path = tmp_path / "back.json"
    write_back(record, path)
    assert read_back(path) == record
    Draft202012Validator(schema_of(BackDocument)).validate(json.loads(path.read_text("utf-8")))


def test_a_scan_names_the_file_it_was_cut_from(tmp_path):
    record = BackRecord(
        label="scan",
        measured_on=dt.date(2026, 1, 1),
        instrument=Scan(name="scanner"),
        readings=BackReadings(stations=(SectionPoints(number=1, distance_mm=0.0, left=((10.0, -3.25),)),)),
    )
    source = ScanFile(name="back.ply", sha256="0123456789abcdef" * 4)
    path = tmp_path / "scan.json"
    write_back(record, path, scan_file=source)
    assert json.loads(path.read_text())["scan_file"] == {"name": "back.ply", "sha256": source.sha256}
    assert read_back(path) == record


def saddle_record(numbers, **more):
    return SaddleRecord(
        label="invented",
        numbers=numbers,
        alterable=usual_alterations(numbers),
        pads=(EVERYDAY_NUMNAH,),
        **more,
    )


@pytest.mark.parametrize("numbers", [ALL_ROUND, CUT_BACK, BARS, SIDE_SADDLE, TREELESS, FLEXIBLE])
def test_saddles_of_every_family_are_read_back(numbers, tmp_path):
    path = tmp_path / "saddle.json"
    record = saddle_record(numbers, serial="07/3", assumed=("mass",), notes="“one”, zwei\n")
    write_saddle(record, path)
    assert read_saddle(path) == record
    Draft202012Validator(schema_of(SaddleDocument)).validate(json.loads(path.read_text("utf-8")))


rows = st.lists(st.tuples(number, number), min_size=1, max_size=5)


@given(behind=number, left=rows, right=rows)
@QUICK
def test_sections_of_an_underside_are_read_back(behind, left, right, tmp_path):
    section = UndersideSection(behind_mm=behind, left=np.array(left), right=np.array(right))
    path = tmp_path / "saddle.json"
    write_saddle(saddle_record(ALL_ROUND, underside=(section,)), path)
    (read,) = read_saddle(path).underside
    assert read.behind_mm == behind
    np.testing.assert_array_equal(read.left, section.left)
    np.testing.assert_array_equal(read.right, section.right)


def test_a_mesh_of_an_underside_is_read_back(tmp_path):
    mesh = UndersideMesh(
        vertices_saddle=np.array([[0.0, 0.1, 0.2], [1, 2, 3], [4, 5, 6.5]]),
        faces=np.array([[0, 1, 2]]),
        unit=Length.CM,
    )
    path = tmp_path / "saddle.json"
    write_saddle(saddle_record(ALL_ROUND, underside=mesh), path)
    read = read_saddle(path).underside
    assert read.unit is Length.CM
    np.testing.assert_array_equal(read.vertices_saddle, mesh.vertices_saddle)
    np.testing.assert_array_equal(read.faces, mesh.faces)


def test_a_linear_law_is_kept_without_writing_an_infinity(tmp_path):
    path = tmp_path / "saddle.json"
    write_saddle(saddle_record(ALL_ROUND), path)
    assert "Infinity" not in path.read_text()
    assert read_saddle(path).numbers.panel.fill.hardening_mm == np.inf


def test_a_fit_check_is_read_back_with_everything_that_is_drawn(tmp_path):
    path, again = tmp_path / "study.json", tmp_path / "again.json"
    write_study(study(), path)
    read = read_study(path)
    write_study(read, again)
    assert again.read_bytes() == path.read_bytes()
    assert [f.verdict for f in read.findings] == [f.verdict for f in study().findings]
    for ours, theirs in zip(study().findings, read.findings, strict=True):
        assert ours.doubt == theirs.doubt
        assert ours.confidence == theirs.confidence
        assert ours.name is theirs.name
    assert read.put.hand_slide == study().put.hand_slide
    for ours, theirs in zip(study().settlement.steps, read.settlement.steps, strict=True):
        # Fields are rounded to four decimals: half a unit of the last.
        np.testing.assert_allclose(theirs.pressure_kpa, ours.pressure_kpa, atol=0.5001e-4, rtol=0)
        np.testing.assert_allclose(theirs.gap_mm, ours.gap_mm, atol=0.5001e-4, rtol=0)
        np.testing.assert_array_equal(theirs.measured, ours.measured)
        assert theirs.outcome is ours.outcome
    np.testing.assert_allclose(read.surface.radius_mm, study().surface.radius_mm, atol=0.5001e-4, rtol=0)
    Draft202012Validator(schema_of(StudyDocument)).validate(json.loads(path.read_text("utf-8")))


def test_measures_come_back_in_their_own_unit(tmp_path):
    path = tmp_path / "study.json"
    write_study(study(), path)
    ours, theirs = study().put.measures, read_study(path).put.measures
    assert set(theirs.keys) == set(ours.keys)
    for key in ours.columns:
        # Shown numbers are kept to nine decimals.
        assert theirs.at(key).shown == pytest.approx(ours.at(key).shown, abs=1e-9)


def test_an_absent_number_in_a_field_is_null_and_comes_back_as_unknown(tmp_path):
    step = study().settlement.steps[-1]
    stiffness = np.full((6, 6), np.nan)
    steps = (*study().settlement.steps[:-1], replace(step, stiffness_back=stiffness))
    path = tmp_path / "study.json"
    write_study(replace(study(), settlement=replace(study().settlement, steps=steps)), path)
    assert "NaN" not in path.read_text()
    assert np.isnan(read_study(path).settlement.steps[-1].stiffness_back).all()


def test_a_number_that_is_not_finite_elsewhere_is_refused_and_keeps_the_old_file(tmp_path):
    path = tmp_path / "back.json"
    write_back(back_record(), path)
    before = path.read_bytes()
    station = StationReadings(number=1, distance_mm=float("nan"))
    broken = replace(back_record(), readings=BackReadings(stations=(station,)))
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_back(broken, path)
    assert path.read_bytes() == before
    assert [held.name for held in tmp_path.iterdir()] == ["back.json"]


@pytest.mark.parametrize("name", ["back-record", "saddle-record", "fit-check"])
def test_the_published_schema_is_the_one_of_the_program(name):
    published = schemas.SCHEMAS[name]
    made = published.make()
    Draft202012Validator.check_schema(made)
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    path = Path(schemas.__file__).parent / published.file
    assert json.loads(path.read_text("utf-8")) == made, "run scripts/write_schemas.py"


@cache
def document(kind):
    """Return a sound file's text, and what reads it."""
    if kind == "back":
        return as_json(BackDocument.of(back_record())), read_back
    if kind == "saddle":
        return as_json(SaddleDocument.of(saddle_record(ALL_ROUND))), read_saddle
    return as_json(StudyDocument.of(study())), read_study


def opened(kind):
    text, read = document(kind)
    return json.loads(text), read


def refuse(read, path, content):
    path.write_bytes(content if isinstance(content, bytes) else json.dumps(content).encode())
    with pytest.raises(InputProblemsError) as raised:
        read(path)
    assert all(problem.where.file == str(path) for problem in raised.value.problems)
    return raised.value.problems


@pytest.mark.parametrize("read", [read_back, read_saddle, read_study])
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        (b"\xff\xfe\x00binary", "UTF-8"),
        (b"{", "not valid JSON"),
        (b'{"format": NaN}', "not valid JSON"),
        (b"[1, 2]", "not a record"),
        (b"{}", "not a record"),
        (b"[" * 100_000, "not valid JSON"),
        (b'{"format": "saddlebench cookbook", "version": 1}', "is a cookbook, not a"),
        (b'{"format": "saddlebench alteration plan", "version": 1}', "is an alteration plan, not a"),
    ],
)
def test_what_is_no_record_is_refused_in_words(read, content, words, tmp_path):
    (problem,) = refuse(read, tmp_path / "given.json", content)
    assert words in problem.what


@pytest.mark.parametrize("kind", ["back", "saddle", "study"])
def test_a_newer_version_is_refused_with_what_to_do(kind, tmp_path):
    held, read = opened(kind)
    (problem,) = refuse(read, tmp_path / "new.json", {**held, "version": 2, "new_field": 1})
    assert "newer saddlebench (version 2" in problem.what
    assert problem.cure == "Update saddlebench, then open it again."
    assert problem.where.field == "version"


def test_every_fault_is_reported_with_its_field(tmp_path):
    held, read = opened("back")
    held["label"], held["colour"] = 7, "brown"
    held["stance"]["pitch_deg"] = "level"
    held["landmarks"]["withers"] = {"value_mm": "x", "sd_mm": 1.0}
    del held["measured_on"]
    fields = {problem.where.field for problem in refuse(read, tmp_path / "bad.json", held)}
    assert fields == {"label", "colour", "stance.pitch_deg", "landmarks.withers.value_mm", "measured_on"}


def test_one_alternative_must_be_given(tmp_path):
    held, read = opened("back")
    for instrument in ({}, {**held["instrument"], "scan": {"name": "s"}}):
        (problem,) = refuse(read, tmp_path / "bad.json", {**held, "instrument": instrument})
        assert "alternatives" in problem.what


def test_an_instrument_that_cannot_be_is_refused_in_the_engines_own_words(tmp_path):
    held, read = opened("back")
    held["instrument"]["pin_comb"]["pitch_mm"] = 0.0
    problems = refuse(read, tmp_path / "bad.json", held)
    assert any("pitch_mm is 0" in problem.what for problem in problems)


def test_fields_that_do_not_fit_the_bearing_points_are_refused(tmp_path):
    held, read = opened("study")
    held["states"]["steps"][0]["pressure_kpa"] = [1.0, 2.0]
    held["surface"]["measured"] = "01"
    held["put"]["findings"][0]["decided_by"] = 99
    whats = " ".join(problem.what for problem in refuse(read, tmp_path / "bad.json", held))
    assert "pressure_kpa of “placed” does not fit" in whats
    assert "surface.measured is no back's" in whats
    assert "decided_by" in whats


def places_in(value, path=()):
    yield path
    if isinstance(value, dict):
        for name, part in value.items():
            yield from places_in(part, (*path, name))
    elif isinstance(value, list):
        for i, part in enumerate(value[:3]):
            yield from places_in(part, (*path, i))


@cache
def places(kind):
    return [place for place in places_in(opened(kind)[0]) if place]


JUNK = st.sampled_from(
    [None, "", "x" * 300, -1, 0, 1e300, 7.5, True, [], [[]], {}, {"reason": "r"}, "fine", [1, [2]]]
)


@pytest.mark.parametrize("kind", ["back", "saddle", "study"])
@given(data=st.data())
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_file_is_read_or_refused_and_never_anything_else(kind, data, tmp_path):
    held, read = opened(kind)
    place = data.draw(st.sampled_from(places(kind)))
    parent = held
    for step in place[:-1]:
        parent = parent[step]
    parent[place[-1]] = data.draw(JUNK)
    path = tmp_path / "damaged.json"
    path.write_text(json.dumps(held))
    files = {str(path)}
    try:
        read(path)
    except InputProblemsError as error:
        files = {problem.where.file for problem in error.problems}
    assert files == {str(path)}


GEOMETRY = ("saddle", "states", "surface", "landmarks", "pads")


@given(data=st.data())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_fit_check_that_can_be_read_can_be_drawn(data, tmp_path):
    held, read = opened("study")
    place = data.draw(
        st.sampled_from([one for one in places("study") if one[0] in GEOMETRY and len(one) > 1])
    )
    parent = held
    for step in place[:-1]:
        parent = parent[step]
    parent[place[-1]] = data.draw(JUNK)
    path = tmp_path / "damaged.json"
    path.write_text(json.dumps(held))
    try:
        made = Scene.of_study(read(path))
    except InputProblemsError:
        return
    if isinstance(made, Scene):
        for draw in (plan, side, line_load, section_row):
            assert draw(made).title


def test_what_was_questioned_of_a_scan_stays_with_its_record(tmp_path):
    odd = Problem(
        what="the topline has a step",
        cure="Take the rug off.",
        where=Where(file="a.ply"),
        weight=Weight.WARNING,
    )
    record = replace(back_record(), questioned=(odd,))
    write_back(record, tmp_path / "back.json")
    assert read_back(tmp_path / "back.json").questioned == (odd,)


def test_a_fit_check_keeps_what_drives_each_doubt(tmp_path):
    path = tmp_path / "study.json"
    write_study(study(), path)
    assert read_study(path).put.doubts == study().put.doubts
    assert any(doubt.sources for doubt in study().put.doubts)
