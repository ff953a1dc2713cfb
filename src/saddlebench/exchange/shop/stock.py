"""A stock with the measured records of its saddles, ready to be chosen from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from saddlebench.engine.choose import FLAP_NOT_RECORDED, SEAT_NOT_RECORDED, Candidate
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.plain_tables import MOST_PROBLEMS
from saddlebench.exchange.records import read_saddle
from saddlebench.exchange.saddles import read_saddle as read_saddle_file
from saddlebench.exchange.stock import StockItem, read_items


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """All saddles of a shop, each with its record."""

    items: tuple[StockItem, ...]
    records: tuple[SaddleRecord, ...]
    """One for each item, in the same order."""

    def item(self, number: str) -> StockItem | None:
        """Return a saddle by its number."""
        return next((one for one in self.items if one.number == number), None)

    def candidates(self, *, only_free: bool = True, discipline: str = "") -> tuple[Candidate, ...]:
        """Return what can be tried: by default only what is here and not reserved.

        Parameters
        ----------
        only_free : leave out what is on trial, out or reserved
        discipline : leave out what is for another discipline, if one is named
        """
        wanted = discipline.casefold()
        return tuple(
            self._candidate(item, record)
            for item, record in zip(self.items, self.records, strict=True)
            if (item.is_free or not only_free) and wanted in item.discipline.casefold()
        )

    @staticmethod
    def _candidate(item: StockItem, record: SaddleRecord) -> Candidate:
        return Candidate(
            key=item.number,
            record=record,
            seat_in=SEAT_NOT_RECORDED if item.seat_in is None else item.seat_in,
            flap_mm=FLAP_NOT_RECORDED if item.flap_mm is None else item.flap_mm,
        )


def read_stock(path: Path) -> Stock:
    """Read a stock table and the saddle records that it names.

    Raises
    ------
    InputProblemsError
        With every problem of every row, or of every record file; then nothing is read.
    OSError
        If the table cannot be opened.
    """
    items = read_items(path.read_bytes(), str(path))
    problems: list[Problem] = []
    records = _records(items, path, problems)
    if problems:
        raise InputProblemsError(problems[:MOST_PROBLEMS])
    kept = tuple(replace(records[item.record_file], label=item.label) for _, item in items)
    return Stock(items=tuple(item for _, item in items), records=kept)


def _records(
    items: Sequence[tuple[int, StockItem]], path: Path, problems: list[Problem]
) -> dict[str, SaddleRecord]:
    """Read each named file once; its faults are told at the first row that names it."""
    first = {item.record_file: row for row, item in reversed(items)}
    records: dict[str, SaddleRecord] = {}
    for name in dict.fromkeys(item.record_file for _, item in items):
        file = path.parent / name
        where = Where(file=str(path), row=first[name], field="record")
        try:
            records[name] = read_saddle_file(file) if file.suffix == ".toml" else read_saddle(file)
        except InputProblemsError as error:
            problems += [replace(one, what=f"{file.name}: {one.what}", where=where) for one in error.problems]
        except OSError as error:
            what = f"{file.name} cannot be opened: {error.strerror or error}"
            problems.append(Problem(what=what, cure="Check the name and the folder.", where=where))
    return records
