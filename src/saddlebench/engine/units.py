"""The one table of quantities and their units, and the one parser of numbers a person types.

Inside the engine a length is mm, an angle rad, a force N, a pressure kPa, a stiffness kPa/mm, a mass kg; a
public name carries its unit when it is not one of these. Conversion happens at the doors only.
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.errors import Problem, Where


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit people use, and how many of the engine's own units one of it is."""

    symbol: str
    in_engine: float
    digits: int
    """Decimals worth showing."""


class Length(StrEnum):
    """Units of length that may be stated; a unit is never guessed."""

    MM = "mm"
    CM = "cm"
    M = "m"
    INCH = "in"

    @property
    def in_mm(self) -> float:
        """Millimetres in one of these (the inch is 25.4 mm by international agreement of 1959)."""
        return {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}[self.value]


MM_PER_HAND = 101.6
"""A hand is four inches."""
DEGREE = math.pi / 180.0

QUANTITIES = {
    "length": Unit("mm", 1.0, 0),
    "angle": Unit("°", DEGREE, 0),
    "force": Unit("N", 1.0, 0),
    "pressure": Unit("kPa", 1.0, 1),
    "stiffness": Unit("kPa/mm", 1.0, 2),
    "mass": Unit("kg", 1.0, 1),
    "area": Unit("cm²", 100.0, 0),
    "volume": Unit("cm³", 1000.0, 0),
    "share": Unit("%", 0.01, 0),
}

_PLAIN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}([.,]\d{3})+")


def parse_number(text: str, where: Where) -> float | Problem:
    """Read a number with a decimal comma or point.

    A form that could be a decimal or a thousands group ("1,250") is asked about, not guessed; two different
    marks ("1.250,5") are likewise refused.
    """
    tidy = text.strip().replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "")
    if _GROUPED.fullmatch(tidy):
        return Problem(
            what=f"“{text.strip()}” could be a decimal number or a number in thousands",
            cure="Write it without a mark for thousands, or with another count of decimals (1250 or 1.25).",
            where=where,
        )
    if not _PLAIN.fullmatch(tidy):
        return Problem(
            what=f"“{text.strip()[:40]}” is not a number",
            cure="Write digits with a decimal comma or point, for example 12,5 or 12.5.",
            where=where,
        )
    return float(tidy.replace(",", "."))
