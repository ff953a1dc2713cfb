"""Settings for another instrument: what to set on it, in which order, so that it shows a given back."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.backwards import SectionAt, readings_of
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    Scan,
    TapeAndHand,
    TracedCurve,
    holds_shape,
)
from saddlebench.engine.back.outline import distance_to, half_outlines
from saddlebench.engine.back.readings import (
    BackReadings,
    Section,
    StationReadings,
    ToplineJoints,
)
from saddlebench.engine.back.record import section_of
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.back.topline import topline_curve
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.chain_rounding import round_arm, round_topline
from saddlebench.engine.replica.curves import require_measured, sections_of, stations_of
from saddlebench.engine.replica.setting_steps import SettingStep, part_names, steps_of

TOLERANCE_MM = 2.0
"""How far a set point may lie off the back: about what one hand sets and another reads (common practice)."""
SHORT_MM = 25.0
"""An instrument that ends this far above where the back was measured is said to be short."""
MIDLINE_STEP_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SetStation:
    """One station as it is to be set, and how near it comes to the back."""

    readings: Section
    off_by_mm: float
    """Distance of the worst set point from the back [mm]."""
    between_mm: float
    """How far the back bulges or hollows between the set points, against straight lines between them [mm]."""
    short_left_mm: float
    """How much of the measured curve lies beyond the last set point, near side, along the skin [mm]."""
    short_right_mm: float

    @property
    def number(self) -> int:
        """The station, from 1."""
        return self.readings.number


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentSettings:
    """A back as readings to set on an instrument."""

    instrument: Instrument
    readings: BackReadings
    stations: tuple[SetStation, ...]
    topline_off_by_mm: float
    """Distance of the worst set place of the topline from the back's [mm]."""
    steps: tuple[SettingStep, ...]
    """In the order in which one sets them: the topline, then station by station, near before off, outward."""
    tolerance_mm: float
    problems: tuple[Problem, ...]
    """Where the instrument cannot take the shape; warnings only."""

    @property
    def off_by_mm(self) -> float:
        """Distance of the worst set point of all [mm]."""
        return max(station.off_by_mm for station in self.stations)


def settings_for(
    estimated: EstimatedBack,
    instrument: Instrument,
    distances_mm: Sequence[float] | None = None,
    *,
    tolerance_mm: float = TOLERANCE_MM,
) -> InstrumentSettings:
    """Return the readings to set on an instrument for a back, rounded to its divisions together.

    Parameters
    ----------
    estimated : EstimatedBack
    instrument : any family that can hold a shape
    distances_mm : stations, behind the shoulder mark; by default those at which the back was measured, less
        those that do not reach down both sides, which a warning names [mm]
    tolerance_mm : what counts as near enough [mm]

    Raises
    ------
    InputProblemsError
        If the instrument holds no shape (a scan, a tape), or the back was not measured at a station.
    """
    if not holds_shape(instrument):
        does = "scans" if isinstance(instrument, Scan) else "measures"
        what = f"“{instrument.name}” {does} a shape and cannot hold one"
        cure = "Choose a chain, a comb or a curve; or rebuild the back from templates, ribs or a solid."
        raise input_problem(what, cure, Where(field="instrument"))
    section_at = sections_of(estimated)
    if distances_mm is None:
        places, left_out = _stations_to_set(estimated, section_at)
    else:
        places, left_out = dict(enumerate(sorted(distances_mm), start=1)), ()
        require_measured(estimated, tuple(places.values()))
    read = readings_of(section_at, instrument, tuple(places.values()))
    numbered = zip(places, read.stations, strict=True)
    read = replace(read, stations=tuple(replace(one, number=number) for number, one in numbered))
    rounded = _rounded_together(section_at, instrument, read)
    stations = tuple(_set_station(section_at, instrument, one) for one in rounded.stations)
    return InstrumentSettings(
        instrument=instrument,
        readings=rounded,
        stations=stations,
        topline_off_by_mm=_topline_off_by(section_at, instrument, rounded),
        steps=tuple(steps_of(instrument, rounded)),
        tolerance_mm=tolerance_mm,
        problems=(*left_out, *_problems(instrument, stations, tolerance_mm)),
    )


