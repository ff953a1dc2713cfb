"""A rebuild checked while it is being set: is each station near enough, and if not, what to move how far."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.backwards import SectionAt
from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.outline import distance_to
from saddlebench.engine.back.readings import BackReadings, Reading, Section, SectionPoints, StationReadings
from saddlebench.engine.back.record import section_of
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import sections_of
from saddlebench.engine.replica.setting_steps import part_names
from saddlebench.engine.replica.settings import (
    InstrumentSettings,
    check_station_numbers,
    outline_at,
)

SLACK_MM = 0.5
"""Where an instrument cannot come within the tolerance, this much more than its best counts as set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One thing to move at a station."""

    side: str
    part: str
    by: float
    """In the instrument's own unit; of a traced point, outward from the back is positive [mm]."""
    to: float | None
    """The reading to move it to; None for a traced point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSet:
    """One station as it was set."""

    number: int
    distance_mm: float
    off_by_mm: float
    """Distance of its worst point from the back [mm]; endless if nothing of it was set."""
    allowed_mm: float
    good: bool
    moves: tuple[Move, ...]
    """What to move so that it is good, most telling first."""
    not_set: tuple[str, ...]
    """Parts that the settings name and that were left blank."""


def check_set(
    estimated: EstimatedBack, settings: InstrumentSettings, entered: BackReadings
) -> tuple[StationSet, ...]:
    """Compare readings as set with a back, station by station.

    What counts is where the points come to lie, not whether each reading is the one asked for: joints that
    are off and make up for each other are left alone.

    Parameters
    ----------
    estimated : EstimatedBack
        The back that is being rebuilt.
    settings : InstrumentSettings
    entered : BackReadings
        As read off the instrument once it was set; stations that are still to be set may be missing.

    Raises
    ------
    InputProblemsError
        If a station is not one of the settings'.
    """
    check_station_numbers(settings, entered)
    section_at = sections_of(estimated)
    target = {station.number: station for station in settings.stations}
    return tuple(
        _checked(
            section_at,
            settings.instrument,
            target[one.number].readings,
            replace(one, distance_mm=target[one.number].readings.distance_mm),
            max(settings.tolerance_mm, target[one.number].off_by_mm + SLACK_MM),
        )
        for one in entered.stations
    )


def _checked(
    section_at: SectionAt, instrument: Instrument, target: Section, entered: Section, allowed: float
) -> StationSet:
    outline = outline_at(section_at, target.distance_mm)
    off = _off(instrument, outline, entered)
    worst = float(off.max()) if len(off) else float("inf")
    not_set: tuple[str, ...] = ()
    moves: tuple[Move, ...] = ()
    if isinstance(entered, StationReadings) and isinstance(target, StationReadings):
        not_set = tuple(_left_blank(instrument, target, entered))
        if worst > allowed:
            moves = tuple(_moves(instrument, outline, target, entered, allowed))
    elif isinstance(entered, SectionPoints):
        moves = tuple(_point_moves(outline, entered, allowed))
    return StationSet(
        number=entered.number,
        distance_mm=entered.distance_mm,
        off_by_mm=worst,
        allowed_mm=allowed,
        good=worst <= allowed and not not_set,
        moves=moves,
        not_set=not_set,
    )


def _off(instrument: Instrument, outline: FloatArray, station: Section) -> FloatArray:
    points = section_of(instrument, station).points
    return distance_to(outline, points) if len(points) else np.zeros(0)


def _left_blank(instrument: Instrument, target: StationReadings, entered: StationReadings) -> list[str]:
    names = part_names(instrument)
    blank = [
        f"{part}, {side}"
        for side, parts, wanted, held in (
            ("near", names.left, target.left, entered.left),
            ("off", names.right, target.right, entered.right),
        )
        for k, (part, reading) in enumerate(zip(parts, wanted, strict=False))
        if reading is not None and (k >= len(held) or held[k] is None)
    ]
    if target.middle is not None and entered.middle is None:
        blank.insert(0, names.middle)
    return blank


def _moves(
    instrument: Instrument,
    outline: FloatArray,
    target: StationReadings,
    entered: StationReadings,
    allowed: float,
) -> list[Move]:
    """Move parts to their wanted reading one by one, each time the one that helps most, until it is good."""
    held = entered
    moves: list[Move] = []
    open_parts = [
        (side, k)
        for side in ("left", "right", "middle")
        for k, (wanted, now) in enumerate(zip(_row(target, side), _row(entered, side), strict=False))
        if wanted is not None and now is not None and wanted != now
    ]
    while open_parts and (worst := _off(instrument, outline, held)).max(initial=0.0) > allowed:
        tried = [(_moved(held, target, side, k), (side, k)) for side, k in open_parts]
        costs = [float(np.sum(_off(instrument, outline, one) ** 2)) for one, _ in tried]
        best = int(np.argmin(costs))
        if costs[best] >= float(worst @ worst) and len(moves) > len(open_parts):
            break
        side, k = tried[best][1]
        wanted, now = _row(target, side)[k], _row(held, side)[k]
        if wanted is not None and now is not None:
            moves.append(_move(instrument, side, k, now, wanted))
        held = tried[best][0]
        open_parts.remove((side, k))
    return moves


def _row(station: StationReadings, side: str) -> tuple[Reading, ...]:
    rows = {"left": station.left, "right": station.right, "middle": (station.middle,)}
    return rows[side]


def _moved(held: StationReadings, target: StationReadings, side: str, k: int) -> StationReadings:
    if side == "middle":
        return replace(held, middle=target.middle)
    row = list(_row(held, side))
    row[k] = _row(target, side)[k]
    return replace(held, left=tuple(row)) if side == "left" else replace(held, right=tuple(row))


def _move(instrument: Instrument, side: str, k: int, now: float, wanted: float) -> Move:
    names = part_names(instrument)
    if side == "middle":
        return Move(side="", part=names.middle, by=wanted - now, to=wanted)
    parts = names.left if side == "left" else names.right
    return Move(side="near" if side == "left" else "off", part=parts[k], by=wanted - now, to=wanted)


def _point_moves(outline: FloatArray, station: SectionPoints, allowed: float) -> list[Move]:
    moves = []
    for side, points, sign in (("near", station.left, 1.0), ("off", station.right, -1.0)):
        own = np.array([(sign * out, up) for out, up in points], dtype=float).reshape(-1, 2)
        if len(own) == 0:
            continue
        off = distance_to(outline, own)
        above = _above(outline, own)
        worst = int(np.argmax(off))
        if off[worst] > allowed:
            by = float(-off[worst] if above[worst] else off[worst])
            moves.append(Move(side=side, part=f"point {worst + 1}", by=by, to=None))
    return sorted(moves, key=lambda move: -abs(move.by))


def _above(outline: FloatArray, points: FloatArray) -> Sequence[bool]:
    """Tell for points (k, 2) float, station plane [mm], whether each lies outside its nearest part of a line.

    The outline (n, 2) float runs from the off to the near side: outside is on the left of its direction.
    """
    start, step = outline[:-1], np.diff(outline, axis=0)
    offset = points[:, None, :] - start
    share = np.clip(np.sum(offset * step, axis=2) / np.maximum(np.sum(step * step, axis=1), 1e-30), 0.0, 1.0)
    nearest = np.argmin(np.linalg.norm(offset - share[:, :, None] * step, axis=2), axis=1)
    here = np.arange(len(points))
    cross = step[nearest, 0] * offset[here, nearest, 1] - step[nearest, 1] * offset[here, nearest, 0]
    return [bool(one) for one in cross > 0.0]
