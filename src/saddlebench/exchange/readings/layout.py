"""How one table is laid out: its columns, the unit of its lengths, and what its header lacks."""

from dataclasses import dataclass

from saddlebench.engine.back.instruments import JointedChain, PinComb, TapeAndHand, TracedCurve
from saddlebench.engine.units import Length
from saddlebench.exchange.readings.cells import Cells
from saddlebench.exchange.readings.header import Column, UnitKind
from saddlebench.exchange.readings.table import UNITS, Findings, Row

ON_STATION = ("cell", "reading", "y", "z")
"""Columns whose cells are readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The columns of one table, the instrument its readings are of, and the unit of its lengths."""

    instrument: JointedChain | PinComb | TracedCurve | TapeAndHand
    columns: tuple[Column | None, ...]
    unit: Length | None
    """Of distances and heights whose header states none."""

    def column(self, key: str) -> Column | None:
        """Return the column of a canonical name."""
        return next((c for c in self.columns if c is not None and c.key == key), None)

    @property
    def is_numbered(self) -> bool:
        """Whether readings stand in numbered columns."""
        return self.column("cell") is not None

    def length_mm(self, cells: Cells, key: str) -> float | None:
        """Return a distance or height in mm, if the row has it."""
        value, column = cells.number(key), self.column(key)
        unit = None if column is None else self._length_unit(column)
        return None if value is None or unit is None else round(value * unit.in_mm, 6)

    def _length_unit(self, column: Column) -> Length | None:
        return UNITS.get(column.unit, self.unit)

    def check_header(self, header: Row, findings: Findings) -> None:
        """Note what the header lacks, and units that are not stated or contradict the instrument."""
        for key in ("distance", "height"):
            column = self.column(key)
            if column is not None and self._length_unit(column) is None:
                findings.add(
                    f"The unit of “{column.text}” is not stated",
                    f"Write it in the header, as “{key} [mm]”, or in a line “# unit: mm”.",
                    row=header.number,
                    field=column.text,
                )
        if self.column("distance") is None:
            findings.add(
                "There is no column for the distance behind the shoulder mark",
                "Add a column “distance [mm]”.",
                row=header.number,
            )
        if all(self.column(key) is None for key in ON_STATION):
            findings.add(
                "There is no column of readings",
                "Add columns L1, L2, …, R1, R2, … (one station to a row), or “side”, “joint” or “pin”, and "
                "“reading” (one reading to a row), “y” and “z” for a tracing, or W1, W2, … for a tape.",
                row=header.number,
            )
        for column in self.columns:
            if column is not None and column.key in ON_STATION:
                self._check_reading_unit(column, header, findings)

    def _check_reading_unit(self, column: Column, header: Row, findings: Findings) -> None:
        """Note a unit of readings that is not the instrument's own: readings stay as they were read."""
        if column.unit_kind in (None, UnitKind.DIVISION) or column.side == "topline":
            return
        match self.instrument:
            case JointedChain():
                kind, words, scale = UnitKind.ANGLE, "degrees", self.instrument.left.scale.per_division
                stated = 1.0
            case PinComb():
                kind, words, scale = UnitKind.LENGTH, "mm", self.instrument.scale.per_division
                stated = UNITS[column.unit].in_mm if column.unit in UNITS else 0.0
            case TracedCurve():
                kind, words, scale = UnitKind.LENGTH, "mm", self.instrument.mm_per_unit
                stated = UNITS[column.unit].in_mm if column.unit in UNITS else 0.0
            case TapeAndHand() if column.side == "width":
                kind, words, scale = UnitKind.LENGTH, "mm", self.instrument.width.per_division
                stated = UNITS[column.unit].in_mm if column.unit in UNITS else 0.0
            case TapeAndHand():
                kind, words, scale = UnitKind.ANGLE, "degrees", self.instrument.angle.per_division
                stated = 1.0
        if column.unit_kind is not kind or abs(scale) != stated:
            findings.add(
                f"The header says “{column.unit}”, but one division of “{self.instrument.name}” is "
                f"{abs(scale):g} {words}",
                "Choose the instrument that was used, or correct the header.",
                row=header.number,
                field=column.text,
            )