def _stations_to_set(
    estimated: EstimatedBack, section_at: SectionAt
) -> tuple[dict[int, float], tuple[Problem, ...]]:
    """Return the stations that can be set, by their numbers [mm], and a warning for each that cannot."""
    places, left_out = {}, []
    for number, distance in enumerate(stations_of(estimated), start=1):
        outline = section_at(distance)
        if isinstance(outline, np.ndarray):
            places[number] = distance
        else:
            cure = "This station is left out; the others keep their numbers."
            where = Where(station=number)
            left_out.append(Problem(what=outline.reason, cure=cure, where=where, weight=Weight.WARNING))
    if not places:
        raise InputProblemsError([replace(one, weight=Weight.ERROR) for one in left_out])
    return places, tuple(left_out)


def outline_at(section_at: SectionAt, distance_mm: float) -> FloatArray:
    """Return the outline of a back at a distance, (n, 2) float, back frame (y, z), from its midline's height.

    Raises
    ------
    InputProblemsError
        If the back was not measured there.
    """
    outline = section_at(distance_mm)
    if not isinstance(outline, np.ndarray):
        raise input_problem(outline.reason, "Choose a station within what was measured.")
    return outline - np.array([0.0, half_outlines(outline)[2]])


def set_points_off(section_at: SectionAt, instrument: Instrument, station: Section) -> FloatArray:
    """Return how far each set point of a station lies off the back, (k,) float, station plane [mm]."""
    points = section_of(instrument, station).points
    if len(points) == 0:
        return np.zeros(0)
    return distance_to(outline_at(section_at, station.distance_mm), points)


def _rounded_together(
    section_at: SectionAt, instrument: Instrument, one_by_one: BackReadings
) -> BackReadings:
    """Round a chain's joints together; other families' readings do not depend on each other."""
    if not isinstance(instrument, JointedChain):
        return one_by_one
    stations = []
    for station in one_by_one.stations:
        left, right, _ = half_outlines(_known(section_at(station.distance_mm)))
        together = StationReadings(
            number=station.number,
            distance_mm=station.distance_mm,
            left=round_arm(instrument.left, left),
            right=round_arm(instrument.right, right),
        )
        both = (together, station)
        stations.append(min(both, key=lambda one: _cost(section_at, instrument, one)))
    topline = one_by_one.topline
    if isinstance(topline, ToplineJoints) and instrument.topline is not None:
        reach = one_by_one.stations[-1].distance_mm + max(instrument.topline.arm.link_mm)
        midline = _midline(section_at, topline.start_mm, reach)
        level, *joints = round_topline(instrument.topline, midline - midline[0])
        if level is not None:
            topline = ToplineJoints(start_mm=topline.start_mm, level_deg=level, joints=tuple(joints))
    return BackReadings(stations=tuple(stations), topline=topline)


def _known(outline: object) -> FloatArray:
    if not isinstance(outline, np.ndarray):
        msg = "the stations were checked before"
        raise TypeError(msg)
    return outline


def _cost(section_at: SectionAt, instrument: Instrument, station: Section) -> tuple[int, float]:
    off = set_points_off(section_at, instrument, station)
    return -len(off), float(np.sum(off**4))


def _midline(section_at: SectionAt, first: float, last: float) -> FloatArray:
    places = np.arange(first, last + MIDLINE_STEP_MM, MIDLINE_STEP_MM)
    outlines = [(float(s), section_at(float(s))) for s in places]
    return np.array([(s, half_outlines(o)[2]) for s, o in outlines if isinstance(o, np.ndarray)])


