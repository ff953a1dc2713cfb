"""What is typed: comma or point, hands or centimetres, re-check weeks, and any text whatever."""

import json
import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saddlebench.engine.back.record import Coat
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.saddle.model import Family as EngineFamily
from saddlebench.practice import enums, phrases
from saddlebench.practice.catalogue import (
    CLIENT_FIELDS,
    HORSE_FIELDS,
    SADDLE_FIELDS,
    STATES,
    VISIT_FIELDS,
    VISIT_HEAD_FIELDS,
    VISIT_SADDLE_FIELDS,
    YARD_FIELDS,
    Field,
    Kind,
    read_number,
    read_value,
)
from saddlebench.practice.catalogue.field import by_name
from saddlebench.practice.enums import RecheckReason
from saddlebench.practice.estimates import height_as_hands, height_from_hands, recheck_window
from saddlebench.practice.estimates.recheck import add_months

ALL_FIELDS = [
    field
    for group in (
        CLIENT_FIELDS,
        YARD_FIELDS,
        HORSE_FIELDS,
        SADDLE_FIELDS,
        VISIT_HEAD_FIELDS,
        VISIT_FIELDS,
        VISIT_SADDLE_FIELDS,
    )
    for field in group.values()
]


@pytest.mark.parametrize(
    ("text", "number"),
    [("12,5", 12.5), ("12.5", 12.5), (" 7 ", 7), ("-3,25", -3.25), ("−4", -4), (",5", 0.5), ("1234", 1234),
     ("0,125", 0.125), ("12.3456", 12.3456)],
)  # fmt: skip
def test_comma_and_point_are_both_taken(text: str, number: float) -> None:
    assert read_number(text) == number


@pytest.mark.parametrize("text", ["1,234", "1.234", "999,000"])
def test_what_can_be_read_two_ways_is_asked_about(text: str) -> None:
    with pytest.raises(InputProblemsError, match="can be read as"):
        read_number(text)


@pytest.mark.parametrize("text", ["", "l2", "1e5", "nan", "inf", "1,2,3", "1.2,3", "--1", "9" * 30, "١٢"])
def test_what_is_no_number_is_said_to_be_none(text: str) -> None:
    with pytest.raises(InputProblemsError, match="not a number"):
        read_number(text)


@given(st.floats(-1e6, 1e6))
def test_a_number_written_with_comma_or_point_is_read_back(number: float) -> None:
    text = f"{number:.2f}"
    assert read_number(text) == read_number(text.replace(".", ",")) == float(text)


_json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=60),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=8,
)


def _read_or_problems(field: Field, raw: object) -> tuple[object, list[str]]:
    try:
        return read_value(field, raw), []  # type: ignore[arg-type]
    except InputProblemsError as error:
        return None, [problem.where.field for problem in error.problems]


@given(st.sampled_from(ALL_FIELDS), _json_values)
def test_anything_at_all_is_a_value_or_a_sentence_with_the_fields_words(field: Field, raw: object) -> None:
    value, named = _read_or_problems(field, raw)
    if named:
        assert named == [field.words]
        return
    # What was read is JSON without NaN, in words that can be stored, and reads back as itself.
    json.dumps(value, allow_nan=False, ensure_ascii=False).encode("utf-8")
    if value is not None or not field.required:
        assert _read_or_problems(field, value) == (value, [])


def test_hands_are_four_inches_and_the_point_is_no_decimal() -> None:
    assert height_from_hands("15.2") == pytest.approx(157.48)  # 62 inches of 2.54 cm, exactly
    assert height_from_hands("15") == pytest.approx(152.4)
    assert height_from_hands("14.2½") == pytest.approx(148.59)
    assert height_as_hands(157.48) == "15.2"
    with pytest.raises(InputProblemsError, match="0 to 3 inches"):
        height_from_hands("15.4")


