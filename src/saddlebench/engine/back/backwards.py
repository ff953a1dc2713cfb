"""Instruments run backwards: the readings to set so that an instrument shows a given back.

A back is given by its sections: a function from the distance behind the shoulder mark to the outline across
the back there, or the reason why it was not measured there.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import assert_never

import numpy as np

from saddlebench.engine.back.comb import left_pins, middle_pin, reference_weights, right_pins
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Scan,
    TapeAndHand,
    ToplineChain,
    TracedCurve,
)
from saddlebench.engine.back.outline import crossing, distance_to, half_outlines, height_at, spaced
from saddlebench.engine.back.readings import (
    BackReadings,
    Reading,
    Section,
    SectionPoints,
    StationReadings,
    Topline,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import section_of
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.back.tape import tape_readings
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

SectionAt = Callable[[float], FloatArray | NotMeasured]
"""From a distance behind the shoulder mark [mm] to an outline (n, 2) float, back frame (y, z) [mm], in order
from one side to the other, across the midline."""

HEIGHT_STEP_MM = 1.0
"""Heights of the topline are set to the millimetre."""
TRACING_SPACING_MM = 15.0
"""A tracing is given by points this far apart."""
TOPLINE_SPACING_MM = 2.0


def sections_of_radius(
    radius: Callable[[FloatArray, FloatArray], FloatArray], axis_z_mm: float, phi: FloatArray
) -> SectionAt:
    """Return the sections of a surface given as a radius.

    Parameters
    ----------
    radius : from distances s (n,) [mm] and angles φ (n,) [rad], back frame, to radii (n,) [mm]
    axis_z_mm : height of the polar axis, back frame [mm]
    phi : (n,) float, back frame, the angles at which sections are drawn, rising [rad]
    """

    def section(distance_mm: float) -> FloatArray:
        r = radius(np.full_like(phi, distance_mm), phi)
        return np.stack([r * np.sin(phi), r * np.cos(phi) + axis_z_mm], axis=1)

    return section


def sections_of_surface(surface: BackSurface, points_per_cell: int = 20) -> SectionAt:
    """Return the sections of a back's surface, as far as it was measured."""
    grid = surface.grid

    def section(distance_mm: float) -> FloatArray | NotMeasured:
        place = (distance_mm - grid.s0_mm) / grid.ds_mm
        # A node speaks for half a cell about it: the outermost stations rarely stand on one.
        inside = 0 <= place <= grid.n_s - 1
        columns = np.flatnonzero(surface.measured[round(place)]) if inside else np.zeros(0, dtype=int)
        if len(columns) < 2 or not grid.phi[columns[0]] < 0.0 < grid.phi[columns[-1]]:
            return NotMeasured(f"the back was not measured at {distance_mm:g} mm behind the shoulder mark")
        n = points_per_cell * int(columns[-1] - columns[0]) + 1
        phi = np.linspace(grid.phi[columns[0]], grid.phi[columns[-1]], n)
        r = surface.spline.radius(np.full(n, distance_mm), phi)[:, 0]
        return np.stack([r * np.sin(phi), r * np.cos(phi) + grid.axis_z_mm], axis=1)

    return section


def readings_of(section_at: SectionAt, instrument: Instrument, distances_mm: Sequence[float]) -> BackReadings:
    """Return the readings to set on an instrument for a back, rounded to its scale.

    What the instrument does not reach is left blank. How well the settings fit: `setting_residuals`.

    Raises
    ------
    InputProblemsError
        If the back was not measured at one of the distances.
    """
    outlines = _outlines(section_at, distances_mm)
    stations = tuple(
        _set_station(instrument, number, distance, outlines[distance])
        for number, distance in enumerate(distances_mm, start=1)
    )
    return BackReadings(stations=stations, topline=_set_topline(section_at, instrument, distances_mm))


