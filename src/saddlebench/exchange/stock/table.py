"""A stock table in and out: all of it, or none and every problem by row and field."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path, PurePosixPath

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.plain_tables import MOST_PROBLEMS, Row, read_table, write_table
from saddlebench.exchange.records import read_saddle
from saddlebench.exchange.saddles import read_saddle as read_saddle_file
from saddlebench.exchange.stock.columns import COLUMNS, Read, Whereabouts, read_cell
from saddlebench.exchange.stock.item import Stock, StockItem

MOST_SADDLES = 100_000


def read_stock(path: Path) -> Stock:
    """Read a stock table and the saddle records that it names.

    Raises
    ------
    InputProblemsError
        With every problem of every row, and of every record file; then nothing is read.
    OSError
        If the table cannot be opened.
    """
    columns = {name: column.words for name, column in COLUMNS.items()}
    rows = read_table(path.read_bytes(), columns, str(path), most_rows=MOST_SADDLES)
    problems: list[Problem] = []
    items = [item for row in rows if (item := _item(row, path, problems)) is not None]
    problems += _twice(rows, path)
    records = _records(rows, items, path, problems)
    if problems:
        raise InputProblemsError(problems[:MOST_PROBLEMS])
    kept = tuple(replace(records[item.record_file], label=item.label) for item in items)
    return Stock(items=tuple(items), records=kept)


def _item(row: Row, path: Path, problems: list[Problem]) -> StockItem | None:
    values: dict[str, Read] = {}
    found: list[Problem] = []
    for name in COLUMNS:
        value, problem = read_cell(name, row.cells.get(name, ""), _where(path, row, name))
        values[name] = value
        if problem is not None:
            found.append(problem)
    found += _odd_together(values, row, path)
    problems += found
    return None if found else _made(values)


def _odd_together(values: dict[str, Read], row: Row, path: Path) -> list[Problem]:
    found = []
    if values["where"] is Whereabouts.ON_TRIAL and not values["on_trial_with"]:
        what, cure = "is on trial, but nobody is named", "Write with whom."
        found.append(Problem(what=what, cure=cure, where=_where(path, row, "on_trial_with")))
    if values["price"] is not None and not values["currency"]:
        what, cure = "the price has no currency", "Write its three letters, such as EUR."
        found.append(Problem(what=what, cure=cure, where=_where(path, row, "currency")))
    if isinstance(values["record"], str) and not _is_beside(values["record"]):
        what, cure = "names a file outside the table's folder", "Put the record beside the table."
        found.append(Problem(what=what, cure=cure, where=_where(path, row, "record")))
    return found


def _is_beside(name: str) -> bool:
    inside = PurePosixPath(name.replace("\\", "/"))
    return not inside.is_absolute() and ".." not in inside.parts and ":" not in name


def _made(values: dict[str, Read]) -> StockItem:
    known = {name: value for name, value in values.items() if value is not None and name != "record"}
    return StockItem(record_file=str(values["record"]), **known)  # type: ignore[arg-type]


def _where(path: Path, row: Row, name: str) -> Where:
    return Where(file=str(path), row=row.number, field=name)


def _twice(rows: Sequence[Row], path: Path) -> list[Problem]:
    counts = Counter(row.cells.get("number", "") for row in rows)
    return [
        Problem(
            what=f"the number {row.cells['number']} stands {counts[row.cells['number']]} times",
            cure="Give every saddle its own number.",
            where=_where(path, row, "number"),
        )
        for row in rows
        if row.cells.get("number") and counts[row.cells["number"]] > 1
    ]


def _records(
    rows: Sequence[Row], items: Sequence[StockItem], path: Path, problems: list[Problem]
) -> dict[str, SaddleRecord]:
    """Read each named file once; its faults are told at the first row that names it."""
    first = {row.cells.get("record", ""): row for row in reversed(rows)}
    records: dict[str, SaddleRecord] = {}
    for name in dict.fromkeys(item.record_file for item in items):
        file = path.parent / name
        where = _where(path, first[name], "record")
        try:
            records[name] = read_saddle_file(file) if file.suffix == ".toml" else read_saddle(file)
        except InputProblemsError as error:
            problems += [replace(one, what=f"{file.name}: {one.what}", where=where) for one in error.problems]
        except OSError as error:
            what = f"{file.name} cannot be opened: {error.strerror or error}"
            problems.append(Problem(what=what, cure="Check the name and the folder.", where=where))
    return records


def stock_table(items: Sequence[StockItem]) -> str:
    """Return a stock as a table."""
    return write_table(list(COLUMNS), [_cells(item) for item in items])


def write_stock(items: Sequence[StockItem], path: Path) -> None:
    """Write a stock table.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    path.write_text(stock_table(items), encoding="utf-8", newline="")


def _cells(item: StockItem) -> dict[str, object]:
    cells = {field.name: getattr(item, field.name) for field in fields(item) if field.name != "record_file"}
    return {**cells, "record": item.record_file}
