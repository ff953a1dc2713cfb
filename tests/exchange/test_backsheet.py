"""A back sheet is read whole, or every fault in it is named with its field."""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from saddlebench.engine.back.landmarks import LAST_RIB_SD_MM, Mark
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from saddlebench.exchange.backsheets import read_back_sheet, sheet_schema

GOOD = """
horse = "Bramble (invented)"
measured_on = 2026-05-14
instrument = "comb.toml"
[stance]
pitch_deg = 1.5
[marks]
withers = -70
lowest = "312,5"
last_rib = { mm = 545, sd_mm = 12 }
spine_strip_width = 45
"""


def written(tmp_path: Path, text: str, name: str = "sheet.toml") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_numbers_with_comma_or_point_and_own_errors(tmp_path: Path) -> None:
    marks = read_back_sheet(written(tmp_path, GOOD)).marks.landmarks()
    assert marks.lowest == Mark(312.5, 15.0)
    assert marks.last_rib == Mark(545.0, 12.0)
    assert isinstance(marks.girth_groove, NotMeasured)


def test_a_bare_mark_takes_the_usual_error(tmp_path: Path) -> None:
    sheet = read_back_sheet(written(tmp_path, GOOD.replace("{ mm = 545, sd_mm = 12 }", "545")))
    assert sheet.marks.landmarks().last_rib == Mark(545.0, LAST_RIB_SD_MM)


def test_every_fault_is_named_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("-70", "nan").replace("45\n", "450\n").replace("[stance]", "hrse = 1\n[stance]")
    text = text.replace("1.5", "90").replace("2026-05-14", '"soon"')
    with pytest.raises(InputProblemsError) as caught:
        read_back_sheet(written(tmp_path, text))
    assert {p.where.field for p in caught.value.problems} == {
        "marks.withers.mm", "marks.spine_strip_width", "hrse", "stance.pitch_deg", "measured_on",
    }  # fmt: skip
    assert all(p.where.file.endswith("sheet.toml") and p.cure for p in caught.value.problems)


@pytest.mark.parametrize("text", ["", "   \n", "horse = ", "[[", '{"horse": NaN}', "[" * 100_000])
@pytest.mark.parametrize("name", ["sheet.toml", "sheet.json"])
def test_broken_text_is_refused_in_a_sentence(tmp_path: Path, text: str, name: str) -> None:
    with pytest.raises(InputProblemsError):
        read_back_sheet(written(tmp_path, text, name))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(content=st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "sheet.toml"
    path.write_bytes(content)
    with pytest.raises(InputProblemsError):
        read_back_sheet(path)


VALIDATOR = Draft202012Validator(sheet_schema(), format_checker=Draft202012Validator.FORMAT_CHECKER)


def fields_refused(path: Path) -> list[str]:
    try:
        read_back_sheet(path)
    except InputProblemsError as error:
        return [problem.where.field for problem in error.problems]
    return []


JSON = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
GOOD_OBJECT = {"horse": "Bramble", "measured_on": "2026-05-14", "instrument": "comb.toml"}
FIELDS = ("horse", "measured_on", "instrument", "stance", "marks", "coat", "coat_mm", "notes")


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(sheet=st.dictionaries(st.sampled_from(FIELDS), JSON))
def test_the_reader_and_the_published_schema_refuse_the_same_objects(
    tmp_path: Path, sheet: dict[str, object]
) -> None:
    path = written(tmp_path, json.dumps(sheet), "sheet.json")
    refused_fields = fields_refused(path)
    assert (refused_fields == []) == VALIDATOR.is_valid(sheet)
    assert all(refused_fields)


def test_the_published_schema_is_a_schema_and_takes_a_good_sheet() -> None:
    Draft202012Validator.check_schema(sheet_schema())
    assert VALIDATOR.is_valid(GOOD_OBJECT)
    with_marks = {**GOOD_OBJECT, "marks": {"withers": -70, "lowest": "12,5", "last_rib": {"mm": 5}}}
    assert VALIDATOR.is_valid(with_marks)
