"""Instruments' descriptions: shipped examples, what comes back, what is refused, and the published schema."""

import contextlib
import json
import tomllib
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from saddlebench.engine.back.instruments import JointedChain, PinComb, Scan, TapeAndHand, TracedCurve
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.instruments import (
    example_instrument,
    example_names,
    instrument_from_text,
    instrument_schema,
    instrument_text,
    read_instrument,
    write_instrument,
)

PACKAGE = resources.files("saddlebench.exchange.instruments")
PUBLISHED = json.loads(PACKAGE.joinpath("instrument.schema.json").read_text(encoding="utf-8"))
COMB = """
family = "pin comb"
name = "comb"
pitch_mm = 10
n_pins = 21
midline_pin = 11
scale = { lowest = 0, highest = 200, step = 1 }
"""


def described(tmp_path: Path, text: str, name: str = "instrument.toml") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def problems_of(path: Path) -> list[str]:
    with pytest.raises(InputProblemsError) as raised:
        read_instrument(path)
    assert all(problem.where.file == str(path) for problem in raised.value.problems)
    return [str(problem).removeprefix(f"{path}").lstrip(", :") for problem in raised.value.problems]


def test_the_published_schema_is_the_models_own() -> None:
    assert instrument_schema() == PUBLISHED


def test_all_families_are_shipped_and_obey_the_schema() -> None:
    validator = jsonschema.Draft202012Validator(PUBLISHED)
    validator.check_schema(PUBLISHED)
    kinds = []
    for name in example_names():
        held = tomllib.loads(PACKAGE.joinpath("examples", f"{name}.toml").read_text(encoding="utf-8"))
        validator.validate(held)
        kinds.append(type(example_instrument(name)))
    assert kinds == [JointedChain, JointedChain, PinComb, PinComb, TracedCurve, Scan, TapeAndHand]


@pytest.mark.parametrize("name", example_names())
def test_what_is_written_reads_back_the_same(name: str, tmp_path: Path) -> None:
    path = tmp_path / "instrument.json"
    write_instrument(example_instrument(name), path)
    assert read_instrument(path) == example_instrument(name)
    jsonschema.Draft202012Validator(PUBLISHED).validate(json.loads(path.read_text(encoding="utf-8")))


def test_what_is_left_out_has_its_stated_meaning() -> None:
    chain = example_instrument("chain-12x30")
    assert isinstance(chain, JointedChain)
    assert chain.left == chain.right
    assert chain.left.pad_along_mm == chain.left.link_mm == (30.0,) * 12
    assert chain.left.pad_below_mm == chain.left.zero_deg == (0.0,) * 12
    assert chain.left.joint_sd_deg == (0.25,) * 12


def test_an_unknown_example_is_named_with_its_alternatives() -> None:
    with pytest.raises(InputProblemsError, match=r"no shipped instrument “chain”.*comb-41x10"):
        example_instrument("chain")


def test_every_fault_is_reported_together(tmp_path: Path) -> None:
    text = COMB.replace("pitch_mm = 10", "pitch_mm = -1").replace("n_pins = 21", 'n_pins = "many"\nodd = 1')
    assert problems_of(described(tmp_path, text)) == [
        "“pin comb.pitch_mm”: the field must be more than 0.0 (it says “-1”). Correct it.",
        "“pin comb.n_pins”: the field must be a whole number (it says “many”). Correct it.",
        "“pin comb.odd”: the field is not a field of this file. Check its spelling, or remove it.",
    ]


def test_what_only_the_whole_instrument_can_tell_is_refused_too(tmp_path: Path) -> None:
    (said,) = problems_of(described(tmp_path, COMB.replace("midline_pin = 11", "midline_pin = 30")))
    assert said.startswith("“comb”: midline_pin is 30; it must be a number between 1 and 21. ")
    chain = 'family = "jointed chain"\nname = "c"\n[left]\nlink_mm = [30, 30]\nzero_deg = [1.0]\n'
    chain += "scale = { lowest = 5, highest = 5, step = 1 }\n"
    said = problems_of(described(tmp_path, chain))
    assert "“c”: left.zero_deg has 1 values for 2 links. Correct the instrument's description." in said
    assert (
        "“c”: right.scale.highest must lie at least one step above the lowest reading. "
        "Correct the instrument's description."
    ) in said


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\x00\x01\x02\xff" * 50, "is not a text file in UTF-8"),
        (b"family = 'gauge'\nname = 'x'\n", "“jointed chain”, “pin comb”|'jointed chain', 'pin comb'"),
        (b"name = 'x'\n", "family"),
        (b"family = \n", "is not valid TOML"),
        (COMB.replace("pitch_mm = 10", "pitch_mm = nan").encode(), "must be a finite number"),
        (COMB.replace("pitch_mm = 10", "pitch_mm = 1e9").encode(), "must be at most 3000"),
    ],
    ids=["empty", "binary", "unknown family", "no family", "not TOML", "NaN", "10⁹ mm"],
)
def test_bad_files_are_refused_in_a_sentence(content: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "instrument.toml"
    path.write_bytes(content)
    with pytest.raises(InputProblemsError, match=words):
        read_instrument(path)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(field=st.sampled_from([*tomllib.loads(COMB), "offset_mm", "placing"]), value=json_values)
def test_no_value_of_a_field_does_worse_than_being_refused(tmp_path: Path, field: str, value: object) -> None:
    held = tomllib.loads(COMB) | {field: value}
    path = described(tmp_path, json.dumps(held), "instrument.json")
    with contextlib.suppress(InputProblemsError):
        assert isinstance(read_instrument(path), PinComb)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_no_bytes_do_worse_than_being_refused(tmp_path: Path, content: bytes) -> None:
    for name in ("instrument.toml", "instrument.json"):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(InputProblemsError):
            read_instrument(path)


@pytest.mark.parametrize("name", example_names())
def test_an_instrument_comes_back_from_its_text(name: str) -> None:
    instrument = example_instrument(name)
    assert instrument_from_text(instrument_text(instrument)) == instrument


@pytest.mark.parametrize("text", ["", "{", "[]", '"comb"', '{"family": "pin comb"}', '{"family": "spoon"}'])
def test_a_text_that_describes_no_instrument_is_refused_in_words(text: str) -> None:
    with pytest.raises(InputProblemsError) as refused:
        instrument_from_text(text, "our comb")
    assert all(problem.where.file == "our comb" for problem in refused.value.problems)
