"""One row's cells by column; every number that is not one is noted with its place."""

import math

from saddlebench.engine.errors import Problem
from saddlebench.engine.units import parse_number
from saddlebench.exchange.readings.header import Column
from saddlebench.exchange.readings.table import Findings, Row

LARGEST = 100_000.0
"""No number in a table of readings is larger, in any unit; what a horse can be is judged later."""


class Cells:
    """The filled cells of one row."""

    def __init__(self, row: Row, columns: tuple[Column | None, ...], findings: Findings) -> None:
        self.row = row.number
        self.findings = findings
        self.station: int | None = None
        pairs = zip(columns, row.cells, strict=False)
        self.filled = [(column, text) for column, text in pairs if column is not None and text]

    def text(self, key: str) -> tuple[Column, str] | None:
        """Return the filled cell of a named column."""
        return next((pair for pair in self.filled if pair[0].key == key), None)

    def number(self, key: str) -> float | None:
        """Return the number in a named column, if there is one."""
        found = self.text(key)
        return None if found is None else self.parsed(*found)

    def parsed(self, column: Column, text: str) -> float | None:
        """Return a cell's number, or note why it is none."""
        where = self.findings.where(row=self.row, field=column.text, station=self.station)
        value = parse_number(text, where)
        if isinstance(value, Problem):
            self.findings.note(value)
            return None
        if not math.isfinite(value) or abs(value) > LARGEST:
            what = f"“{text[:40]}” is larger than anything measured on a horse"
            self.findings.note(Problem(what=what, cure="Check the number and its unit.", where=where))
            return None
        return value

    def whole(self, key: str, lowest: int, highest: int) -> int | None:
        """Return a whole number within limits, or note why it is none."""
        found = self.text(key)
        value = None if found is None else self.parsed(*found)
        if value is None or found is None:
            return None
        if value != int(value) or not lowest <= value <= highest:
            self.add(
                f"“{found[1][:40]}” is not a whole number from {lowest} to {highest}", "Correct it.", key
            )
            return None
        return int(value)

    def add(self, what: str, cure: str, field: str = "") -> None:
        """Note a problem of this row."""
        self.findings.add(what, cure, row=self.row, field=field, station=self.station)
