"""Sections of an underside from a typed table: station, side, y, z; any column order, comma or point."""

import csv
import io
from collections import defaultdict
from pathlib import Path

import numpy as np

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.saddle.sections import UndersideSection, section_problems
from saddlebench.engine.units import Length, parse_number
from saddlebench.exchange.doors import read_text

COLUMNS = ("behind", "side", "y", "z")
_SIDES = {"near": 1, "left": 1, "off": -1, "right": -1}
MAX_ROWS = 20_000
_Row = tuple[float, int, float, float]


def read_sections(path: Path, unit: Length) -> tuple[UndersideSection, ...]:
    """Read a table of sections: `behind`, `side` (near or off), `y` outwards from the middle, `z` up.

    Parameters
    ----------
    path : a CSV file, separated by comma, semicolon or tab, with a heading row
    unit : the unit of its lengths

    Returns
    -------
    Sections from front to rear; their points keep the order of the rows

    Raises
    ------
    InputProblemsError
        With every row that cannot be read, and every section that cannot be right.
    OSError
        If it cannot be opened.
    """
    lines = _lines(read_text(path), str(path))
    places = _places(lines[0], str(path))
    problems: list[Problem] = []
    grouped: dict[float, dict[int, list[tuple[float, float]]]] = defaultdict(lambda: {1: [], -1: []})
    for number, cells in enumerate(lines[1:], start=2):
        if any(cell.strip() for cell in cells):
            row = _row(cells, places, Where(file=str(path), row=number))
            if isinstance(row, list):
                problems += row
            else:
                behind, side, y, z = row
                grouped[behind * unit.in_mm][side].append((side * y * unit.in_mm, z * unit.in_mm))
    sections = tuple(
        UndersideSection(
            behind_mm=behind,
            left=np.array(sides[1], float).reshape(-1, 2),
            right=np.array(sides[-1], float).reshape(-1, 2),
        )
        for behind, sides in sorted(grouped.items())
    )
    for problem in () if problems else section_problems(sections):
        where = Where(file=str(path), station=problem.where.station, side=problem.where.side)
        problems.append(Problem(what=problem.what, cure=problem.cure, where=where))
    if problems:
        raise InputProblemsError(problems)
    return sections


def _lines(text: str, file: str) -> list[list[str]]:
    first = text.splitlines()[0]
    separator = max(";\t,", key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text), delimiter=separator, strict=True))
    except csv.Error as error:
        msg = f"is not a table: {error}"
        raise input_problem(msg, "Save it again as CSV.", Where(file=file)) from error
    if len(lines) > MAX_ROWS:
        msg = f"has more than {MAX_ROWS} rows"
        raise input_problem(msg, "Check that this is the file you meant.", Where(file=file))
    return lines


def _places(heading: list[str], file: str) -> dict[str, int]:
    names = [name.strip().lower() for name in heading]
    missing = [name for name in COLUMNS if names.count(name) != 1]
    if missing:
        raise InputProblemsError(
            [
                Problem(
                    what=f"the heading must name the column “{name}” once",
                    cure=f"Write a first row with the columns {', '.join(COLUMNS)}, in any order.",
                    where=Where(file=file, row=1, field=name),
                )
                for name in missing
            ]
        )
    return {name: names.index(name) for name in COLUMNS}


def _row(cells: list[str], places: dict[str, int], where: Where) -> _Row | list[Problem]:
    problems: list[Problem] = []
    numbers: dict[str, float] = {}
    for name in ("behind", "y", "z"):
        at = Where(file=where.file, row=where.row, field=name)
        cell = cells[places[name]] if places[name] < len(cells) else ""
        read = parse_number(cell, at)
        if isinstance(read, Problem):
            problems.append(read)
        else:
            numbers[name] = read
    cell = cells[places["side"]].strip().lower() if places["side"] < len(cells) else ""
    if cell not in _SIDES:
        problems.append(
            Problem(
                what=f"“{cell[:40]}” is not a side",
                cure="Write near or off (left or right of the horse).",
                where=Where(file=where.file, row=where.row, field="side"),
            )
        )
    if _SIDES.get(cell) == 1 and numbers.get("y", 0.0) < 0.0:
        problems.append(
            Problem(
                what="a point of the near side lies on the off side of the middle",
                cure="Write near with y above zero; on the off side y may have either sign.",
                where=Where(file=where.file, row=where.row, field="y"),
            )
        )
    if problems:
        return problems
    return numbers["behind"], _SIDES[cell], abs(numbers["y"]), numbers["z"]
