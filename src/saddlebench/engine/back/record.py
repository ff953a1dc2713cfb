"""A back record, and its measured points with everything that may have moved them."""

import datetime as dt
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.chain import chain_section
from saddlebench.engine.back.comb import comb_section
from saddlebench.engine.back.frame_errors import FrameError, shifted, turned
from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scan,
    TapeAndHand,
    TracedCurve,
    only_rounds,
)
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.plausible import readings_problems, uncovered
from saddlebench.engine.back.readings import BackReadings, Section, SectionPoints, StationReadings
from saddlebench.engine.back.rounding import RoundedStation
from saddlebench.engine.back.sections import LocalSection
from saddlebench.engine.back.stance import LEVEL, Stance, instrument_to_back, stance_errors
from saddlebench.engine.back.stations import MeasuredPoints, Station
from saddlebench.engine.back.tape import tape_section
from saddlebench.engine.back.topline import ToplineCurve, mark_words, topline_curve
from saddlebench.engine.back.trace import scanned_section, sheet_errors, traced_section
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Weight
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.units import DEGREE

COAT_NOT_MEASURED = NotMeasured("the coat's depth was not measured")


class Coat(StrEnum):
    """State of the coat on the day: clipping must not look like lost muscle."""

    SUMMER = "summer"
    WINTER = "winter"
    CLIPPED = "clipped"
    NOT_NOTED = "not noted"


@dataclass(frozen=True, slots=True, kw_only=True)
class BackRecord:
    """One horse's back as measured on one day: what was read, with what, and how the horse stood."""

    label: str
    measured_on: dt.date
    instrument: Instrument
    readings: BackReadings
    stance: Stance = LEVEL
    landmarks: Landmarks = field(default_factory=Landmarks)
    coat_mm: float | NotMeasured = COAT_NOT_MEASURED
    """Depth of the coat; kept for comparing visits, never subtracted from the readings [mm]."""
    coat: Coat = Coat.NOT_NOTED
    notes: str = ""
    questioned: tuple[Problem, ...] = ()
    """What was odd about the scan that it was cut from; kept, since the sections alone no longer show it."""


def section_of(instrument: Instrument, station: Section) -> LocalSection:
    """Return one station's section about the midline, whichever the instrument.

    Raises
    ------
    TypeError
        If the readings are of another family than the instrument (`readings_problems` words this for people).
    """
    match instrument, station:
        case JointedChain(), StationReadings():
            return chain_section(instrument, station)
        case PinComb(), StationReadings():
            return comb_section(instrument, station)
        case TracedCurve(), SectionPoints():
            return traced_section(instrument, station)
        case Scan(), SectionPoints():
            return scanned_section(instrument, station)
        case TapeAndHand(), StationReadings():
            return tape_section(instrument, station)
        case _:
            msg = f"{type(station).__name__} are no readings of a {type(instrument).__name__}"
            raise TypeError(msg)


def measure_points(record: BackRecord) -> MeasuredPoints:
    """Return the points that a record's readings describe, in the back frame, with their errors.

    Raises
    ------
    InputProblemsError
        With everything in the readings that stops them from being points; blank cells do not.
    """
    problems = [p for p in readings_problems(record.instrument, record.readings) if p.weight is Weight.ERROR]
    if problems:
        raise InputProblemsError(problems)
    if isinstance(record.instrument, Scan):
        placed = _place_scan(record.instrument, record.readings)
    else:
        curve = topline_curve(record.instrument, record.readings.topline)
        lost = tuple(uncovered(tuple(curve.s_mm), record.readings))
        if lost:
            raise InputProblemsError(lost)
        placed = _place_sections(record.instrument, record.readings, curve)
    return _level(record, placed)


@dataclass(slots=True, kw_only=True)
class _Placed:
    """Points in the instrument frame, its origin at the shoulder mark, while errors are being added."""

    stations: tuple[Station, ...]
    points: FloatArray
    station: NDArray[np.int32]
    side: NDArray[np.int8]
    noise_mm: FloatArray
    errors: dict[str, tuple[float, FloatArray]]
    """By source: standard deviation, and (n, 3) moves."""
    frame_errors: tuple[FrameError, ...] = ()
    rounded: tuple[RoundedStation, ...] = ()

    def add(self, source: str, sd: float, rows: slice, moves: FloatArray) -> None:
        """Add what an error does to some of the points; the same source adds up.

        `moves` : (k, 3) float, or (3,) for all of them, instrument frame [mm per unit].
        """
        if sd > 0.0 and np.any(moves):
            held = self.errors.setdefault(source, (sd, np.zeros_like(self.points)))
            held[1][rows] += moves


