"""Tables as text: any order of columns, comma, semicolon or tab; every problem with its row and field."""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem

LARGEST_BYTES = 20 << 20
MOST_ROWS = 5_000
"""Where nothing else is asked for: rows that are taken on in one transaction make others wait for seconds."""
MOST_PROBLEMS = 500
_LONGEST_CELL = 20_000
_PLAIN_SIGNED = re.compile(r"[+\-][0-9\s().\-/]*")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of a table; rows count from 1, the header being row 1."""

    number: int
    cells: Mapping[str, str]


Cell: TypeAlias = object
"""What can stand in a cell: a text, a number, yes or no, or nothing."""


def read_table(
    content: bytes, columns: Mapping[str, str], file: str, *, most_rows: int = MOST_ROWS
) -> list[Row]:
    """Return the rows of a table whose header names columns by their names or words, in any order.

    Parameters
    ----------
    content : bytes
        The file.
    columns : mapping
        A column's name inside, to its words for people; both are taken in the header.
    file : str
        What the file is called, for problems.
    most_rows : int
        Longer tables are refused.

    Raises
    ------
    InputProblemsError
        If the file is no such table, or too large.
    """
    text = _decoded(content, file)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        rows = [cells for cells, _ in zip(reader, range(most_rows + 2), strict=False)]
    except csv.Error as error:
        raise _file_problem(file, f"is no table ({error})", "Save it again as CSV.") from error
    if len(rows) > most_rows + 1:
        raise _file_problem(file, f"has more than {most_rows} rows", "Split it into several files.")
    if not rows or not any(cell.strip() for cell in rows[0]):
        raise _file_problem(file, "is empty", "The first row names the columns.")
    names = _header(rows[0], columns, file)
    filled = [
        (number, cells) for number, cells in enumerate(rows[1:], start=2) if any(c.strip() for c in cells)
    ]
    _check_widths(filled, len(names), file)
    return [
        Row(
            number=number, cells={name: _cell(cell) for name, cell in zip(names, cells, strict=False) if name}
        )
        for number, cells in filled
    ]


def _file_problem(file: str, what: str, cure: str) -> InputProblemsError:
    return input_problem(what, cure, Where(file=file))


def _decoded(content: bytes, file: str) -> str:
    if len(content) > LARGEST_BYTES:
        raise _file_problem(file, f"is larger than {LARGEST_BYTES >> 20} MB", "Split it into several files.")
    if b"\x00" in content:
        raise _file_problem(file, "is no text", "Save the table as CSV, in UTF-8.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _file_problem(file, f"is not UTF-8 in line {line}", "Save it as CSV in UTF-8.") from error


def _delimiter(text: str) -> str:
    first = text.split("\n", 1)[0]
    return max((";", "\t", ","), key=first.count)


def _header(cells: Sequence[str], columns: Mapping[str, str], file: str) -> list[str]:
    known = {name.casefold(): name for name in columns}
    known |= {words.casefold(): name for name, words in columns.items()}
    names, problems = [], []
    for cell in cells:
        name = known.get(cell.strip().casefold(), "")
        if not name and cell.strip():
            cure = f"Use one of: {', '.join(columns)}."
            where = Where(file=file, row=1, field=cell.strip()[:60])
            problems.append(Problem(what="is not the name of a column", cure=cure, where=where))
        elif name in names and name:
            where = Where(file=file, row=1, field=cell.strip()[:60])
            problems.append(Problem(what="stands twice in the header", cure="Leave one out.", where=where))
        names.append(name)
    if problems:
        raise InputProblemsError(problems)
    return names


def _check_widths(rows: Iterable[tuple[int, Sequence[str]]], width: int, file: str) -> None:
    problems = [
        Problem(
            what=f"has {len(cells)} cells where the header has {width}",
            cure="A sign that separates columns may stand in a text: put that text in quotation marks.",
            where=Where(file=file, row=number),
        )
        for number, cells in rows
        if len(cells) > width and any(cell.strip() for cell in cells[width:])
    ]
    if problems:
        raise InputProblemsError(problems[:MOST_PROBLEMS])


def _cell(text: str) -> str:
    trimmed = text[:_LONGEST_CELL].strip()
    return trimmed[1:] if trimmed.startswith("'") and _FORMULA.match(trimmed[1:]) else trimmed


def write_table(columns: Sequence[str], rows: Iterable[Mapping[str, Cell]]) -> str:
    """Return a table as CSV; a text that a spreadsheet would take for a formula is marked with a quote."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_shown(row.get(name)) for name in columns])
    return out.getvalue()


def _shown(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else str(value)
    text = str(value)
    return f"'{text}" if _FORMULA.match(text) and not _PLAIN_SIGNED.fullmatch(text) else text
