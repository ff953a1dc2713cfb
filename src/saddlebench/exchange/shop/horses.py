"""The horses of a season as a table: each with its back record, its rider, and what it may carry."""

import math
from collections.abc import Mapping
from pathlib import Path

from saddlebench.engine.choose import RiderSize, Wanted
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.fit.horse import NO_MASS, Build, Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.plain_tables import MOST_PROBLEMS, Row, read_table
from saddlebench.exchange.records import read_back

HORSE_COLUMNS: Mapping[str, str] = {
    "label": "Horse",
    "back": "Back record",
    "rider_kg": "Rider, kg",
    "horse_kg": "Horse, kg",
    "build": "Build",
    "thigh_mm": "Rider's thigh, mm",
    "leg_mm": "Rider's leg, mm",
}
_RANGES = {
    "rider_kg": (10.0, 250.0),
    "horse_kg": (50.0, 1500.0),
    "thigh_mm": (250.0, 900.0),
    "leg_mm": (400.0, 1300.0),
}


def read_horses(path: Path) -> tuple[Wanted, ...]:
    """Read a table of horses and the back records that it names.

    Raises
    ------
    InputProblemsError
        With every problem by row and field; then nothing is read.
    OSError
        If the table cannot be opened.
    """
    rows = read_table(path.read_bytes(), HORSE_COLUMNS, str(path))
    problems: list[Problem] = []
    wanted = [one for row in rows if (one := _wanted(row, path, problems)) is not None]
    if problems:
        raise InputProblemsError(problems[:MOST_PROBLEMS])
    return tuple(wanted)


def _wanted(row: Row, path: Path, problems: list[Problem]) -> Wanted | None:
    before = len(problems)
    label = row.cells.get("label", "")
    if not label:
        problems.append(_problem(path, row, "label", "is empty", "Name the horse."))
    rider_kg = _number(row, "rider_kg", path, problems)
    if rider_kg is None and len(problems) == before:
        problems.append(_problem(path, row, "rider_kg", "is empty", "State the rider's mass, dressed."))
    horse_kg = _number(row, "horse_kg", path, problems)
    thigh, leg = _number(row, "thigh_mm", path, problems), _number(row, "leg_mm", path, problems)
    build = row.cells.get("build", "") or Build.ORDINARY.value
    if build not in list(Build):
        problems.append(
            _problem(path, row, "build", f"“{build[:40]}” is no build", f"One of {', '.join(Build)}.")
        )
    back = _back(row, path, problems)
    if len(problems) > before or back is None or rider_kg is None:
        return None
    nothing = NotMeasured("not given")
    return Wanted(
        key=f"{row.number}",
        label=label,
        surface=back.estimated.surface,
        landmarks=back.record.landmarks,
        rider=Rider(mass_kg=rider_kg),
        rider_size=RiderSize(
            thigh_mm=nothing if thigh is None else thigh, leg_mm=nothing if leg is None else leg
        ),
        horse=Horse(mass_kg=NO_MASS if horse_kg is None else horse_kg, build=Build(build)),
        estimated=back.estimated,
    )


def _back(row: Row, path: Path, problems: list[Problem]) -> MeasuredBack | None:
    name = row.cells.get("back", "")
    if not name:
        problems.append(_problem(path, row, "back", "is empty", "Name the file of its back record."))
        return None
    try:
        return measured(read_back(path.parent / name))
    except InputProblemsError as error:
        problems += [_problem(path, row, "back", f"{name}: {one.what}", one.cure) for one in error.problems]
    except OSError as error:
        what = f"{name} cannot be opened: {error.strerror or error}"
        problems.append(_problem(path, row, "back", what, "Check the name and the folder."))
    return None


def _number(row: Row, name: str, path: Path, problems: list[Problem]) -> float | None:
    text = row.cells.get(name, "")
    if not text:
        return None
    low, high = _RANGES[name]
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if low <= number <= high:
        return number
    cure = f"Write a number between {low:g} and {high:g}."
    problems.append(_problem(path, row, name, f"“{text[:40]}” is not a usable number", cure))
    return None


def _problem(path: Path, row: Row, name: str, what: str, cure: str) -> Problem:
    return Problem(what=what, cure=cure, where=Where(file=str(path), row=row.number, field=name))