def _numbered_stations(readings: BackReadings) -> tuple[Station, ...]:
    places = {(station.distance_mm, station.number) for station in readings.stations}
    return tuple(Station(number=number, distance_mm=distance) for distance, number in sorted(places))


def _tilted(section: LocalSection, tilt_deg: float) -> LocalSection:
    """Turn a section by the tilt that was read off the instrument's own level."""
    cos, sin = np.cos(tilt_deg * DEGREE), np.sin(tilt_deg * DEGREE)
    turn = np.array([[cos, sin], [-sin, cos]])
    return replace(
        section,
        points=section.points @ turn,
        errors=tuple(replace(error, moves=error.moves @ turn) for error in section.errors),
    )


def _gather(
    readings: BackReadings, sections: list[LocalSection], topline_mm: FloatArray, heights_mm: FloatArray
) -> tuple[_Placed, list[slice]]:
    """Put sections at their distances and heights, the topline's own points (s, z) after them."""
    stations = _numbered_stations(readings)
    index = {(station.number, station.distance_mm): i for i, station in enumerate(stations)}
    points, which, rows, begins = [], [], [], 0
    for station, section, height in zip(readings.stations, sections, heights_mm, strict=True):
        n = len(section.points)
        points.append(
            np.column_stack([np.full(n, -station.distance_mm), section.points + np.array([0.0, height])])
        )
        which.append(np.full(n, index[station.number, station.distance_mm], dtype=np.int32))
        rows.append(slice(begins, begins + n))
        begins += n
    n = len(topline_mm)
    points.append(np.column_stack([-topline_mm[:, 0], np.zeros(n), topline_mm[:, 1]]))
    which.append(np.full(n, -1, dtype=np.int32))
    placed = _Placed(
        stations=stations,
        points=np.concatenate(points),
        station=np.concatenate(which),
        side=np.concatenate([*(section.side for section in sections), np.zeros(n, dtype=np.int8)]),
        noise_mm=np.concatenate([*(section.noise_mm for section in sections), np.zeros(n)]),
        errors={},
    )
    return placed, rows


def _place_sections(instrument: Instrument, readings: BackReadings, curve: ToplineCurve) -> _Placed:
    sections = [_tilted(section_of(instrument, st), st.tilt_deg) for st in readings.stations]
    distances = np.array([station.distance_mm for station in readings.stations])
    origin = curve.heights(np.zeros(1))
    heights, slopes = curve.heights(distances) - origin, curve.slopes(distances)
    topline = np.column_stack([curve.s_mm, curve.z_mm - origin])
    placed, rows = _gather(readings, sections, topline, heights)
    marks = {error.source for error in curve.errors}
    for station, section, part, slope in zip(readings.stations, sections, rows, slopes, strict=True):
        shared = station.repeat == 0 and mark_words(station.distance_mm) in marks
        along = mark_words(station.distance_mm) if shared else f"{station.words}, place along the back"
        # Further back than written, by one: the section stands at the height the topline truly has there.
        further = np.array([1.0, 0.0, -slope])
        placed.add(along, instrument.placing.along_mm, part, further)
        _add_station_errors(placed, instrument, station, section, part)
    _add_topline_errors(placed, distances, rows, curve)
    sheets = sheet_errors(instrument) if isinstance(instrument, TracedCurve) else ()
    placed.frame_errors = (*sheets, *topline_level_errors(curve))
    if only_rounds(instrument):
        placed.rounded = tuple(
            _rounded(section, part)
            for section, part in zip(sections, rows, strict=True)
            if len(section.points)
        )
    return placed


def _add_station_errors(
    placed: _Placed,
    instrument: Instrument,
    station: Section,
    section: LocalSection,
    rows: slice,
) -> None:
    placing, words = instrument.placing, station.words
    y, z = section.points.T
    none = np.zeros_like(y)
    for error in section.errors:
        if not error.of_whole_record:
            placed.add(error.source, error.sd, rows, np.column_stack([none, error.moves]))
    tilt = np.column_stack([none, -z, y])
    placed.add(f"{words}, leaning to one side", placing.tilt_deg * DEGREE, rows, tilt)
    lean = np.column_stack([z, none, none])
    placed.add(f"{words}, leaning forward or back", placing.lean_deg * DEGREE, rows, lean)
    placed.add(f"{words}, beside the midline", placing.midline_mm, rows, np.array([0.0, 1.0, 0.0]))
    if isinstance(instrument, JointedChain):
        # Its heights count from the skin where both arms start: pressed in there, all of the section rises.
        placed.add(f"{words}, contact at the midline", placing.contact_mm, rows, np.array([0.0, 0.0, 1.0]))


