"""A saddle file is read whole, or every fault in it is named with its field."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from saddlebench.demo.saddles import ALL_ROUND, SADDLES, saddle
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.engine.saddle.alterable import NotAlterable
from saddlebench.engine.saddle.materials import FILLS, stiffness_from_dip
from saddlebench.engine.saddle.model import PadCut, SaddleModel
from saddlebench.engine.saddle.numbers import PanelledNumbers
from saddlebench.engine.saddle.record import SaddleRecord, UndersideMesh, model_of
from saddlebench.engine.saddle.sections import sections_of
from saddlebench.engine.units import Length
from saddlebench.exchange.saddles import (
    read_saddle,
    read_sections,
    saddle_document,
    saddle_from_document,
    saddle_schema,
    with_mesh,
)

SCHEMA_FILE = (
    Path(__file__).parents[2] / "src" / "saddlebench" / "exchange" / "saddles" / "saddle.schema.json"
)
VALIDATOR = Draft202012Validator(saddle_schema())
GOOD = """
family = "panelled"
label = "Invented test saddle"
lengths_in = "mm"
[tree]
width = "27,6 cm"
depth = 165
angle = "84°"
rise = '2.2"'
[panel]
length = "430"
channel = { front = 76, waist = 72, rear = 76 }
fill = "wool"
disc_dip = { front = 20, waist = 20, seat = 16, rear = 25 }
thickness = { front = 30, waist = 30, seat = 30, rear = 36 }
[[straps]]
name = "point strap"
behind = 60
[[pads]]
made_of = "felt"
thickness = { front = 10, waist = 8, seat = 8, rear = 8 }
cut = "pulled down on the spine"
[alterable]
arch = "moulded"
"""


def written(tmp_path: Path, text: str, name: str = "saddle.toml") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def faults(path: Path) -> dict[str, str]:
    with pytest.raises(InputProblemsError) as caught:
        read_saddle(path)
    assert all(problem.cure and problem.where.file == str(path) for problem in caught.value.problems)
    return {problem.where.field: problem.what for problem in caught.value.problems}


def panelled(record: SaddleRecord) -> PanelledNumbers:
    assert isinstance(record.numbers, PanelledNumbers)
    return record.numbers


def test_numbers_carry_their_units_with_comma_or_point(tmp_path: Path) -> None:
    record = read_saddle(written(tmp_path, GOOD))
    numbers = panelled(record)
    assert numbers.tree.width_mm == pytest.approx(276.0)
    assert numbers.tree.rise_mm == pytest.approx(2.2 * 25.4)
    assert numbers.tree.angle_deg == 84.0
    assert numbers.panel.length_mm == 430.0
    assert [strap.name for strap in numbers.fittings.straps] == ["point strap"]
    assert record.pads[0].cut is PadCut.PULLED_DOWN
    assert record.pads[0].thickness_mm == (10.0, 8.0, 8.0, 8.0)
    assert isinstance(record.alterable.arch, NotAlterable)


def test_what_was_not_stated_is_known_to_be_assumed(tmp_path: Path) -> None:
    assumed = read_saddle(written(tmp_path, GOOD)).assumed
    assert {"tree.cover", "panel.width", "panel.rear_rise", "seat.size", "mass.mass"} <= set(assumed)
    assert not {"tree.width", "panel.channel", "straps", "panel.thickness"} & set(assumed)
    assert saddle(ALL_ROUND.label).assumed == ()


def test_a_disc_s_dip_states_the_firmness_of_the_panel_as_it_is(tmp_path: Path) -> None:
    record = read_saddle(written(tmp_path, GOOD))
    model = model_of(record, 2000)
    assert isinstance(model, SaddleModel)
    behind = -model.bearing.points_saddle[:, 0]
    seat = np.abs(behind - 0.64 * 430.0) < 15.0
    rear = np.abs(behind - 378.0) < 3.0
    stiffness = model.bearing.firmness * FILLS["wool"].stiffness_kpa_mm
    # Under the tree the panel is as stiff as the disc found it, whatever its thickness.
    assert stiffness[seat].max() == pytest.approx(stiffness_from_dip(16.0), rel=1e-6)
    assert stiffness[rear].max() == pytest.approx(stiffness_from_dip(25.0), rel=0.05)


@pytest.mark.parametrize("unit", list(Length))
def test_the_unit_of_the_file_holds_for_bare_numbers(tmp_path: Path, unit: Length) -> None:
    tree = {name: value / unit.in_mm for name, value in (("width", 276.0), ("depth", 165.0), ("rise", 56.0))}
    document = {
        "family": "panelled",
        "label": "x",
        "lengths_in": unit.value,
        "tree": {**tree, "angle": 84},
    }
    numbers = panelled(saddle_from_document(document))
    assert (numbers.tree.width_mm, numbers.tree.depth_mm) == pytest.approx((276.0, 165.0))


def test_a_unit_is_asked_for_never_guessed(tmp_path: Path) -> None:
    told = faults(written(tmp_path, GOOD.replace('lengths_in = "mm"\n', "")))
    assert told == {"lengths_in": "the field is missing"}


def test_every_fault_of_form_is_named_at_once(tmp_path: Path) -> None:
    text = GOOD.replace('"27,6 cm"', '"27,6 furlongs"').replace("165", '"1,650"').replace('"84°"', "nan")
    text = text.replace("waist = 72, ", "").replace('"wool"', '"straw"').replace('"430"', "true")
    text = text.replace("[panel]", "wdth = 3\n[panel]").replace("front = 20", "front = 0")
    told = faults(written(tmp_path, text))
    assert set(told) == {
        "tree.width", "tree.depth", "tree.angle", "tree.wdth", "panel.length", "panel.channel.waist",
        "panel.fill", "panel.disc_dip.front",
    }  # fmt: skip
    assert "not a unit of length" in told["tree.width"]
    assert "thousands" in told["tree.depth"]


def test_every_number_that_cannot_be_is_told_in_words(tmp_path: Path) -> None:
    text = (
        GOOD.replace('"27,6 cm"', "27.6").replace('"84°"', "170").replace('length = "430"', "length = -430")
    )
    told = faults(written(tmp_path, text + "\n[seat]\nsize = 44\n[mass]\nmass = 75\n"))
    assert set(told) == {"tree.width", "tree.angle", "panel.length", "seat.size", "mass.mass"}
    assert "120 to 450 mm" in told["tree.width"]


def test_a_seat_size_in_centimetres_is_said_to_be_one(tmp_path: Path) -> None:
    with pytest.raises(InputProblemsError, match=r"44 cm is 17\.5 in"):
        read_saddle(written(tmp_path, GOOD + "\n[seat]\nsize = 44\n"))


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("front = 76, waist = 72", "front = 76, waist = 30", "panel.channel", "spine strip"),
        ("[[straps]]", "width={front=150, waist=260, rear=90}\n[[straps]]", "panel.width", "no panel"),
        ('"84°"', '"84°"\npoint = 210', "tree.point", "cross"),
        ("behind = 60", "behind = 500", "straps.point strap.behind", "behind the end"),
        ("[alterable]", "[seat]\nlowest_behind = 430\n[alterable]", "seat.lowest_behind", "between pommel"),
        ("165", "72", "tree", "above their waist"),
        ("[alterable]", "[stirrups]\nbehind = 300\n[alterable]", "stirrups.behind", "lowest point"),
    ],
)  # fmt: skip
def test_contradictions_are_told_in_words(tmp_path: Path, old: str, new: str, field: str, words: str) -> None:
    told = faults(written(tmp_path, GOOD.replace(old, new, 1)))
    assert words in told[field]


def test_points_closer_than_the_channel_or_at_the_waist_are_told(tmp_path: Path) -> None:
    close = GOOD.replace('"27,6 cm"', "150").replace("front = 76", "front = 140")
    assert "channel" in faults(written(tmp_path, close))["tree.width"]
    late = GOOD.replace("depth = 165", "depth = 165\nbehind = 118").replace('"430"', "260")
    assert "waist" in faults(written(tmp_path, late))["tree.behind"]


def test_an_unknown_family_is_answered_with_the_known_ones(tmp_path: Path) -> None:
    told = faults(written(tmp_path, 'family = "hammock"\nlabel = "x"\nlengths_in = "mm"\n'))
    assert "panelled, cut-back, bars, side-saddle, treeless, flexible tree" in told["family"]


@pytest.mark.parametrize("record", SADDLES, ids=lambda record: record.label)
def test_every_record_is_written_and_read_back_the_same(record: SaddleRecord) -> None:
    document = json.loads(json.dumps(saddle_document(record)))
    assert saddle_from_document(document) == record
    assert VALIDATOR.is_valid(document)


def test_what_was_assumed_is_still_assumed_when_read_back(tmp_path: Path) -> None:
    record = read_saddle(written(tmp_path, GOOD))
    again = saddle_from_document(saddle_document(record))
    assert set(record.assumed) - set(again.assumed) == set()
    assert again.numbers == record.numbers


def test_sections_come_from_a_table_beside_the_file(tmp_path: Path) -> None:
    truth = model_of(saddle(ALL_ROUND.label), 4000)
    assert isinstance(truth, SaddleModel)
    rows = ["z;y;Side;behind;note"]
    for section in sections_of(truth, np.linspace(31.0, 399.0, 9)):
        for side, line in (("near", section.left), ("off", section.right)):
            rows += [
                f"{z:.4f};{y:.4f};{side};{section.behind_mm:.4f};".replace(".", ",") for y, z in line[::4]
            ]
    written(tmp_path, "\n".join(rows), "underside.csv")
    document = saddle_document(saddle(ALL_ROUND.label))
    document["underside"] = {"sections_file": "underside.csv"}
    path = written(tmp_path, json.dumps(document), "saddle.json")
    record = read_saddle(path)
    assert isinstance(record.underside, tuple)
    assert len(record.underside) == 9
    model = model_of(record, 500)
    assert isinstance(model, SaddleModel)
    # A section's inner edge, not the whole panel's: ends 31 mm inside the panel's ends are missing.
    assert model.bearing.area_mm2.sum() == pytest.approx(truth.bearing.area_mm2.sum() * 368 / 430, rel=0.05)
    again = saddle_from_document(saddle_document(record))
    assert isinstance(again.underside, tuple)
    np.testing.assert_array_equal(again.underside[3].left, record.underside[3].left)


def test_every_row_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    text = "behind,side,y,z\n10,near,40,x\n10,middle,40,0\n,near,-40,0\n10,off,60\n"
    with pytest.raises(InputProblemsError) as caught:
        read_sections(written(tmp_path, text, "s.csv"), Length.MM)
    assert {(p.where.row, p.where.field) for p in caught.value.problems} == {
        (2, "z"), (3, "side"), (4, "behind"), (4, "y"), (5, "z"),
    }  # fmt: skip


@pytest.mark.parametrize(
    "text", ["a,b\n1,2\n", "behind,side,y\n", "behind,behind,side,y,z\n", '"\n', "\n\n1"]
)
def test_a_table_without_its_columns_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputProblemsError):
        read_sections(written(tmp_path, text, "s.csv"), Length.MM)


def test_a_mesh_is_kept_with_its_unit_and_comes_back() -> None:
    record = saddle(ALL_ROUND.label)
    x, y = np.meshgrid(np.linspace(0.0, -43.0, 20), np.linspace(-14.0, 14.0, 15), indexing="ij")
    vertices = np.stack([x.ravel(), y.ravel(), -0.5 * np.abs(y.ravel())], axis=1)
    i, j = np.indices((19, 14)).reshape(2, -1)
    corner = i * 15 + j
    faces = np.vstack(
        [
            np.stack([corner, corner + 1, corner + 15], axis=1),
            np.stack([corner + 1, corner + 16, corner + 15], axis=1),
        ]
    )
    held = with_mesh(record, vertices, faces, Length.CM)
    again = saddle_from_document(saddle_document(held))
    assert isinstance(again.underside, UndersideMesh)
    assert again.underside.unit is Length.CM
    np.testing.assert_array_equal(again.underside.faces, faces)
    model = model_of(again, 500)
    assert isinstance(model, SaddleModel)
    # Two plane faces inclined by arctan ½ between the marked channel and 140 mm out.
    y, z = model.bearing.points_saddle[:, 1], model.bearing.points_saddle[:, 2]
    np.testing.assert_allclose(z, -0.5 * np.abs(y), atol=1e-6)
    assert np.abs(y).min() > 0.5 * 72.0
    assert np.abs(y).max() < 140.0
    np.testing.assert_allclose(model.bearing.normals_saddle[:, 2], -2.0 / np.sqrt(5.0), atol=1e-6)
    with pytest.raises(InputProblemsError, match="mm long"):
        with_mesh(record, vertices, faces, Length.MM)


def test_an_underside_is_stated_in_one_way_only(tmp_path: Path) -> None:
    told = faults(written(tmp_path, GOOD + "\n[underside]\n"))
    assert list(told) == ["underside"]


def test_the_published_schema_is_the_reader_s() -> None:
    assert json.loads(SCHEMA_FILE.read_text(encoding="utf-8")) == saddle_schema()
    Draft202012Validator.check_schema(saddle_schema())


def test_nothing_may_be_altered_for_a_stated_reason(tmp_path: Path) -> None:
    text = GOOD.replace('arch = "moulded"', 'nothing_because = "on loan, not ours"')
    record = read_saddle(written(tmp_path, text))
    assert record.alterable.reasons == ("on loan, not ours",)
    assert saddle_from_document(saddle_document(record)).alterable == record.alterable


@pytest.mark.parametrize("text", ["", "  \n", "family = ", "[[", "[" * 50_000, '{"family": NaN}', "[]", "3"])
@pytest.mark.parametrize("name", ["saddle.toml", "saddle.json"])
def test_broken_text_is_refused_in_a_sentence(tmp_path: Path, text: str, name: str) -> None:
    with pytest.raises(InputProblemsError):
        read_saddle(written(tmp_path, text, name))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(content=st.binary(max_size=200))
def test_any_bytes_are_refused_in_a_sentence(tmp_path: Path, content: bytes) -> None:
    for name in ("saddle.toml", "sections.csv"):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(InputProblemsError):
            read_saddle(path) if name.endswith("toml") else read_sections(path, Length.MM)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=5,
)
PATHS = [
    (table, key)
    for table in ("tree", "panel", "seat", "stirrups", "mass", "off_side", "alterable", "bar", "fork", "cut")
    for key in ("width", "length", "behind", "angle", "channel", "rise", "fill", "arch", "mass", "thickness")
]


@settings(max_examples=120, deadline=None)
@given(
    base=st.sampled_from(SADDLES),
    changes=st.lists(st.tuples(st.sampled_from(PATHS), ANYTHING), min_size=1, max_size=3),
    numbers=st.floats(allow_nan=True, allow_infinity=True),
)
def test_any_object_is_a_record_or_refused_in_sentences(
    base: SaddleRecord, changes: list[tuple[tuple[str, str], Any]], numbers: float
) -> None:
    document = saddle_document(base)
    for (table, key), value in changes:
        held = document.get(table)
        if isinstance(held, dict):
            held[key] = numbers if isinstance(held.get(key), float) else value
        else:
            document[table] = value
    problems: tuple[Problem, ...] = ()
    try:
        record = saddle_from_document(document, file="x")
    except InputProblemsError as error:
        problems = error.problems
    else:
        model = model_of(record, 60)
        if isinstance(model, SaddleModel):
            assert np.isfinite(model.bearing.points_saddle).all()
            assert (model.bearing.area_mm2 > 0.0).all()
    assert all(problem.what and problem.cure for problem in problems)


@settings(max_examples=60, deadline=None)
@given(
    width=st.floats(120.0, 450.0),
    depth=st.floats(70.0, 300.0),
    angle=st.floats(40.0, 140.0),
    rise=st.floats(-20.0, 160.0),
    point=st.floats(20.0, 280.0),
    behind=st.floats(5.0, 120.0),
    panel=st.fixed_dictionaries(
        {
            "length": st.floats(250.0, 620.0),
            "rounding": st.floats(-15.0, 25.0),
            "rear_rise": st.floats(-80.0, 120.0),
            "front_corner": st.floats(0.0, 110.0),
            "width": st.fixed_dictionaries({p: st.floats(35.0, 260.0) for p in ("front", "waist", "rear")}),
        }
    ),
)
def test_numbers_the_door_lets_in_make_a_sound_model(
    width: float, depth: float, angle: float, rise: float, point: float, behind: float, panel: dict[str, Any]
) -> None:
    tree = {"width": width, "depth": depth, "angle": angle, "rise": rise, "point": point, "behind": behind}
    document = {"family": "panelled", "label": "x", "lengths_in": "mm", "tree": tree, "panel": panel}
    document["seat"] = {"rear_behind": 500}
    try:
        record = saddle_from_document(document)
    except InputProblemsError:
        return
    model = model_of(record, 120)
    assert isinstance(model, SaddleModel)
    assert np.isfinite(model.bearing.points_saddle).all()
    assert (model.bearing.area_mm2 > 0.0).all()
    np.testing.assert_allclose(np.linalg.norm(model.bearing.normals_saddle, axis=1), 1.0, atol=1e-9)
