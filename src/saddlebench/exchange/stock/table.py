"""A stock table in and out: all of it, or none and every problem by row and field."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path, PurePosixPath

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.plain_tables import MOST_PROBLEMS, Row, read_table, write_table
from saddlebench.exchange.stock.columns import COLUMNS, Read, Whereabouts, read_cell
from saddlebench.exchange.stock.item import StockItem

MOST_SADDLES = 100_000


def read_items(
    content: bytes, file: str, *, most_rows: int = MOST_SADDLES, with_records: bool = True
) -> list[tuple[int, StockItem]]:
    """Return the saddles of a stock table, each with its row.

    Parameters
    ----------
    content : the file
    file : what it is called, for problems
    most_rows : longer tables are refused
    with_records : whether every row has to name a saddle record

    Raises
    ------
    InputProblemsError
        With every problem of every row; then nothing is read.
    """
    columns = {name: column.words for name, column in COLUMNS.items()}
    rows = read_table(content, columns, file, most_rows=most_rows)
    problems: list[Problem] = []
    items = []
    for row in rows:
        item = _item(row, file, problems, with_records=with_records)
        if item is not None:
            items.append((row.number, item))
    problems += _twice(rows, file)
    if problems:
        raise InputProblemsError(problems[:MOST_PROBLEMS])
    return items


def _item(row: Row, file: str, problems: list[Problem], *, with_records: bool) -> StockItem | None:
    values: dict[str, Read] = {}
    found: list[Problem] = []
    for name in COLUMNS:
        value, problem = read_cell(name, row.cells.get(name, ""), _where(file, row, name))
        values[name] = value
        if problem is not None and (value or row.cells.get(name) or with_records or name != "record"):
            found.append(problem)
    found += _odd_together(values, row, file)
    problems += found
    return None if found else _made(values)


def _odd_together(values: dict[str, Read], row: Row, file: str) -> list[Problem]:
    found = []
    if values["where"] is Whereabouts.ON_TRIAL and not values["on_trial_with"]:
        what, cure = "is on trial, but nobody is named", "Write with whom."
        found.append(Problem(what=what, cure=cure, where=_where(file, row, "on_trial_with")))
    if values["price"] is not None and not values["currency"]:
        what, cure = "the price has no currency", "Write its three letters, such as EUR."
        found.append(Problem(what=what, cure=cure, where=_where(file, row, "currency")))
    if isinstance(values["record"], str) and not _is_beside(values["record"]):
        what, cure = "names a file outside the table's folder", "Put the record beside the table."
        found.append(Problem(what=what, cure=cure, where=_where(file, row, "record")))
    return found


def _is_beside(name: str) -> bool:
    inside = PurePosixPath(name.replace("\\", "/"))
    return not inside.is_absolute() and ".." not in inside.parts and ":" not in name


def _made(values: dict[str, Read]) -> StockItem:
    known = {name: value for name, value in values.items() if value is not None and name != "record"}
    return StockItem(record_file=str(values["record"] or ""), **known)  # type: ignore[arg-type]


def _where(file: str, row: Row, name: str) -> Where:
    return Where(file=file, row=row.number, field=name)


def _twice(rows: Sequence[Row], file: str) -> list[Problem]:
    counts = Counter(row.cells.get("number", "") for row in rows)
    return [
        Problem(
            what=f"the number {row.cells['number']} stands {counts[row.cells['number']]} times",
            cure="Give every saddle its own number.",
            where=_where(file, row, "number"),
        )
        for row in rows
        if row.cells.get("number") and counts[row.cells["number"]] > 1
    ]


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
