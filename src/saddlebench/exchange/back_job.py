"""A table, a sheet or a scan becomes a back record."""

import datetime as dt
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.mark_order import mark_problems
from saddlebench.engine.back.quality import RecordQuality, judge_record
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.scan import cut_scan, record_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_checks import check_scan
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.change.repeat.scaled import with_errors_times
from saddlebench.engine.errors import (
    InputProblemsError,
    Problem,
    Weight,
    Where,
    input_problem,
)
from saddlebench.engine.fit.study import (
    ErrorsUsed,
    Progress,
)
from saddlebench.engine.units import Length
from saddlebench.exchange.backsheets import BackSheet, read_back_sheet
from saddlebench.exchange.instruments import example_instrument, read_instrument
from saddlebench.exchange.readings import read_readings
from saddlebench.exchange.records import ScanFile
from saddlebench.exchange.scans import read_marks, read_scan


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredBack:
    """A back record with its surface and the verdict on its quality."""

    record: BackRecord
    estimated: EstimatedBack
    quality: RecordQuality
    own_errors: ErrorsUsed | None = None
    """Own errors that are in the record's instrument already; None: those that it states."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanRecord:
    """A back record cut from a scan, the file it came from, and what was noticed when that was read."""

    record: BackRecord
    scan_file: ScanFile
    remarks: tuple[Problem, ...]


def measured(record: BackRecord, own_errors: ErrorsUsed | None = None) -> MeasuredBack:
    """Return a record's surface and quality.

    Parameters
    ----------
    record : BackRecord
    own_errors : the errors to go by in place of those that its instrument states

    Raises
    ------
    InputProblemsError
        With everything in the readings that stops them from being a surface.
    """
    problems = mark_problems(record.landmarks)
    if problems:
        raise InputProblemsError(problems)
    if own_errors is not None:
        record = replace(record, instrument=with_errors_times(record.instrument, own_errors.times))
    points = measure_points(record)
    return MeasuredBack(
        record=record,
        estimated=estimate_back(points, record.landmarks),
        quality=judge_record(record, points),
        own_errors=own_errors,
    )


def table_record(
    readings: Path, sheet: Path, *, instrument: str = "", unit: Length | None = None
) -> BackRecord:
    """Make a back record of a table of readings and its back sheet.

    Parameters
    ----------
    readings : the table, CSV
    sheet : the back sheet
    instrument : an instrument file or the name of a shipped one, if not the sheet's
    unit : of distances and heights, for a table that does not state it

    Raises
    ------
    InputProblemsError
        With every fault of sheet, instrument or table.
    OSError
        If a file cannot be opened.
    """
    stated = read_back_sheet(sheet)
    tool = _instrument(instrument, Path()) if instrument else _sheets_instrument(stated.instrument, sheet)
    return _stated_record(stated, tool, read_readings(readings, tool, unit=unit))


def sheet_record(
    sheet: Path, readings: BackReadings, instrument_used: Callable[[Instrument], Instrument]
) -> BackRecord:
    """Make a back record of readings that are there already, and a back sheet.

    Parameters
    ----------
    sheet : the back sheet
    readings : taken with its instrument
    instrument_used : takes the sheet's instrument, returns it as it was on the day

    Raises
    ------
    InputProblemsError
        With every fault of sheet or instrument.
    OSError
        If a file cannot be opened.
    """
    stated = read_back_sheet(sheet)
    tool = instrument_used(_sheets_instrument(stated.instrument, sheet))
    return _stated_record(stated, tool, readings)


def _stated_record(stated: BackSheet, tool: Instrument, readings: BackReadings) -> BackRecord:
    return BackRecord(
        label=stated.horse,
        measured_on=stated.measured_on,
        instrument=tool,
        readings=readings,
        stance=stated.stance_read,
        landmarks=stated.marks.landmarks(),
        coat_mm=stated.coat_depth,
        coat=stated.coat,
        notes=stated.notes,
    )


def _sheets_instrument(name: str, sheet: Path) -> Instrument:
    try:
        return _instrument(name, sheet.parent)
    except InputProblemsError as error:
        where = Where(file=str(sheet), field="instrument")
        raise InputProblemsError(
            [replace(one, where=one.where if one.where.file else where) for one in error.problems]
        ) from error


def _instrument(name: str, folder: Path) -> Instrument:
    path = folder / name
    return read_instrument(path) if path.suffix in (".toml", ".json") else example_instrument(name)


def scan_record(
    mesh: Path,
    marks: Path,
    *,
    more: Sequence[Path] = (),
    label: str = "",
    measured_on: dt.date | None = None,
    distances_mm: Sequence[float] = (),
    tell: Progress | None = None,
) -> ScanRecord:
    """Cut a back record from a mesh and its marks file, or from several that show parts of one horse.

    Raises
    ------
    InputProblemsError
        With everything that stops the mesh or the marks from being used; also if no day is stated anywhere.
    OSError
        If a file cannot be opened.
    """
    stated = read_marks(marks)
    day = measured_on or stated.measured_on
    if day is None:
        where = Where(file=str(marks), field="measured_on")
        raise input_problem(
            "the day of the scan is not stated",
            "Add measured_on = 2026-05-14, or give the day with the command.",
            where,
        )
    scan = read_scan(mesh, marks, more=more, tell=tell)
    aligned = align_scan(scan)
    distances = np.array(distances_mm, dtype=float) if distances_mm else None
    record = record_from_scan(
        aligned,
        label=label or stated.label or mesh.stem,
        measured_on=day,
        distances_mm=distances,
    )
    told = check_scan(aligned, cut_scan(aligned, distances))
    if any(problem.weight is Weight.ERROR for problem in told):
        raise InputProblemsError(told)
    noticed = len(scan.remarks)
    return ScanRecord(
        record=replace(record, questioned=told[noticed:]),
        scan_file=_scan_file([mesh, *more]),
        remarks=told[:noticed],
    )


def _scan_file(paths: Sequence[Path]) -> ScanFile:
    """Return what a scan's files are known again by; of several, the digest of the list of their digests."""
    if len(paths) == 1:
        return ScanFile(name=paths[0].name, sha256=digest(paths[0]))
    listed = "".join(f"{digest(path)}  {path.name}\n" for path in paths)
    name = " + ".join(path.name for path in paths)
    return ScanFile(name=name[:500], sha256=hashlib.sha256(listed.encode()).hexdigest())


def digest(path: Path) -> str:
    """Return a file's SHA-256 in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
