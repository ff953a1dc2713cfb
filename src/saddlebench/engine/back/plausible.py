"""What can be said against readings before they become points: absent, off the scale, impossible."""

import math
from collections.abc import Iterator
from itertools import pairwise

from saddlebench.engine.back.comb import left_pins, pins_of, reference_weights, right_pins
from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    Scan,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.engine.back.order import order_problems
from saddlebench.engine.back.readings import (
    BackReadings,
    Reading,
    Section,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.rules import RULES, QualityRules
from saddlebench.engine.back.tape import first_width
from saddlebench.engine.errors import NotMeasured, Problem, Weight, Where

CHECK_UNIT = "Check the number and its unit (mm, not inches or centimetres), and type it again."


def readings_problems(
    instrument: Instrument, readings: BackReadings, rules: QualityRules = RULES
) -> tuple[Problem, ...]:
    """Return everything that raw readings have against themselves; errors stop them from becoming points."""
    problems = list(_topline_problems(instrument, readings, rules))
    problems += order_problems(readings, rules)
    for station in readings.stations:
        problems += _place_problems(station, rules)
        match instrument, station:
            case JointedChain(), StationReadings(widths=()):
                problems += _chain_problems(instrument, station)
            case PinComb(), StationReadings(widths=()):
                problems += _comb_problems(instrument, station)
            case TracedCurve(), SectionPoints():
                problems += _outline_problems(station, instrument.mm_per_unit, rules)
            case Scan(), SectionPoints():
                problems += _outline_problems(station, 1.0, rules)
            case TapeAndHand(), StationReadings():
                problems += _tape_problems(instrument, station)
            case _:
                problems.append(_wrong_family(instrument, station))
    return tuple(problems)


def at(station: Section, side: str = "", field: str = "") -> Where:
    """Return the place of a station's reading."""
    return Where(station=station.number, side=side, field=field)


def _wrong_family(instrument: Instrument, station: Section) -> Problem:
    match station:
        case SectionPoints():
            kind = "points of an outline"
        case StationReadings(widths=()):
            kind = "joints or pins"
        case _:
            kind = "widths"
    return Problem(
        what=f"The readings are {kind}, which “{instrument.name}” does not give",
        cure="Choose the instrument that was used.",
        where=at(station),
    )


def _finite(values: tuple[float, ...], lowest: float, highest: float) -> bool:
    return all(math.isfinite(value) and lowest <= value <= highest for value in values)


def _place_problems(station: Section, rules: QualityRules) -> Iterator[Problem]:
    if not _finite((station.distance_mm,), -rules.furthest_in_front_mm, rules.furthest_behind_mm):
        yield Problem(
            what=f"A distance of {station.distance_mm:g} mm behind the shoulder mark lies on no back",
            cure=CHECK_UNIT,
            where=at(station, field="distance"),
        )
    if not _finite((station.tilt_deg,), -45.0, 45.0):
        yield Problem(
            what=f"A tilt of {station.tilt_deg:g}° is no tilt an instrument is held at",
            cure="Read the level again.",
            where=at(station, field="tilt"),
        )


def _off_scale(scale: Scale, reading: Reading, where: Where, what: str) -> Iterator[Problem]:
    if reading is not None and not (math.isfinite(reading) and scale.shows(reading)):
        yield Problem(
            what=f"{what} reads {reading:g}, beyond the range of {scale.lowest:g} to {scale.highest:g}",
            cure="Read it again, or correct the instrument's range.",
            where=where,
        )


def _chain_problems(chain: JointedChain, station: StationReadings) -> Iterator[Problem]:
    for side, arm, joints in (("left", chain.left, station.left), ("right", chain.right, station.right)):
        yield from _too_many(len(joints), arm.n_links, "joints", at(station, side))
        for j, reading in enumerate(joints, start=1):
            yield from _off_scale(arm.scale, reading, at(station, side, f"joint {j}"), f"Joint {j}")
        yield from _gap(joints, at(station, side))
        yield from _nothing_read(joints, at(station, side), side)


def _comb_problems(comb: PinComb, station: StationReadings) -> Iterator[Problem]:
    for side, pins, depths in (
        ("left", left_pins(comb), station.left),
        ("right", right_pins(comb), station.right),
    ):
        yield from _too_many(len(depths), len(pins), "pins", at(station, side))
        for pin, reading in zip(pins, depths, strict=False):
            yield from _off_scale(comb.scale, reading, at(station, side, f"pin {pin}"), f"Pin {pin}")
        yield from _nothing_read(depths, at(station, side), side)
    yield from _off_scale(comb.scale, station.middle, at(station, field="middle pin"), "The middle pin")
    missing = [pin for pin in reference_weights(comb) if pin not in pins_of(comb, station)]
    if missing:
        named = ", ".join(str(pin) for pin in missing)
        yield Problem(
            what=f"Pin {named} at the midline was not read, and the comb takes its height from it",
            cure="Read the pins at the midline; without them this section has no height.",
            where=at(station, field=f"pin {missing[0]}"),
            weight=Weight.WARNING,
        )


def _tape_problems(tape: TapeAndHand, station: StationReadings) -> Iterator[Problem]:
    yield from _too_many(len(station.widths), len(tape.width_depths_mm), "widths", at(station))
    for i, reading in enumerate(station.widths, start=1):
        yield from _off_scale(tape.width, reading, at(station, field=f"width {i}"), f"Width {i}")
    for side, angles in (("left", station.left), ("right", station.right)):
        yield from _too_many(len(angles), 1, "angles on this side", at(station, side))
        for angle in angles[:1]:
            yield from _off_scale(tape.angle, angle, at(station, side, "angle"), "The angle")
            if angle is not None and first_width(station) is None:
                yield Problem(
                    what="The angle has no place: the first width was not taken",
                    cure="Take the first width; the card hangs down from there.",
                    where=at(station, side, "angle"),
                    weight=Weight.WARNING,
                )
    if all(width is None for width in station.widths):
        yield Problem(
            what="No width was taken",
            cure=f"Take the widths at station {station.number}.",
            where=at(station, field="width 1"),
            weight=Weight.WARNING,
        )
    known = [(i, one) for i, one in enumerate(station.widths, start=1) if one is not None]
    for (i, upper), (j, lower) in pairwise(known):
        if lower < upper:
            yield Problem(
                what=f"Width {j} is less than width {i} above it ({lower:g} and {upper:g}): swapped?",
                cure="No back narrows downwards so high up; take both again.",
                where=at(station, field=f"width {j}"),
                weight=Weight.WARNING,
            )


def _outline_problems(station: SectionPoints, mm_per_unit: float, rules: QualityRules) -> Iterator[Problem]:
    for side, points in (("left", station.left), ("right", station.right)):
        for i, (out, up) in enumerate(points, start=1):
            size = (out * mm_per_unit, up * mm_per_unit)
            if not _finite(size, -rules.widest_mm - rules.topline_rise_mm, rules.widest_mm):
                yield Problem(
                    what=f"Point {i} at ({out:g}, {up:g}) lies beyond any horse",
                    cure=CHECK_UNIT,
                    where=at(station, side, f"point {i}"),
                )
            elif out < 0.0:
                yield Problem(
                    what=f"Point {i} lies on the other side of the midline ({out:g})",
                    cure="Distances count outward from the midline on both sides; check the side.",
                    where=at(station, side, f"point {i}"),
                )
        yield from _nothing_read(points, at(station, side), side)


def _too_many(n: int, most: int, parts: str, where: Where) -> Iterator[Problem]:
    if n > most:
        yield Problem(
            what=f"There are readings of {n} {parts}, but the instrument has {most}",
            cure="Choose the instrument that was used, or remove the extra readings.",
            where=where,
        )


def _gap(joints: tuple[Reading, ...], where: Where) -> Iterator[Problem]:
    for j, reading in enumerate(joints, start=1):
        if reading is None and any(later is not None for later in joints[j:]):
            yield Problem(
                what=f"Joint {j} was not read, so everything beyond it is lost",
                cure=f"Read joint {j} of this station again.",
                where=Where(station=where.station, side=where.side, field=f"joint {j}"),
                weight=Weight.WARNING,
            )
            return


def _nothing_read(values: tuple[object, ...], where: Where, side: str) -> Iterator[Problem]:
    if all(value is None for value in values):
        near = "near" if side == "left" else "off"
        yield Problem(
            what=f"The {side} ({near}) side was not read",
            cure=f"Measure the {side} side of station {where.station}.",
            where=where,
            weight=Weight.WARNING,
        )


def _topline_problems(
    instrument: Instrument, readings: BackReadings, rules: QualityRules
) -> Iterator[Problem]:
    topline, where = readings.topline, Where(field="topline")
    if isinstance(instrument, Scan):
        return
    match topline:
        case NotMeasured():
            yield Problem(
                what="The topline was not measured, so the sections have no height",
                cure="Measure the height of the midline at every station.",
                where=where,
            )
        case ToplineHeights():
            yield from _height_problems(topline, readings, rules)
        case ToplineJoints():
            yield from _topline_chain_problems(instrument, topline)


def _height_problems(
    topline: ToplineHeights, readings: BackReadings, rules: QualityRules
) -> Iterator[Problem]:
    where = Where(field="topline")
    if len(topline.distance_mm) != len(topline.height_mm):
        yield Problem(
            what=f"There are {len(topline.height_mm)} heights for {len(topline.distance_mm)} distances",
            cure="Give one height for every distance.",
            where=where,
        )
        return
    bad = False
    for distance, height in zip(topline.distance_mm, topline.height_mm, strict=True):
        if not _finite((distance,), -rules.furthest_in_front_mm, rules.furthest_behind_mm) or not _finite(
            (height,), -2500.0, 2500.0
        ):
            bad = True
            yield Problem(
                what=f"The topline at {distance:g} mm with a height of {height:g} mm lies on no horse",
                cure=CHECK_UNIT,
                where=where,
            )
    if bad:
        return
    if topline.height_mm and max(topline.height_mm) - min(topline.height_mm) > rules.topline_rise_mm:
        yield Problem(
            what=f"The topline's heights differ by {max(topline.height_mm) - min(topline.height_mm):.0f} mm",
            cure=CHECK_UNIT,
            where=where,
        )
    yield from uncovered(topline.distance_mm, readings, rules)


def uncovered(
    measured_mm: tuple[float, ...], readings: BackReadings, rules: QualityRules = RULES
) -> Iterator[Problem]:
    """Yield the stations, and the mark itself, that lie beyond a topline's measured places."""
    if not measured_mm:
        return
    first, last = min(measured_mm) - rules.same_place_mm, max(measured_mm) + rules.same_place_mm
    if not first <= 0.0 <= last:
        yield Problem(
            what="The topline was not measured at the shoulder mark, where heights are counted from",
            cure="Measure a height in front of the shoulder mark (or on it) and one behind it.",
            where=Where(field="topline"),
        )
    for station in readings.stations:
        if not first <= station.distance_mm <= last:
            yield Problem(
                what=f"The topline was not measured at {station.distance_mm:g} mm",
                cure="Measure the height of the midline there: without it this section has no height.",
                where=at(station, field="topline"),
            )


def _topline_chain_problems(instrument: Instrument, topline: ToplineJoints) -> Iterator[Problem]:
    where = Where(field="topline")
    if not isinstance(instrument, JointedChain) or instrument.topline is None:
        yield Problem(
            what="There are readings of a topline chain, but the instrument has none",
            cure="Describe the topline's links with the instrument, or give heights at distances.",
            where=where,
        )
        return
    arm = instrument.topline.arm
    yield from _too_many(len(topline.joints), arm.n_links - 1, "topline joints", where)
    yield from _gap(topline.joints, where)
    for j, reading in enumerate(topline.joints, start=1):
        yield from _off_scale(arm.scale, reading, Where(field=f"topline joint {j}"), f"Topline joint {j}")
    if not _finite((topline.level_deg,), -60.0, 60.0):
        yield Problem(
            what=f"The topline's first link at {topline.level_deg:g}° lies on no back",
            cure="Read the level again.",
            where=where,
        )
