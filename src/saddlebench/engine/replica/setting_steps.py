"""What is set on an instrument, part by part, in the order in which one sets it."""

from collections.abc import Iterator
from dataclasses import dataclass

from saddlebench.engine.back.comb import left_pins, middle_pin, right_pins
from saddlebench.engine.back.instruments import Instrument, JointedChain, PinComb
from saddlebench.engine.back.readings import (
    BackReadings,
    Section,
    SectionPoints,
    ToplineHeights,
    ToplineJoints,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingStep:
    """One thing to set."""

    station: int | None = None
    """None: the topline."""
    distance_mm: float
    """Behind the shoulder mark [mm]."""
    side: str
    """“near”, “off”, or nothing."""
    part: str
    """“joint 3”, “pin 12”, “level”, “height”, “point 4”."""
    reading: float
    up: float | None = None
    """Of a traced point: how high; its reading is how far out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNames:
    """What an instrument's parts are called, in the order of its readings."""

    left: tuple[str, ...]
    right: tuple[str, ...]
    middle: str = ""


def part_names(instrument: Instrument) -> PartNames:
    """Return the names of an instrument's joints or pins; pins keep their number from the left."""
    if isinstance(instrument, PinComb):
        middle = middle_pin(instrument)
        return PartNames(
            left=tuple(f"pin {pin}" for pin in left_pins(instrument)),
            right=tuple(f"pin {pin}" for pin in right_pins(instrument)),
            middle="" if middle is None else f"pin {middle}",
        )
    if isinstance(instrument, JointedChain):
        return PartNames(
            left=tuple(f"joint {k + 1}" for k in range(instrument.left.n_links)),
            right=tuple(f"joint {k + 1}" for k in range(instrument.right.n_links)),
        )
    return PartNames(left=(), right=())


def steps_of(instrument: Instrument, readings: BackReadings) -> Iterator[SettingStep]:
    """Yield the steps: the topline, then station by station, near before off, outward."""
    yield from _topline_steps(readings)
    for station in readings.stations:
        for side, part, reading, up in _station_parts(instrument, station):
            yield SettingStep(
                station=station.number,
                distance_mm=station.distance_mm,
                side=side,
                part=part,
                reading=reading,
                up=up,
            )


def _topline_steps(readings: BackReadings) -> Iterator[SettingStep]:
    topline = readings.topline
    if isinstance(topline, ToplineJoints):
        yield _on_topline(topline.start_mm, "level", topline.level_deg)
        for k, reading in enumerate(topline.joints, start=1):
            if reading is not None:
                yield _on_topline(topline.start_mm, f"joint {k}", reading)
    elif isinstance(topline, ToplineHeights):
        for distance, height in zip(topline.distance_mm, topline.height_mm, strict=True):
            yield _on_topline(distance, "height", height)


def _on_topline(distance_mm: float, part: str, reading: float) -> SettingStep:
    return SettingStep(station=None, distance_mm=distance_mm, side="", part=part, reading=reading)


def _station_parts(
    instrument: Instrument, station: Section
) -> Iterator[tuple[str, str, float, float | None]]:
    if isinstance(station, SectionPoints):
        for side, points in (("near", station.left), ("off", station.right)):
            for k, (out, up) in enumerate(points, start=1):
                yield side, f"point {k}", out, up
        return
    names = part_names(instrument)
    if station.middle is not None:
        yield "", names.middle, station.middle, None
    for side, parts, held in (("near", names.left, station.left), ("off", names.right, station.right)):
        for part, reading in zip(parts, held, strict=False):
            if reading is not None:
                yield side, part, reading, None
