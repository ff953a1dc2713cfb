"""For whom words are meant: language, units of length, and how numbers and days are written there."""

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.days import MONTHS
from saddlebench.engine.units import Length

NO_BREAK = "\u00a0"
_NUMBER = r"[+\-\u2212±]?\d+(?:\.\d+)?"
_UNITS = r"kPa/mm|kPa|mm|cm²|cm³|cm|kg|N|°|%|×"
FEW_INCHES = 0.05
INCH_SIGN = "\u2033"
"""ISO 80000-3 leaves the inch to practice; workshops write the double prime close to its number."""
NUMBER = re.compile(_NUMBER)
QUANTITY = re.compile(rf"({_NUMBER})(?:( to |–)({_NUMBER}))?([ \u00a0]?)({_UNITS})(?![\w²³])")
PLACE = re.compile(r"\u2033?[ \u00a0](?:behind|in front of|hinter|vor)\b")
"""What follows a length that says where along a back something lies, to a few millimetres at best."""
DAY = re.compile(rf"(\d{{1,2}}) ({'|'.join(MONTHS)}) (\d{{4}})")


class Language(StrEnum):
    """Languages that reports are written in."""

    ENGLISH = "en"
    GERMAN = "de"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """Who reads: the language, and whether lengths are given in millimetres or inches."""

    language: Language = Language.ENGLISH
    length: Length = Length.MM

    def __post_init__(self) -> None:
        if self.length not in (Length.MM, Length.INCH):
            msg = f"reports give lengths in millimetres or inches, not in “{self.length}”"
            raise ValueError(msg)

    @property
    def is_usual(self) -> bool:
        """Whether the program's own sentences serve this reader as they are."""
        return self.language is Language.ENGLISH and self.length is Length.MM

    def number(self, shown: str) -> str:
        """Return a written number with this language's decimal mark."""
        return shown.replace(".", ",") if self.language is Language.GERMAN else shown

    def day(self, on: dt.date) -> str:
        """Return a day as it is written in this language."""
        months = GERMAN_MONTHS if self.language is Language.GERMAN else MONTHS
        return f"{on.day}{self._after_day}{NO_BREAK}{months[on.month - 1]} {on.year}"

    def short_day(self, on: dt.date, *, with_year: bool = True) -> str:
        """Return a day with its month shortened, as rows and columns have it."""
        day = f"{on.day}{self._after_day}"
        return f"{day} {self.month(on)}" if with_year else f"{day} {self._short_month(on)}"

    def month(self, on: dt.date) -> str:
        """Return a month, shortened, and its year, as axes have it."""
        return f"{self._short_month(on)} {on.year}"

    def _short_month(self, on: dt.date) -> str:
        is_german = self.language is Language.GERMAN
        return GERMAN_SHORT_MONTHS[on.month - 1] if is_german else MONTHS[on.month - 1][:3]

    @property
    def _after_day(self) -> str:
        return "." if self.language is Language.GERMAN else ""

    @property
    def length_sign(self) -> str:
        """The sign that heads a column of lengths."""
        return INCH_SIGN if self.length is Length.INCH else "mm"

    def millimetres(self, shown: str, *, is_place: bool = False) -> str:
        """Return a written number of millimetres, without its unit, in this reader's lengths.

        Inches stand to a hundredth; of a place along the back (`is_place`) to a tenth, as it is marked.
        """
        return self.number(_inches(shown, is_place=is_place) if self.length is Length.INCH else shown)

    def quantities(self, text: str, *, is_place: bool = False) -> str:
        """Return a text with every number and unit in it written for this reader.

        `is_place`: the text stands before “behind” or “in front of”; within it, that is seen.
        """
        return QUANTITY.sub(lambda found: self._quantity(found, is_place=is_place), text)

    def _quantity(self, found: re.Match[str], *, is_place: bool) -> str:
        first, between, second, space, unit = found.groups()
        if unit == "mm":
            is_place = is_place or PLACE.match(found.string, found.end()) is not None
            first = self.millimetres(first, is_place=is_place)
            second = second and self.millimetres(second, is_place=is_place)
            if self.length is Length.INCH:
                space, unit = "", INCH_SIGN
        if self.language is Language.GERMAN:
            between = " bis " if between == " to " else between
            space = NO_BREAK if unit == "%" else space
        numbers = (
            self.number(first) if second is None else f"{self.number(first)}{between}{self.number(second)}"
        )
        return f"{numbers}{space}{unit}"


GERMAN_MONTHS = (
    "Januar",
    "Februar",
    "März",
    "April",
    "Mai",
    "Juni",
    "Juli",
    "August",
    "September",
    "Oktober",
    "November",
    "Dezember",
)
GERMAN_SHORT_MONTHS = (
    "Jan.",
    "Feb.",
    "März",
    "Apr.",
    "Mai",
    "Juni",
    "Juli",
    "Aug.",
    "Sept.",
    "Okt.",
    "Nov.",
    "Dez.",
)


def _inches(millimetres: str, *, is_place: bool) -> str:
    """Return inches to a hundredth, a quarter of a millimetre; few tenths of a millimetre to a thousandth."""
    sign = millimetres[0] if millimetres[0] in "+-\u2212±" else ""
    inches = float(millimetres.removeprefix(sign)) / Length.INCH.in_mm
    few = "." in millimetres and 0.0 < inches < FEW_INCHES
    return f"{sign}{inches:.{1 if is_place else 3 if few else 2}f}"


_USUAL = Reader()
_reader: ContextVar[Reader] = ContextVar("reader", default=_USUAL)


@contextmanager
def read_by(reader: Reader) -> Iterator[None]:
    """Let the program speak to a reader while this lasts, in this thread or task alone."""
    token = _reader.set(reader)
    try:
        yield
    finally:
        _reader.reset(token)


def reader() -> Reader:
    """Return for whom the program speaks now."""
    return _reader.get()
