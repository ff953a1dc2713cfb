"""The columns of a stock table: names, words, and how a cell is read."""

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from saddlebench.engine.errors import Problem, Where


class Whereabouts(StrEnum):
    """Where a saddle is."""

    RACK = "rack"
    VAN = "van"
    ON_TRIAL = "on trial"
    OUT = "out"


Kind = Literal["text", "number", "date", "where", "file"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column."""

    words: str
    meaning: str
    kind: Kind = "text"
    low: float = 0.0
    high: float = 0.0
    required: bool = False


COLUMNS: Mapping[str, Column] = {
    "number": Column(words="Number", meaning="The shop's own number; unique in the table.", required=True),
    "uuid": Column(words="Practice record", meaning="Its record in the practice; may be empty."),
    "label": Column(words="Name", meaning="What people call it.", required=True),
    "record": Column(
        words="Saddle record",
        meaning="File of its saddle record (.json) or saddle file (.toml), beside this table. Saddles of one "
        "range and size may name the same file.",
        kind="file",
        required=True,
    ),
    "where": Column(words="Where it is", meaning="rack, van, on trial or out.", kind="where", required=True),
    "place": Column(words="Place", meaning="Which rack or van."),
    "seat_in": Column(words="Seat, in", meaning="Seat size in inches.", kind="number", low=8.0, high=24.0),
    "flap": Column(words="Flap", meaning="Cut of the flap, in words."),
    "flap_mm": Column(
        words="Flap, mm",
        meaning="From the stirrup bar to the flap's lower edge.",
        kind="number",
        low=150.0,
        high=700.0,
    ),
    "discipline": Column(words="Discipline", meaning="What it is for."),
    "condition": Column(words="Condition", meaning="In words."),
    "price": Column(words="Price", meaning="A number.", kind="number", low=0.0, high=1_000_000.0),
    "currency": Column(words="Currency", meaning="Three letters (ISO 4217); needed with a price."),
    "reserved_for": Column(words="Reserved for", meaning="Empty: nobody."),
    "on_trial_with": Column(words="On trial with", meaning="Needed where it is on trial."),
    "on_trial_until": Column(words="On trial until", meaning="A day, 2026-05-14.", kind="date"),
}
"""Every column by its name; a table may have them in any order, by name or words."""

LONGEST = 200
Read = str | float | dt.date | Whereabouts | None


def read_cell(name: str, text: str, where: Where) -> tuple[Read, Problem | None]:
    """Return a cell's value, or what is wrong with it."""
    column = COLUMNS[name]
    if not text:
        if column.required:
            return None, Problem(what="is empty", cure=column.meaning, where=where)
        return None, None
    return _READERS[column.kind](column, text, where)


def _text(_column: Column, text: str, where: Where) -> tuple[Read, Problem | None]:
    if len(text) > LONGEST:
        return None, Problem(what="is too long", cure=f"At most {LONGEST} characters.", where=where)
    return text, None


def _number(column: Column, text: str, where: Where) -> tuple[Read, Problem | None]:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        what = f"“{text[:40]}” is not a number"
        return None, Problem(what=what, cure="Write a plain number, such as 17.5.", where=where)
    if not column.low <= number <= column.high:
        what = f"{number:g} is outside {column.low:g} to {column.high:g}"
        return None, Problem(what=what, cure=column.meaning, where=where)
    return number, None


def _date(_column: Column, text: str, where: Where) -> tuple[Read, Problem | None]:
    try:
        return dt.date.fromisoformat(text), None
    except ValueError:
        what = f"“{text[:40]}” is not a day"
        return None, Problem(what=what, cure="Write it as 2026-05-14.", where=where)


def _whereabouts(_column: Column, text: str, where: Where) -> tuple[Read, Problem | None]:
    try:
        return Whereabouts(text.casefold().replace("_", " ")), None
    except ValueError:
        cure = f"Write one of: {', '.join(Whereabouts)}."
        return None, Problem(what=f"“{text[:40]}” is no such place", cure=cure, where=where)


_READERS: Mapping[Kind, Callable[[Column, str, Where], tuple[Read, Problem | None]]] = {
    "text": _text,
    "file": _text,
    "number": _number,
    "date": _date,
    "where": _whereabouts,
}