@given(st.integers(8, 20), st.integers(0, 3))
def test_hands_there_and_back(hands: int, inches: int) -> None:
    assert height_as_hands(height_from_hands(f"{hands}.{inches}")) == f"{hands}.{inches}"


def test_a_height_says_its_unit_or_is_asked_for_it() -> None:
    height = HORSE_FIELDS["height_cm"]
    assert read_value(height, "15.2 hh") == 157.5
    assert read_value(height, "157,5 cm") == 157.5
    with pytest.raises(InputProblemsError, match=r"write 15\.2 hh"):
        read_value(height, "15.2")


@pytest.mark.parametrize(
    ("reasons", "due_from", "due_by", "reason"),
    [
        ([], date(2026, 8, 28), date(2026, 8, 28), RecheckReason.STEADY),
        ([RecheckReason.YOUNG], date(2026, 4, 11), date(2026, 4, 25), RecheckReason.YOUNG),
        ([RecheckReason.NEW_FLOCK], date(2026, 4, 11), date(2026, 5, 23), RecheckReason.NEW_FLOCK),
        (
            [RecheckReason.NEW_FLOCK, RecheckReason.REHAB],
            date(2026, 4, 11),
            date(2026, 4, 25),
            RecheckReason.REHAB,
        ),
    ],
)
def test_the_reason_that_asks_soonest_sets_the_date(
    reasons: list[RecheckReason], due_from: date, due_by: date, reason: RecheckReason
) -> None:
    window = recheck_window(date(2026, 2, 28), reasons)
    assert (window.due_from, window.due_by, window.reason) == (due_from, due_by, reason)


def test_six_months_on_from_a_day_that_month_has_not() -> None:
    assert add_months(date(2025, 8, 31), 6) == date(2026, 2, 28)
    assert add_months(date(2023, 8, 31), 6) == date(2024, 2, 29)


def test_every_state_and_every_stop_has_its_fields() -> None:
    per_state = {name.split(".", 1)[1] for name in VISIT_SADDLE_FIELDS if name.startswith("placed.")}
    for state in STATES:
        assert {n.split(".", 1)[1] for n in VISIT_SADDLE_FIELDS if n.startswith(f"{state}.")} == per_state
    stops = [
        choice for name in VISIT_FIELDS if name.startswith("stops_") for choice in VISIT_FIELDS[name].choices
    ]
    assert len(stops) == len(set(stops)) == 15
    assert set(stops) == set(phrases.CHOICE_WORDS)


def test_fields_have_limits_where_they_are_numbers_and_choices_where_they_are_chosen() -> None:
    for field in ALL_FIELDS:
        if field.kind in {Kind.NUMBER, Kind.WHOLE, Kind.HEIGHT}:
            assert field.low is not None, field.name
            assert field.high is not None, field.name
            assert math.isfinite(field.high - field.low), field.name
        assert bool(field.choices) is (field.kind in {Kind.CHOICE, Kind.CHOICES, Kind.MARKS}), field.name
        assert field.words, field.name


def test_two_fields_of_one_name_are_a_fault() -> None:
    with pytest.raises(ValueError, match="twice"):
        by_name((Field(name="a", words="A"), Field(name="a", words="B")))


def test_every_member_of_every_list_has_words() -> None:
    members = [
        member
        for kind in vars(enums).values()
        if isinstance(kind, type) and issubclass(kind, enums.StrEnum) and kind is not enums.StrEnum
        for member in kind
    ]
    assert len(members) == len(phrases.WORDS)
    for member in members:
        assert str(phrases.words_of(member))
    sections = {field.section for field in (*VISIT_FIELDS.values(), *VISIT_SADDLE_FIELDS.values())}
    assert sections == set(phrases.SECTION_WORDS)


def test_the_records_know_every_family_of_saddle_and_every_coat_that_the_engine_knows() -> None:
    assert {family.name for family in EngineFamily} <= {family.name for family in enums.Family}
    assert {coat.value for coat in Coat} - {"not noted"} == set(VISIT_FIELDS["coat"].choices)