def setting_residuals(
    section_at: SectionAt, instrument: Instrument, readings: BackReadings
) -> tuple[float | NotMeasured, ...]:
    """Return, for each station, how far its worst set point lies off the back, from the midline [mm]."""
    outlines = _outlines(section_at, [station.distance_mm for station in readings.stations])
    residuals: list[float | NotMeasured] = []
    for station in readings.stations:
        outline = outlines[station.distance_mm]
        _, _, top = half_outlines(outline)
        points = section_of(instrument, station).points
        if len(points) == 0:
            residuals.append(NotMeasured("nothing of this station can be set", stations=(station.number,)))
        else:
            residuals.append(float(distance_to(outline - np.array([0.0, top]), points).max()))
    return tuple(residuals)


def _outlines(section_at: SectionAt, distances_mm: Sequence[float]) -> dict[float, FloatArray]:
    found: dict[float, FloatArray] = {}
    problems = []
    for number, distance in enumerate(distances_mm, start=1):
        outline = section_at(distance)
        if isinstance(outline, NotMeasured):
            cure = "Choose a station within what was measured."
            problems.append(Problem(what=outline.reason, cure=cure, where=Where(station=number)))
        else:
            found[distance] = outline
    if problems:
        raise InputProblemsError(problems)
    return found


def _set_station(instrument: Instrument, number: int, distance_mm: float, outline: FloatArray) -> Section:
    left, right, _ = half_outlines(outline)
    match instrument:
        case JointedChain():
            return StationReadings(
                number=number,
                distance_mm=distance_mm,
                left=set_arm(instrument.left, left),
                right=set_arm(instrument.right, right),
            )
        case PinComb():
            return _set_comb(instrument, number, distance_mm, left, right)
        case TracedCurve():
            step = instrument.step
            points = [
                np.round(spaced(half, TRACING_SPACING_MM) / instrument.mm_per_unit / step) * step
                for half in (left, right)
            ]
            return _points(number, distance_mm, points)
        case Scan():
            top = np.array([0.0, half_outlines(outline)[2]])
            return _points(number, distance_mm, [left[1:] + top, right[1:] + top])
        case TapeAndHand():
            return tape_readings(instrument, number, distance_mm, left, right)
        case _:
            assert_never(instrument)


def _points(number: int, distance_mm: float, halves: Sequence[FloatArray]) -> SectionPoints:
    left, right = (tuple((float(out), float(up)) for out, up in half) for half in halves)
    return SectionPoints(number=number, distance_mm=distance_mm, left=left, right=right)


def set_arm(arm: ChainArm, half: FloatArray) -> tuple[Reading, ...]:
    """Return the joints' readings that lay an arm on an outline; beyond the outline's end they are blank.

    Parameters
    ----------
    arm : the links
    half : (n, 2) float, arm frame: out from the midline and up from the skin there, outward [mm]
    """

    def nearest(k: int, angle_deg: float) -> tuple[float, float]:
        reading = arm.scale.nearest(angle_deg - arm.zero_deg[k])
        return reading, arm.zero_deg[k] + arm.scale.per_division * reading

    readings = list(_lay_links(arm, half, nearest))
    return (*readings, *(None for _ in range(arm.n_links - len(readings))))


def _lay_links(
    arm: ChainArm, half: FloatArray, nearest: Callable[[int, float], tuple[float, float]]
) -> Iterator[float]:
    """Turn each link until its pad touches; the next starts from where the *rounded* reading leaves it.

    So rounding does not add up. `nearest` gives, for a joint and its angle [°], the reading and its angle.
    """
    joint = np.array([arm.first_joint_out_mm, arm.first_joint_up_mm])
    below = 0.0
    rest = half
    for k, (length, pad) in enumerate(
        zip(arm.link_mm, zip(arm.pad_along_mm, arm.pad_below_mm, strict=True), strict=True)
    ):
        rest = crossing(rest, joint, float(np.hypot(*pad)))
        if len(rest) == 0:
            return
        out, up = rest[0] - joint
        turn = np.arctan2(-up, out) - np.arctan2(pad[1], pad[0]) - below
        reading, angle_deg = nearest(k, float((turn + np.pi) % (2 * np.pi) - np.pi) / DEGREE)
        yield reading
        below += angle_deg * DEGREE
        joint = joint + length * np.array([np.cos(below), -np.sin(below)])


