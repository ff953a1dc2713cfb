"""A section by tape and hand: where the hands lay, and where a card laid on the side ended.

A width gives one point on each side, half of it from the midline and its depth below. The angle gives one
more: a card on a round side touches near its middle and runs there as the side does, and the chord of an arc
runs as its middle does; so the card's length, laid off from its upper edge, comes out on the side again, to
second order. What lies between these points is the surface's guess by what backs are like, and says so.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.instruments import TapeAndHand
from saddlebench.engine.back.outline import crossing
from saddlebench.engine.back.readings import Reading, StationReadings
from saddlebench.engine.back.sections import ElementaryError, LocalSection, side_of
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

SIDES_ALIKE = "which side is the larger, which a width does not tell"
_SIDES = (("left", 1.0), ("right", -1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """A point of a section: where a hand lay, or where the card ended."""

    side: str
    sign: float
    width: int
    """The width that it hangs on, from 0."""
    across_mm: float
    up_mm: float
    fall_rad: float | None = None
    """Of the card that ended here."""


def first_width(station: StationReadings) -> Reading:
    """Return the uppermost width, from which the card hangs down; None where it was not taken."""
    return station.widths[0] if station.widths else None


def tape_section(tape: TapeAndHand, station: StationReadings) -> LocalSection:
    """Return the section that widths and angles describe; what was not read gives no point.

    Parameters
    ----------
    tape : TapeAndHand
    station : StationReadings
    """
    places = sorted(_places(tape, station), key=lambda one: (-one.sign, -one.up_mm))
    points = np.array([(one.across_mm, one.up_mm) for one in places], dtype=float).reshape(-1, 2)
    return LocalSection(
        points=points,
        side=side_of(points[:, 0]),
        errors=tuple(_errors(tape, station, places)),
        noise_mm=np.full(len(places), tape.placing.contact_mm),
    )


def _places(tape: TapeAndHand, station: StationReadings) -> Iterator[_Place]:
    for k, (depth, reading) in enumerate(zip(tape.width_depths_mm, station.widths, strict=False)):
        if reading is None:
            continue
        half = 0.5 * reading * tape.width.per_division
        for side, sign in _SIDES:
            yield _Place(side=side, sign=sign, width=k, across_mm=sign * half, up_mm=-depth)
    upper = first_width(station)
    if upper is None:
        return
    half = 0.5 * upper * tape.width.per_division
    for (side, sign), angles in zip(_SIDES, (station.left, station.right), strict=True):
        if angles and angles[0] is not None:
            fall = angles[0] * tape.angle.per_division * DEGREE
            yield _Place(
                side=side,
                sign=sign,
                width=0,
                across_mm=sign * (half + tape.card_mm * np.cos(fall)),
                up_mm=-tape.width_depths_mm[0] - tape.card_mm * np.sin(fall),
                fall_rad=fall,
            )


def _errors(tape: TapeAndHand, station: StationReadings, places: list[_Place]) -> Iterator[ElementaryError]:
    words = station.words
    sign = np.array([one.sign for one in places])
    none = np.zeros_like(sign)
    read = float(np.hypot(tape.width_sd_mm, tape.width.rounding_sd))
    for k in sorted({one.width for one in places}):
        hung = np.array([float(one.width == k) for one in places])
        yield _error(f"{words}, width {k + 1}", read, 0.5 * hung * sign, none)
        for side, side_sign in _SIDES:
            lay = hung * (sign == side_sign)
            yield _error(f"{words}, {side}, depth of width {k + 1}", tape.depth_sd_mm, none, -lay)
    angle = float(np.hypot(tape.angle_sd_deg, tape.angle.rounding_sd)) * DEGREE
    for i, one in enumerate(places):
        if one.fall_rad is not None:
            own = np.eye(len(places))[i] * tape.card_mm
            across, up = -one.sign * np.sin(one.fall_rad) * own, -np.cos(one.fall_rad) * own
            yield _error(f"{words}, {one.side}, angle", angle, across, up)
    yield _error(SIDES_ALIKE, tape.sides_sd_mm, np.ones_like(sign), none)


def _error(source: str, sd: float, across: FloatArray, up: FloatArray) -> ElementaryError:
    return ElementaryError(source=source, sd=sd, moves=np.stack([across, up], axis=1))


def tape_readings(
    tape: TapeAndHand, number: int, distance_mm: float, left: FloatArray, right: FloatArray
) -> StationReadings:
    """Return what a tape and a card would read at an outline, to whole steps of their scales.

    Parameters
    ----------
    tape : TapeAndHand
    number : int
    distance_mm : float
        Behind the shoulder mark [mm].
    left, right : (n, 2) float, station plane
        Halves of the outline: out from the midline and up from the skin there, outward [mm].
    """
    widths: list[Reading] = []
    for depth in tape.width_depths_mm:
        outs = [out_at(half, depth) for half in (left, right)]
        known = [out for out in outs if out is not None]
        widths.append(tape.width.nearest(sum(known)) if len(known) == len(outs) else None)
    angles = [_angle_of(tape, half) for half in (left, right)]
    return StationReadings(
        number=number, distance_mm=distance_mm, left=angles[0], right=angles[1], widths=tuple(widths)
    )


def _angle_of(tape: TapeAndHand, half: FloatArray) -> tuple[Reading, ...]:
    fall = card_fall(half, tape.width_depths_mm[0], tape.card_mm)
    is_shown = fall is not None and tape.angle.shows(fall / tape.angle.per_division)
    return () if fall is None or not is_shown else (tape.angle.nearest(fall),)


def out_at(half: FloatArray, depth_mm: float) -> float | None:
    """Return how far out a half outline first sinks to a depth below its midline [mm], None if it never does.

    Parameters
    ----------
    half : (n, 2) float, station plane
        Out from the midline and up from the skin there, outward [mm].
    depth_mm : float
    """
    below = np.flatnonzero(half[:, 1] <= -depth_mm)
    if len(below) == 0 or below[0] == 0:
        return None
    i = int(below[0])
    (out_a, up_a), (out_b, up_b) = half[i - 1], half[i]
    return float(out_a + (up_a + depth_mm) / (up_a - up_b) * (out_b - out_a))


def card_fall(half: FloatArray, depth_mm: float, card_mm: float) -> float | None:
    """Return how steep a card falls that hangs down a half outline from a depth [°], None if it ends sooner.

    Parameters
    ----------
    half : (n, 2) float, station plane
        Out from the midline and up from the skin there, outward [mm].
    depth_mm, card_mm : float
    """
    out = out_at(half, depth_mm)
    if out is None:
        return None
    upper = np.array([out, -depth_mm])
    beyond = half[int(np.flatnonzero(half[:, 1] <= -depth_mm)[0]) :]
    end = crossing(np.vstack([upper, beyond]), upper, card_mm)
    if len(end) == 0:
        return None
    across, up = end[0] - upper
    return float(np.arctan2(-up, across)) / DEGREE
