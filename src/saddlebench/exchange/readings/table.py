"""A table as text: decoded, split into rows and cells, with the row numbers a spreadsheet shows."""

import csv
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.units import Length

MAX_BYTES = 5_000_000
MAX_ROWS = 20_000
MAX_COLUMNS = 1_500
MAX_PROBLEMS = 500
"""More than these are not read by anyone; the rest is counted."""

UNITS = {
    "mm": Length.MM,
    "cm": Length.CM,
    "m": Length.M,
    "in": Length.INCH,
    "inch": Length.INCH,
    "inches": Length.INCH,
}
_UNIT_LINE = re.compile(r"#\s*units?\s*[:=]?\s*(\S+)\s*", re.IGNORECASE)
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


class Findings:
    """Problems as they are found, each with its place; raised together at the end."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._problems: list[Problem] = []
        self._more = 0

    def add(
        self,
        what: str,
        cure: str,
        *,
        row: int | None = None,
        field: str = "",
        station: int | None = None,
        side: str = "",
    ) -> None:
        """Note a problem at a place of the file."""
        where = self.where(row=row, field=field, station=station, side=side)
        self.note(Problem(what=what, cure=cure, where=where))

    def note(self, problem: Problem) -> None:
        """Note a problem that knows its place."""
        if len(self._problems) < MAX_PROBLEMS:
            self._problems.append(problem)
        else:
            self._more += 1

    def where(
        self, *, row: int | None = None, field: str = "", station: int | None = None, side: str = ""
    ) -> Where:
        """Return a place in this file."""
        return Where(file=self.file, row=row, field=field[:80], station=station, side=side)

    def raise_if_any(self) -> None:
        """Raise everything that was found.

        Raises
        ------
        InputProblemsError
            If there was anything.
        """
        if self._more:
            cure = "Mend those first, and read the file again."
            self._problems.append(
                Problem(what=f"There are {self._more} problems more", cure=cure, where=Where(file=self.file))
            )
        if self._problems:
            raise InputProblemsError(self._problems)


@dataclass(frozen=True, slots=True)
class Row:
    """A row that is neither blank nor a comment."""

    number: int
    """As a spreadsheet counts, from 1."""
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The header, the rows below it, and the unit that a comment states."""

    header: Row
    rows: tuple[Row, ...]
    unit: Length | None


def read_table(path: Path, findings: Findings) -> Table:
    """Read a table with semicolons, tabs or commas between its cells.

    Raises
    ------
    InputProblemsError
        If the file is empty, too large, not text, or has no row below its header.
    OSError
        If it cannot be opened.
    """
    text = _text(path, findings)
    lines = re.split(r"\r\n|\r|\n", text)
    filled = [(i, line) for i, line in enumerate(lines, start=1) if line.strip(" \t;,\u00a0")]
    comments = [(i, line) for i, line in filled if line.lstrip().startswith(("#", '"#'))]
    content = [(i, line) for i, line in filled if not line.lstrip().startswith(("#", '"#'))]
    if len(content) < 2:
        raise input_problem(
            "has no row of readings below a header",
            "Write the names of the columns in the first row, and one row for each station or reading.",
            findings.where(),
        )
    if len(content) > MAX_ROWS:
        what = f"has {len(content)} rows; a table of readings has at most {MAX_ROWS}"
        raise input_problem(what, "Check that this is the file you meant.", findings.where())
    mark = next((mark for mark in (";", "\t", ",") if mark in content[0][1]), ",")
    rows = [_row(number, line, mark, findings) for number, line in content]
    header = rows[0]
    if len(header.cells) > MAX_COLUMNS:
        what = f"has {len(header.cells)} columns; a table of readings has at most {MAX_COLUMNS}"
        raise input_problem(what, "Check that this is the file you meant.", findings.where())
    for row in rows[1:]:
        _check_width(row, header, mark, findings)
    return Table(header=header, rows=tuple(rows[1:]), unit=_stated_unit(comments, findings))


def _text(path: Path, findings: Findings) -> str:
    with path.open("rb") as stream:
        content = stream.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        what = f"is larger than the {MAX_BYTES / 1e6:g} MB that a table of readings may have"
        raise input_problem(what, "Check that this is the file you meant.", findings.where())
    text = _decoded(content)
    if text is None:
        raise input_problem(
            "is not a table of text",
            "Save it from the spreadsheet as CSV, or name another file.",
            findings.where(),
        )
    if not text.strip():
        raise input_problem(
            "is empty", "Check that it was saved, and that this is the file you meant.", findings.where()
        )
    return text


def _decoded(content: bytes) -> str | None:
    """Return the text, by its byte order mark, as UTF-8, or as Latin-1 (Windows); None if it is no text."""
    encodings = [name for mark, name in _MARKS if content.startswith(mark)] or ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not any(unicodedata.category(letter) == "Cc" for letter in set(text) - set("\t\r\n")):
            return text
    return None


def _row(number: int, line: str, mark: str, findings: Findings) -> Row:
    try:
        cells = next(csv.reader([line], delimiter=mark, strict=True))
    except csv.Error:
        findings.add("A quotation mark does not end in its row", "Remove it.", row=number)
        cells = []
    return Row(number, tuple(cell.strip(" \t\u00a0") for cell in cells))


def _check_width(row: Row, header: Row, mark: str, findings: Findings) -> None:
    extra = [cell for cell in row.cells[len(header.cells) :] if cell]
    if extra:
        hint = "If numbers have decimal commas, put semicolons between the cells, in the header too."
        findings.add(
            f"The row has {len(row.cells)} cells, the header {len(header.cells)}",
            hint if mark == "," else "Remove the extra cells, or name their columns.",
            row=row.number,
        )


def _stated_unit(comments: list[tuple[int, str]], findings: Findings) -> Length | None:
    stated = [
        (i, match[1].lower()) for i, line in comments if (match := _UNIT_LINE.match(line.strip('" ;,\t')))
    ]
    for i, word in stated:
        if word not in UNITS:
            findings.add(f"“{word[:40]}” is not a unit known here", "Write mm, cm, m or in.", row=i)
    units = {UNITS[word] for _, word in stated if word in UNITS}
    if len(units) > 1:
        findings.add("Two units are stated for one file", "Keep one.", row=stated[-1][0])
    return next(iter(units), None)