def _rounded(section: LocalSection, rows: slice) -> RoundedStation:
    """Return the readings of a section without any error but rounding; a step's deviation is step/√12."""
    errors = [error for error in section.errors if error.sd > 0.0 and not error.of_whole_record]
    n = len(section.points)
    if errors:
        moves = np.stack([error.moves for error in errors], axis=-1)
        sd = np.array([error.sd for error in errors])
    else:
        moves = np.einsum("ik,ab->iakb", np.eye(n), np.eye(2)).reshape(n, 2, 2 * n)
        sd = np.repeat(section.noise_mm, 2)
    in_plane = np.concatenate([np.zeros((n, 1, moves.shape[2])), moves], axis=1)
    return RoundedStation(points=np.arange(rows.start, rows.stop), moves=in_plane, most=np.sqrt(3.0) * sd)


def _add_topline_errors(
    placed: _Placed, distances: FloatArray, rows: list[slice], curve: ToplineCurve
) -> None:
    at_origin = curve.moved(np.zeros(1))[0]
    at_stations = curve.moved(distances) - at_origin
    topline = slice(len(placed.points) - len(curve.s_mm), len(placed.points))
    for i, error in enumerate(curve.errors):
        rises, own_rise = at_stations[:, i], error.moves_z - at_origin[i]
        if error.of_level:
            # The tip as a whole is the frame's; what a bent topline adds to it, a tenth of a mm, stays here.
            rises, own_rise = rises + distances, own_rise + curve.s_mm
        for rise, part in zip(rises, rows, strict=True):
            placed.add(error.source, error.sd, part, np.array([0.0, 0.0, rise]))
        own = np.column_stack([-error.moves_s, np.zeros_like(error.moves_s), own_rise])
        placed.add(error.source, error.sd, topline, own)


def topline_level_errors(curve: ToplineCurve) -> tuple[FrameError, ...]:
    """Return the errors of the topline's level: what lies behind sinks, every section stays upright."""
    tip = np.zeros((3, 3))
    tip[2, 0] = 1.0
    return tuple(
        FrameError(source=error.source, sd=error.sd, linear=tip, shift=np.zeros(3))
        for error in curve.errors
        if error.of_level and error.sd > 0.0
    )


def _place_scan(scan: Scan, readings: BackReadings) -> _Placed:
    sections = [_tilted(section_of(scan, station), station.tilt_deg) for station in readings.stations]
    placed, _ = _gather(readings, sections, np.zeros((0, 2)), np.zeros(len(sections)))
    placed.frame_errors = registration_errors(scan)
    if scan.joined is not None:
        for source, moves in scan.joined.errors(placed.points):
            placed.add(source, 1.0, slice(None), moves)
    return placed


def registration_errors(scan: Scan) -> tuple[FrameError, ...]:
    """Return the errors of setting a scan to its marks, about the shoulder mark.

    The mark itself is the origin of height, so there is no error of height apart from the turns.
    """
    shift, turn = scan.registration_sd_mm, scan.registration_sd_deg * DEGREE
    errors = (
        shifted("scan, place along the back", shift, (1.0, 0.0, 0.0)),
        shifted("scan, beside the midline", shift, (0.0, 1.0, 0.0)),
        turned("scan, leaning to one side", turn, (1.0, 0.0, 0.0)),
        turned("scan, level along the back", turn, (0.0, 1.0, 0.0)),
        turned("scan, heading", turn, (0.0, 0.0, 1.0)),
        FrameError(source="scan, scale", sd=scan.scale_sd, linear=np.eye(3), shift=np.zeros(3)),
    )
    return tuple(error for error in errors if error.sd > 0.0)


def _level(record: BackRecord, placed: _Placed) -> MeasuredPoints:
    """Turn everything into the back frame, and add the errors of the stance."""
    pose = instrument_to_back(record.stance)
    errors = {source: (sd, pose.directions(moves)) for source, (sd, moves) in placed.errors.items()}
    moves = [move for _, move in errors.values()]
    return MeasuredPoints(
        stations=placed.stations,
        points_back=read_only(pose.points(placed.points)),
        station=placed.station,
        side=placed.side,
        sensitivity=read_only(np.stack(moves, axis=-1) if moves else np.zeros((*placed.points.shape, 0))),
        error_sd=read_only(np.array([sd for sd, _ in errors.values()])),
        error_source=tuple(errors),
        noise_mm=read_only(placed.noise_mm),
        rounded=tuple(
            replace(one, moves=read_only(np.einsum("ab,ibj->iaj", pose.rotation, one.moves)))
            for one in placed.rounded
        ),
        frame_errors=(*(error.after(pose) for error in placed.frame_errors), *stance_errors(record.stance)),
    )
