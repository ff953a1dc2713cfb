"""The sections that are planned, in the order in which they are measured, as entries hold them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from saddlebench.practice.catalogue import Value

Values = Mapping[str, Value]


_SECTION = re.compile(r"s(\d{1,3})r(\d{1,2})")


_PLANNED = re.compile(r"(s\d{1,3}r\d{1,2})/(?:distance|planned)")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSection:
    """A section that was, or is to be, measured."""

    key: str
    """`s3r0`: which station it was planned as, and which time it is measured."""
    number: int
    """As the fitter counts, from the front."""
    repeat: int
    distance_mm: float


def planned_sections(values: Values) -> tuple[PlannedSection, ...]:
    """Return the sections in the order in which they are measured: front to back, then those again."""
    keys = {match[1] for name in values if (match := _PLANNED.fullmatch(name))}
    ids = [(int(match[1]), int(match[2])) for key in keys if (match := _SECTION.fullmatch(key))]
    places = {
        station: distance
        for station, repeat in ids
        if repeat == 0 and isinstance(distance := values.get(f"s{station}r0/distance"), int | float)
    }
    ranks = {station: i for i, station in enumerate(sorted(places, key=lambda s: (places[s], s)), start=1)}
    found = [
        PlannedSection(
            key=f"s{station}r{repeat}",
            number=ranks[station],
            repeat=repeat,
            distance_mm=float(places[station]),
        )
        for station, repeat in ids
        if station in ranks
    ]
    return tuple(sorted(found, key=lambda one: (one.repeat, one.number)))


def plan_values(first_mm: float, apart_mm: float, count: int, how: str) -> dict[str, Value]:
    """Return the entries that plan a measuring: the sections, the first again last, the topline's places.

    `how` is “heights” or “chain”. Heights count from the shoulder mark, so it is always among the places.
    """
    places = [first_mm + i * apart_mm for i in range(count)]
    values: dict[str, Value] = {f"s{i}r0/distance": s for i, s in enumerate(places, start=1)}
    values |= {"s1r1/planned": True, "top/how": how}
    if how == "heights":
        values |= {f"top/{row}/distance": s for row, s in enumerate(sorted({*places, 0.0}), start=1)}
    return values