def _set_station(section_at: SectionAt, instrument: Instrument, station: Section) -> SetStation:
    outline = outline_at(section_at, station.distance_mm)
    local = section_of(instrument, station)
    off = distance_to(outline, local.points) if len(local.points) else np.array([np.inf])
    line = local.points[np.argsort(local.points[:, 0])] if len(local.points) else np.zeros((1, 2))
    # Chains and combs leave the midline itself to the instrument's middle, which lies on the skin.
    line = np.insert(line, np.searchsorted(line[:, 0], 0.0), [0.0, 0.0], axis=0)
    within = (outline[:, 0] >= line[0, 0]) & (outline[:, 0] <= line[-1, 0])
    between = distance_to(line, outline[within]).max() if within.any() else 0.0
    return SetStation(
        readings=station,
        off_by_mm=float(off.max()),
        between_mm=float(between),
        short_left_mm=_length_beyond(outline, line[-1, 0], 1.0),
        short_right_mm=_length_beyond(outline, line[0, 0], -1.0),
    )


def _length_beyond(outline: FloatArray, y_mm: float, side: float) -> float:
    beyond = outline[(outline[:, 0] - y_mm) * side > 0.0]
    return float(np.hypot(*np.diff(beyond, axis=0).T).sum()) if len(beyond) > 1 else 0.0


def _topline_off_by(section_at: SectionAt, instrument: Instrument, readings: BackReadings) -> float:
    curve = topline_curve(instrument, readings.topline)
    midline = _midline(section_at, curve.begins_mm, curve.ends_mm)
    at_mark = float(np.interp(0.0, midline[:, 0], midline[:, 1]))
    own = np.column_stack([curve.s_mm, curve.z_mm - curve.heights(np.zeros(1))])
    return float(distance_to(midline - np.array([0.0, at_mark]), own).max())


def _problems(
    instrument: Instrument, stations: Sequence[SetStation], tolerance_mm: float
) -> Iterator[Problem]:
    for station in stations:
        where = Where(station=station.number)
        if station.off_by_mm > tolerance_mm:
            stuck = _at_the_end(instrument, station.readings)
            why = f"; {stuck} stands at the end of its scale" if stuck else ""
            what = f"This instrument comes no nearer than {station.off_by_mm:.1f} mm to the back here{why}"
            cure = "Use an instrument with finer divisions or more reach, or a template for this station."
            yield Problem(what=what, cure=cure, where=where, weight=Weight.WARNING)
    for side, short in (
        ("near", {one.number: one.short_left_mm for one in stations}),
        ("off", {one.number: one.short_right_mm for one in stations}),
    ):
        numbers = [number for number, beyond in short.items() if beyond > SHORT_MM]
        if numbers:
            listed = f"station{'s' if len(numbers) > 1 else ''} {', '.join(str(n) for n in numbers)}"
            most = max(short.values())
            what = f"It ends up to {most:.0f} mm above where the back was measured to, at {listed}"
            cure = "Below that the rebuild shows nothing of this back."
            yield Problem(what=what, cure=cure, where=Where(side=side), weight=Weight.WARNING)


def _at_the_end(instrument: Instrument, station: Section) -> str:
    if not isinstance(station, StationReadings) or isinstance(instrument, TracedCurve | Scan | TapeAndHand):
        return ""
    names = part_names(instrument)
    for side, parts, held in (("near", names.left, station.left), ("off", names.right, station.right)):
        scale = _scale_of(instrument, side)
        for part, reading in zip(parts, held, strict=False):
            if reading is not None and (reading <= scale.lowest or reading >= scale.highest):
                return f"{part}, {side}," if part.startswith("joint") else ""
    return ""


def _scale_of(instrument: JointedChain | PinComb, side: str) -> Scale:
    if isinstance(instrument, PinComb):
        return instrument.scale
    arm: ChainArm = instrument.left if side == "near" else instrument.right
    return arm.scale


def check_station_numbers(settings: InstrumentSettings, entered: BackReadings) -> None:
    """Refuse entered readings of stations that the settings do not hold.

    Raises
    ------
    InputProblemsError
        Naming each of them.
    """
    known = {station.number for station in settings.stations}
    strange = [station for station in entered.stations if station.number not in known]
    if strange:
        cure = f"The settings hold stations {', '.join(str(n) for n in sorted(known))}."
        raise InputProblemsError(
            [
                Problem(what="is not a station of these settings", cure=cure, where=Where(station=one.number))
                for one in strange
            ]
        )
