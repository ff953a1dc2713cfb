"""The header: which column holds what, by canonical names, obvious synonyms and numbered columns."""

import re
from dataclasses import dataclass
from enum import StrEnum

from saddlebench.exchange.readings.table import UNITS, Findings, Row

SYNONYMS = {
    "station": ("station", "section", "station no", "section no"),
    "distance": ("distance", "s", "position", "behind shoulder", "distance behind shoulder mark"),
    "side": ("side",),
    "repeat": ("repeat", "again"),
    "tilt": ("tilt", "lean"),
    "height": ("height", "topline", "topline height"),
    "level": ("level", "topline level"),
    "part": ("joint", "pin", "point", "no"),
    "reading": ("reading", "angle", "depth", "value"),
    "y": ("y", "out", "across"),
    "z": ("z", "up"),
    "notes": ("notes", "note", "remarks", "comment"),
}
"""Canonical name of a column → what may stand for it; case, underscores and dots do not matter."""

NUMBERED = {
    "left": ("l", "left", "near", "left joint", "near joint", "left pin", "near pin"),
    "right": ("r", "right", "off", "right joint", "off joint", "right pin", "off pin"),
    "pin": ("p", "pin"),
    "width": ("w", "width"),
    "topline": ("t", "topline", "topline joint"),
    "row's side": ("j", "joint", ""),
    "y": ("y", "out"),
    "z": ("z", "up"),
}
"""What stands before the number of a numbered column: L1, left joint 1, P7, T2, y3; J1 needs a “side”."""

MIDDLE = ("m", "middle", "middle pin")
LEFT_WORDS = ("left", "l", "near", "ns")
RIGHT_WORDS = ("right", "r", "off", "os")
MIDDLE_WORDS = ("middle", "m", "midline")
TOPLINE_WORDS = ("topline", "t", "top")
MAX_PART = 1000

_BRACKETED = re.compile(r"(.*?)\s*[\[(]\s*([^\[\]()]*?)\s*[\])]")
_TRAILING = re.compile(r"(.*\S)\s+(mm|cm|deg|degrees|div|divisions)")
_NUMBERED = re.compile(r"(\D*?)\s*(\d{1,6})")
_ANGLE_UNITS = ("deg", "degrees", "degree", "°")
_DIVISION_UNITS = ("div", "divs", "divisions", "division")


class UnitKind(StrEnum):
    """What a unit in a header is one of."""

    LENGTH = "length"
    ANGLE = "angle"
    DIVISION = "division"


@dataclass(frozen=True, slots=True)
class Column:
    """What one column holds."""

    key: str
    """A canonical name; “cell” for a numbered column of readings."""
    text: str
    """As it stands in the file."""
    side: str = ""
    """Of a numbered column: left, right, middle, pin, width, topline, row's side, y, z."""
    part: int = 0
    """Of a numbered column: its number."""
    unit: str = ""
    """As stated in the header, lower case; empty where it is not."""

    @property
    def unit_kind(self) -> UnitKind | None:
        """What kind of unit is stated, if any."""
        if self.unit in UNITS:
            return UnitKind.LENGTH
        if self.unit in _ANGLE_UNITS:
            return UnitKind.ANGLE
        return UnitKind.DIVISION if self.unit in _DIVISION_UNITS else None


def read_header(header: Row, rows: tuple[Row, ...], findings: Findings) -> tuple[Column | None, ...]:
    """Return what each column holds; None for an unnamed column that is blank throughout."""
    columns: list[Column | None] = []
    seen: dict[tuple[str, str, int], str] = {}
    for place, text in enumerate(header.cells):
        column = _column(text)
        if column is None:
            _unknown(place, text, header, rows, findings)
        elif (column.key, column.side, column.part) in seen:
            other = seen[column.key, column.side, column.part]
            findings.add(
                f"The columns “{other[:40]}” and “{text[:40]}” hold the same",
                "Keep one of them.",
                row=header.number,
            )
            column = None
        elif column.unit and column.unit_kind is None:
            findings.add(
                f"“{column.unit[:40]}” is not a unit known here",
                "Write mm, cm, m or in for lengths; deg or div for readings.",
                row=header.number,
                field=text,
            )
        if column is not None:
            seen[column.key, column.side, column.part] = text
        columns.append(column)
    return tuple(columns)


def _unknown(place: int, text: str, header: Row, rows: tuple[Row, ...], findings: Findings) -> None:
    if text:
        findings.add(
            f"The column “{text[:40]}” is not known",
            "Use the names of docs/reference/readings-tables.md; for remarks call it “notes”.",
            row=header.number,
        )
    elif any(row.cells[place : place + 1] not in ((), ("",)) for row in rows):
        findings.add(
            f"Column {place + 1} has cells but no name",
            "Name the column in the header, or empty it.",
            row=header.number,
        )


def _column(text: str) -> Column | None:
    name, unit = _split_unit(text.strip().lower())
    name = re.sub(r"[\s_.:-]+", " ", name).strip()
    if not name and not text.strip():
        return None
    for key, words in SYNONYMS.items():
        if name in words:
            return Column(key, text, unit=unit)
    if name in MIDDLE:
        return Column("cell", text, side="middle", part=1, unit=unit)
    match = _NUMBERED.fullmatch(name)
    if match is None or not 1 <= int(match[2]) <= MAX_PART:
        return None
    for side, words in NUMBERED.items():
        if match[1] in words:
            return Column("cell", text, side=side, part=int(match[2]), unit=unit)
    return None


def _split_unit(name: str) -> tuple[str, str]:
    match = _BRACKETED.fullmatch(name) or _TRAILING.fullmatch(re.sub(r"[_]+", " ", name))
    return (match[1], match[2]) if match else (name, "")


def side_word(text: str) -> str | None:
    """Return left, right, middle or topline for what stands in a column “side”; None for anything else."""
    word = text.strip().lower().rstrip(".")
    sides = {"left": LEFT_WORDS, "right": RIGHT_WORDS, "middle": MIDDLE_WORDS, "topline": TOPLINE_WORDS}
    return next((side for side, words in sides.items() if word in words), None)
