"""Microchip and life numbers against their published rules and samples.

Sources: ISO 11784:1996 code structure as summarised by the International Committee for Animal Recording
(bits 17-26 country or maker, 27-64 identity; 15 digits in decimal form, 001-899 countries, 900 and up
makers); the UELN organisation's examples of composing a life number (ueln.net).
"""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.identity import Microchip, Ueln, compose_ueln, read_microchip, read_ueln


@pytest.mark.parametrize(
    ("country_and_database", "own", "code"),
    [
        # The three examples of ueln.net, digit for digit; in the third a stroke becomes a nought.
        ("250001", "00155928M", "25000100155928M"),
        ("372414", "1234567", "372414001234567"),
        ("121212", "78M/234", "1212120078M0234"),
    ],
)
def test_published_samples_of_life_numbers(country_and_database: str, own: str, code: str) -> None:
    made = compose_ueln(country_and_database[:3], country_and_database[3:], own)
    assert made.code == code
    assert read_ueln(code) == made
    assert (made.country, made.database) == (country_and_database[:3], country_and_database[3:])


def test_a_database_may_be_letters() -> None:
    assert read_ueln("372IRE 123456789").database == "IRE"


@pytest.mark.parametrize(
    "text", ["", "25000100155928", "25000100155928MM", "A5000100155928M", "000001001559280"]
)
def test_what_is_no_life_number(text: str) -> None:
    with pytest.raises(InputProblemsError):
        read_ueln(text)


def test_the_identity_has_38_bits_and_not_one_more() -> None:
    # 2^38 = 274 877 906 944 values, so the last is ...943.
    assert read_microchip("982274877906943").identity == 2**38 - 1
    with pytest.raises(InputProblemsError, match="274877906943"):
        read_microchip("982274877906944")


def test_countries_end_at_899_makers_begin_at_900_and_999_is_for_trying() -> None:
    assert read_microchip("826000000000001").is_country_code
    assert read_microchip("899000000000001").is_country_code
    assert not read_microchip("900000000000001").is_country_code
    assert read_microchip("999000000000001").is_test_code


@pytest.mark.parametrize(
    "text",
    ["", "98500012345678", "9850001234567890", "98500012345678A", "000123456789012", "٩٨٥٠٠٠١٢٣٤٥٦٧٨٩"],
)
def test_what_is_no_microchip_number(text: str) -> None:
    with pytest.raises(InputProblemsError):
        read_microchip(text)


@given(st.integers(1, 999), st.integers(0, 2**38 - 1), st.sampled_from(["", " ", "-", "."]))
def test_every_number_is_read_back_with_blanks_or_dashes_between(
    prefix: int, identity: int, sign: str
) -> None:
    code = f"{prefix:03d}{identity:012d}"
    typed = sign.join((code[:3], code[3:7], code[7:]))
    assert read_microchip(typed).code == code


def _length_or_problems(read: Callable[[str], Microchip | Ueln], text: str) -> tuple[int, int]:
    try:
        return len(read(text).code), 0
    except InputProblemsError as error:
        return 0, len(error.problems)


@given(st.text(max_size=40), st.sampled_from([read_microchip, read_ueln]))
def test_any_text_is_a_number_or_a_sentence(text: str, read: Callable[[str], Microchip | Ueln]) -> None:
    assert _length_or_problems(read, text) in {(15, 0), (0, 1)}
