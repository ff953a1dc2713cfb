"""Whether stations stand in an order that a back can have: how many, where, which twice."""

from collections.abc import Iterator
from itertools import pairwise

from saddlebench.engine.back.readings import BackReadings, Section, StationReadings
from saddlebench.engine.back.rules import QualityRules
from saddlebench.engine.errors import Problem, Weight, Where


def order_problems(readings: BackReadings, rules: QualityRules) -> Iterator[Problem]:
    """Yield what is wrong with the stations as a row: too few, twice, at one place, out of order."""
    first = sorted((s for s in readings.stations if s.repeat == 0), key=lambda s: s.number)
    if not readings.stations:
        yield Problem(what="There is no station at all", cure="Measure at least three sections of the back.")
        return
    yield from _twice(readings)
    places = {station.distance_mm for station in first}
    if len(places) == 1:
        yield Problem(
            what="There is one station only",
            cure="Measure at least three: behind the shoulder, at the lowest point, at the last rib.",
            where=Where(station=first[0].number),
        )
    yield from _neighbours(first, rules)
    yield from _repeats(readings, {station.number: station for station in first}, rules)
    yield from _side_missing_everywhere(first)


def _twice(readings: BackReadings) -> Iterator[Problem]:
    seen: set[tuple[int, int]] = set()
    for station in readings.stations:
        if (station.number, station.repeat) in seen:
            yield Problem(
                what=f"{station.words.capitalize()} appears twice",
                cure="Correct the station's number, or mark the second one as measured again.",
                where=Where(station=station.number),
            )
        seen.add((station.number, station.repeat))


def _neighbours(first: list[Section], rules: QualityRules) -> Iterator[Problem]:
    by_place = sorted(first, key=lambda s: s.distance_mm)
    gaps = [b.distance_mm - a.distance_mm for a, b in pairwise(by_place)]
    if gaps and 0.0 < max(gaps) < rules.closest_stations_mm:
        yield Problem(
            what=f"The stations are at most {max(gaps):g} mm apart",
            cure="Were the distances written in inches or centimetres? State the unit; it is not guessed.",
            where=Where(field="distance"),
        )
        return
    for one, other in pairwise(by_place):
        if other.distance_mm - one.distance_mm < rules.same_place_mm and one.number != other.number:
            yield Problem(
                what=f"Stations {one.number} and {other.number} are at the same place",
                cure="Correct a distance; if it is one section measured twice, mark the second as a repeat.",
                where=Where(station=other.number, field="distance"),
            )
    for one, other in pairwise(first):
        if other.distance_mm < one.distance_mm - rules.same_place_mm and other.number > one.number:
            yield Problem(
                what=f"Station {other.number} lies in front of station {one.number}: out of order",
                cure="Check both distances, and that neither section was written under the other's number.",
                where=Where(station=other.number, field="distance"),
                weight=Weight.WARNING,
            )


def _repeats(readings: BackReadings, by_number: dict[int, Section], rules: QualityRules) -> Iterator[Problem]:
    for station in readings.stations:
        if station.repeat == 0:
            continue
        original = by_number.get(station.number)
        if original is None:
            yield Problem(
                what=f"Station {station.number} was measured again, but never a first time",
                cure="Correct the station's number, or its repeat to 0.",
                where=Where(station=station.number, field="repeat"),
            )
        elif abs(original.distance_mm - station.distance_mm) > rules.same_place_mm:
            yield Problem(
                what=f"{station.words.capitalize()} is at {station.distance_mm:g} mm, "
                f"the first time it was at {original.distance_mm:g} mm",
                cure="Correct the distance: a repeat is taken at the same mark.",
                where=Where(station=station.number, field="distance"),
            )


def _side_missing_everywhere(first: list[Section]) -> Iterator[Problem]:
    for side, near in (("left", "near"), ("right", "off")):
        if all(_blank(station, side) for station in first):
            yield Problem(
                what=f"The {side} ({near}) side was not read at any station",
                cure=f"Measure the {side} side too: half a back is not mirrored into a whole one.",
                where=Where(side=side),
            )


def _blank(station: Section, side: str) -> bool:
    if isinstance(station, StationReadings) and any(width is not None for width in station.widths):
        return False
    values = station.left if side == "left" else station.right
    return all(value is None for value in values)