def _set_comb(
    comb: PinComb, number: int, distance_mm: float, left: FloatArray, right: FloatArray
) -> StationReadings:
    heights = dict(_heights_under_pins(comb, left, right))
    bar = comb.offset_mm
    readings: dict[int, float] = {}
    if bar is None:
        lowest = min(
            comb.scale.lowest * comb.scale.per_division, comb.scale.highest * comb.scale.per_division
        )
        above = max(heights.values(), default=0.0) + max(lowest, 0.0)
        weights = {pin: weight for pin, weight in reference_weights(comb).items() if pin in heights}
        readings = {pin: comb.scale.nearest(above - heights[pin]) for pin in weights}
        bar = sum(weight * readings[pin] * comb.scale.per_division for pin, weight in weights.items())
    for pin, height in heights.items():
        exact = (bar - height) / comb.scale.per_division
        if pin not in readings and comb.scale.shows(exact):
            readings[pin] = comb.scale.nearest(bar - height)
    middle = middle_pin(comb)
    return StationReadings(
        number=number,
        distance_mm=distance_mm,
        left=tuple(readings.get(pin) for pin in left_pins(comb)),
        right=tuple(readings.get(pin) for pin in right_pins(comb)),
        middle=None if middle is None else readings.get(middle),
    )


def _heights_under_pins(comb: PinComb, left: FloatArray, right: FloatArray) -> Iterator[tuple[int, float]]:
    for pin in range(1, comb.n_pins + 1):
        across = comb.across_mm(pin)
        height = height_at(left if across >= 0.0 else right, abs(across))
        if height is not None:
            yield pin, height


def _set_topline(section_at: SectionAt, instrument: Instrument, distances_mm: Sequence[float]) -> Topline:
    if isinstance(instrument, Scan):
        return NotMeasured("a scan's sections carry their own heights")
    first, last = min(*distances_mm, 0.0), max(*distances_mm, 0.0)
    if isinstance(instrument, JointedChain) and instrument.topline is not None:
        reach = last + max(instrument.topline.arm.link_mm)
        places = np.arange(first, reach + TOPLINE_SPACING_MM, TOPLINE_SPACING_MM)
        return _set_topline_chain(instrument.topline, _midline(section_at, places))
    places = np.unique([first, *distances_mm, 0.0, last])
    midline = _midline(section_at, places)
    return ToplineHeights(
        distance_mm=tuple(float(s) for s in midline[:, 0]),
        height_mm=tuple(float(np.round(z / HEIGHT_STEP_MM) * HEIGHT_STEP_MM) for z in midline[:, 1]),
    )


def _midline(section_at: SectionAt, places: FloatArray) -> FloatArray:
    """Return (n, 2) float: distance and height of the midline, as far as it was measured [mm]."""
    outlines = [(float(s), section_at(float(s))) for s in places]
    return np.array([(s, half_outlines(o)[2]) for s, o in outlines if not isinstance(o, NotMeasured)])


def _set_topline_chain(chain: ToplineChain, midline: FloatArray) -> ToplineJoints:
    arm = chain.arm

    def nearest(k: int, angle_deg: float) -> tuple[float, float]:
        if k == 0:
            level = round((angle_deg - arm.zero_deg[0]) / chain.level_step_deg) * chain.level_step_deg
            return level, arm.zero_deg[0] + level
        reading = arm.scale.nearest(angle_deg - arm.zero_deg[k])
        return reading, arm.zero_deg[k] + arm.scale.per_division * reading

    readings = list(_lay_links(arm, midline - midline[0], nearest))
    if not readings:
        what = "The back is shorter than the first link of the topline's chain"
        raise input_problem(what, "Choose stations further apart.", Where(field="topline"))
    blank = (None for _ in range(arm.n_links - len(readings)))
    return ToplineJoints(start_mm=float(midline[0, 0]), level_deg=readings[0], joints=(*readings[1:], *blank))
