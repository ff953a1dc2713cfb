"""Reading a table of readings: a long one (one reading to a row) or a wide one (one station to a row)."""

from pathlib import Path

from saddlebench.engine.back.instruments import Instrument, Scan
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.errors import input_problem
from saddlebench.engine.units import Length
from saddlebench.exchange.readings.cells import Cells
from saddlebench.exchange.readings.gathering import Gathered, as_readings
from saddlebench.exchange.readings.header import read_header
from saddlebench.exchange.readings.layout import Layout
from saddlebench.exchange.readings.rows import take_row
from saddlebench.exchange.readings.table import Findings, read_table


def read_readings(path: Path, instrument: Instrument, *, unit: Length | None = None) -> BackReadings:
    """Read a table of readings taken with an instrument.

    Parameters
    ----------
    path : the table, CSV
    instrument : what it was measured with; its scale says what a joint's or pin's reading is
    unit : of distances and heights, for a table that does not state it

    Raises
    ------
    InputProblemsError
        With every problem of the file, its row, column and station.
    OSError
        If the file cannot be opened.
    """
    findings = Findings(str(path))
    if isinstance(instrument, Scan):
        what = f"“{instrument.name}” is a scan, which is not read from a table"
        raise input_problem(what, "Read its mesh, or choose the instrument that was used.", findings.where())
    table = read_table(path, findings)
    columns = read_header(table.header, table.rows, findings)
    layout = Layout(instrument=instrument, columns=columns, unit=table.unit or unit)
    layout.check_header(table.header, findings)
    findings.raise_if_any()
    gathered = Gathered(findings)
    for row in table.rows:
        take_row(layout, Cells(row, columns, findings), gathered)
    readings = as_readings(gathered, instrument)
    if not gathered.stations:
        findings.add("No row holds a station", "Give each station a row with its number and distance.")
    findings.raise_if_any()
    return readings
