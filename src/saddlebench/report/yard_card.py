"""The yard card: a visit and a back on paper, for the day when everything is flat; typed in afterwards.

What stands on it, and in which order, is said by whoever asks for it: the pages hand over their own fields,
so that card and page cannot part ways. One box for a digit, the decimal mark printed; tagged, for any reader.
"""

import io
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

import segno

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.setting import Paper, region_of
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "yard_card.typ"
MOST_CARDS = 12
"""More than a day's visits are not printed at once."""
TYPED_LATER = (
    "Type it in as soon as there is power: measuring starts with “Typed in from a yard card”, the day is the "
    "day on this card, and the fields come in this order."
)
HOW_TO_WRITE = (
    "One digit a box, the decimal mark is printed; a minus has the dashed box. What was not read stays "
    "blank: never guess. Cross out and write beside it; do not write over. Rows go from left to right; under "
    "NEAR and OFF the near column comes first."
)


_WORDS = {
    "horse": "Horse",
    "day": "Day",
    "dmy": "day, month, year",
    "begun": "Begun at",
    "by": "Written by",
    "near": "NEAR (left)",
    "off": "OFF (right)",
    "any": "any that hold",
    "on": "goes on",
    "page": "page",
    "of": "of",
    "stop": "Before anything else: stop if one of these holds",
}
"""What is printed on every card, whatever it asks."""


class Answer(StrEnum):
    """How an answer is written on paper."""

    NUMBER = "number"
    WORDS = "words"
    """On one line."""
    LINES = "lines"
    """On several."""
    TICK = "tick"
    """One of its choices."""
    TICKS = "ticks"
    """Any of its choices."""
    DAY = "day"
    HOUR = "hour"


@dataclass(frozen=True, slots=True, kw_only=True)
class CardField:
    """One field: what is asked, and how much room its answer takes."""

    words: str
    answer: Answer = Answer.WORDS
    unit: str = ""
    digits: int = 0
    """Boxes before the decimal mark."""
    decimals: int = 0
    """Boxes after it."""
    has_sign: bool = False
    choices: tuple[str, ...] = ()
    side: str = ""
    """near, middle, off, or nothing: near and off stand side by side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardGroup:
    """Fields that are asked together, in their order."""

    words: str
    """Blank where its fields speak for themselves."""
    fields: tuple[CardField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPart:
    """A part of the work: a step of a visit, the back, a saddle."""

    words: str
    groups: tuple[CardGroup, ...]
    detail: str = ""
    starts_page: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardStop:
    """What ends a fitting: who comes first, and the causes to tick."""

    title: str
    first: str
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardCard:
    """One visit's card."""

    stops: tuple[CardStop, ...]
    parts: tuple[CardPart, ...]
    horse: str = ""
    """As written down; blank: a line to write on."""
    day: str = ""
    """As people write it; blank: boxes."""
    number: str = ""
    """The visit's number, alone in the code; nothing else of the visit is."""

    @property
    def fields(self) -> tuple[CardField, ...]:
        """Every field in the order of the card."""
        return tuple(field for part in self.parts for group in part.groups for field in group.fields)


def boxes(low: float, high: float, step: float = 1.0) -> tuple[bool, int, int]:
    """Return whether a number needs a sign, its digits before the decimal mark, and after it."""
    digits = max(len(str(int(abs(low)))), len(str(int(abs(high)))))
    shown = f"{step:.6f}".rstrip("0").partition(".")[2]
    return low < 0.0, digits, min(len(shown), 2)


def write_yard_cards(cards: Sequence[YardCard], path: Path, paper: Paper = Paper.A4) -> None:
    """Write yard cards as one PDF; whole, or not at all."""
    write_whole(path, yard_card_pdf(cards, paper))


def yard_card_pdf(cards: Sequence[YardCard], paper: Paper = Paper.A4) -> bytes:
    """Return yard cards as PDF/UA-1 (ISO 14289-1), each beginning on a page of its own.

    Raises
    ------
    InputProblemsError
        If there is no card, or more than a day has.
    """
    if not 1 <= len(cards) <= MOST_CARDS:
        what = f"{len(cards)} yard cards are asked for, and from 1 to {MOST_CARDS} are printed at once"
        raise input_problem(what, "Choose the visits of one day.")
    to = reader()
    contents = {
        "title": said("Yard card"),
        "language": to.language.value,
        "region": region_of(to),
        "decimal": to.number("."),
        "words": {name: said(words) for name, words in _WORDS.items()},
        "paper": paper.value,
        "cautions": said(SCREENING_NOTE),
        "how": said(HOW_TO_WRITE),
        "later": said(TYPED_LATER),
        "cards": [_card(card) for card in cards],
    }
    return typeset_for_all(TEMPLATE, [contents])


def _card(card: YardCard) -> dict[str, Any]:
    return {
        "horse": card.horse,
        "day": card.day,
        "code": _code(card.number) if card.number else None,
        "number": card.number.rpartition(":")[2],
        "stops": [asdict(stop) for stop in card.stops],
        "parts": [_part(part) for part in card.parts],
    }


def _code(number: str) -> dict[str, str]:
    drawn = io.BytesIO()
    segno.make(number, error="m", micro=False).save(drawn, kind="svg", border=0)
    alt = said(f"The visit's number: {number.rpartition(':')[2]}")
    return {"svg": drawn.getvalue().decode(), "alt": alt}


def _part(part: CardPart) -> dict[str, Any]:
    groups = [{"words": group.words, "rows": [_row(row) for row in rows_of(group)]} for group in part.groups]
    return {"words": part.words, "detail": part.detail, "starts_page": part.starts_page, "groups": groups}


Row = tuple[CardField | None, ...]


def rows_of(group: CardGroup) -> list[Row]:
    """Return a group's fields in rows: near beside off, what is short two to a row, what is long alone.

    Down a column, near before off, the order is that of the fields.
    """
    rows: list[Row] = []
    pending: list[CardField] = []
    sided: list[CardField] = []
    for field in group.fields:
        if field.side:
            rows += _two_to_a_row(pending)
            pending = []
            sided.append(field)
            continue
        rows += _side_by_side(sided)
        sided = []
        if _is_long(field):
            rows += _two_to_a_row(pending)
            pending = []
            rows.append((field,))
        else:
            pending.append(field)
    return [*rows, *_side_by_side(sided), *_two_to_a_row(pending)]


def _is_long(field: CardField) -> bool:
    return field.answer in (Answer.LINES, Answer.TICKS) or sum(map(len, field.choices)) > 24


def _two_to_a_row(fields: Sequence[CardField]) -> list[Row]:
    return [
        tuple(fields[i : i + 2]) if i + 1 < len(fields) else (fields[i], None)
        for i in range(0, len(fields), 2)
    ]


def _side_by_side(fields: Sequence[CardField]) -> list[Row]:
    # What lies on the midline is read between the sides: it ends the near column.
    near = [field for field in fields if field.side != "off"]
    off = [field for field in fields if field.side == "off"]
    n = max(len(near), len(off))
    return [(near[i] if i < len(near) else None, off[i] if i < len(off) else None) for i in range(n)]


def _row(row: Row) -> dict[str, Any]:
    cells = [None if field is None else asdict(field) for field in row]
    return {"cells": cells, "sided": any(field is not None and field.side for field in row)}
