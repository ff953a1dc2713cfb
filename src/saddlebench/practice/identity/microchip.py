"""Microchip numbers: the decimal form of the ISO 11784 code that an ISO 11785 reader shows."""

import re
from dataclasses import dataclass

from saddlebench.engine.errors import input_problem

IDENTITY_BITS = 38
IDENTITY_MAX = 2**IDENTITY_BITS - 1
_FIRST_MAKER = 900
_TEST_CODE = 999
_SEPARATORS = re.compile(r"[\s.\-]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Microchip:
    """A valid 15-digit number: three digits of country or maker, twelve of identity."""

    prefix: int
    identity: int

    @property
    def code(self) -> str:
        """The fifteen digits."""
        return f"{self.prefix:03d}{self.identity:012d}"

    @property
    def is_country_code(self) -> bool:
        """Whether the first three digits are a country (ISO 3166 numeric), not a maker."""
        return self.prefix < _FIRST_MAKER

    @property
    def is_test_code(self) -> bool:
        """Whether the number is of the range for trying readers, which no horse carries."""
        return self.prefix == _TEST_CODE


def read_microchip(text: str) -> Microchip:
    """Return the microchip that a text states; blanks, dots and dashes between digits are left out.

    Raises
    ------
    InputProblemsError
        If it is not fifteen digits, has no country or maker, or an identity of more than 38 bits
        (ISO 11784: bits 17 to 26 country or maker, 27 to 64 identity).
    """
    digits = _SEPARATORS.sub("", text)
    if not re.fullmatch(r"[0-9]{15}", digits):
        count = sum(character.isdigit() for character in digits)
        what = f"a microchip number has 15 digits and nothing else; this has {count} digits"
        raise input_problem(what, "Read the chip again, or copy all 15 digits from the passport.")
    prefix, identity = int(digits[:3]), int(digits[3:])
    if prefix == 0:
        raise input_problem(
            "a microchip number starts with a country or maker, 001 to 999; this starts with 000",
            "Read the chip again, or copy all 15 digits from the passport.",
        )
    if identity > IDENTITY_MAX:
        msg = f"the last 12 digits of a microchip are at most {IDENTITY_MAX}; these are {identity}"
        raise input_problem(
            msg,
            "Two digits may be swapped: read the chip again.",
        )
    return Microchip(prefix=prefix, identity=identity)
