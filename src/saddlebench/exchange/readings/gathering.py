"""Readings gathered from rows, by station and side, before they become the engine's."""

from dataclasses import dataclass, field

from saddlebench.engine.back.comb import left_pins, right_pins
from saddlebench.engine.back.instruments import Instrument, PinComb
from saddlebench.engine.back.readings import (
    NO_TOPLINE,
    BackReadings,
    Section,
    SectionPoints,
    StationReadings,
    Topline,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.exchange.readings.table import Findings


@dataclass(slots=True)
class GatheredStation:
    """One station's cells so far."""

    number: int
    repeat: int
    row: int
    distance_mm: float | None = None
    has_bad_distance: bool = False
    """A distance was written and could not be read: that is one problem, not two."""
    tilt_deg: float | None = None
    cells: dict[tuple[str, int], float] = field(default_factory=dict)
    """By side (left, right, middle, pin, width) and number."""
    points: dict[str, list[tuple[float, float]]] = field(default_factory=dict)


@dataclass(slots=True)
class Gathered:
    """Everything so far."""

    findings: Findings
    stations: dict[tuple[int, int], GatheredStation] = field(default_factory=dict)
    heights: dict[float, float] = field(default_factory=dict)
    topline_start_mm: float | None = None
    topline_level_deg: float | None = None
    topline_joints: dict[int, float] = field(default_factory=dict)

    def station(self, number: int, repeat: int, row: int) -> GatheredStation:
        """Return a station, made when it is first named."""
        return self.stations.setdefault((number, repeat), GatheredStation(number, repeat, row))

    def place(self, station: GatheredStation, distance_mm: float | None, row: int) -> None:
        """Note a station's distance; a second one must agree."""
        if distance_mm is None:
            return
        if station.distance_mm is not None and abs(station.distance_mm - distance_mm) > 1e-6:
            self.findings.add(
                f"Station {station.number} has two distances, {station.distance_mm:g} and {distance_mm:g} mm",
                "Correct one of them, or the station's number.",
                row=row,
                station=station.number,
            )
        station.distance_mm = distance_mm

    def cell(self, station: GatheredStation, side: str, part: int, reading: float, row: int) -> None:
        """Note a reading; there is only one of each."""
        if (side, part) in station.cells:
            self.findings.add(
                f"Reading {part} of this side stands in the table twice",
                "Remove one, or mark the second measuring with 1 in a column “repeat”.",
                row=row,
                station=station.number,
                side=side,
            )
        station.cells[side, part] = reading

    def height(self, distance_mm: float, height_mm: float, row: int) -> None:
        """Note a height of the topline; a second one at the same place must agree."""
        known = self.heights.get(distance_mm)
        if known is not None and abs(known - height_mm) > 1e-6:
            self.findings.add(
                f"The topline has two heights at {distance_mm:g} mm, {known:g} and {height_mm:g} mm",
                "Correct one of them.",
                row=row,
                field="height",
            )
        self.heights[distance_mm] = height_mm


def as_readings(gathered: Gathered, instrument: Instrument) -> BackReadings:
    """Return the engine's readings; what has no place is noted as a problem."""
    stations: list[Section] = []
    for station in gathered.stations.values():
        first = gathered.stations.get((station.number, 0))
        if station.distance_mm is None and first is not None:
            station.distance_mm = first.distance_mm
        if station.distance_mm is None and (station.has_bad_distance or (first and first.has_bad_distance)):
            continue
        if station.distance_mm is None:
            gathered.findings.add(
                f"Station {station.number} has no distance behind the shoulder mark",
                "Write it in the column “distance”.",
                row=station.row,
                station=station.number,
            )
        elif station.points and station.cells:
            gathered.findings.add(
                f"Station {station.number} has points of a tracing and readings of joints or pins",
                "Keep the columns of one instrument.",
                row=station.row,
                station=station.number,
            )
        else:
            stations.append(_section(station, station.distance_mm, instrument))
    return BackReadings(stations=tuple(stations), topline=_topline(gathered))


def _section(station: GatheredStation, distance_mm: float, instrument: Instrument) -> Section:
    if station.points:
        return SectionPoints(
            number=station.number,
            distance_mm=distance_mm,
            left=_outward(station.points.get("left", [])),
            right=_outward(station.points.get("right", [])),
            tilt_deg=station.tilt_deg or 0.0,
            repeat=station.repeat,
        )
    cells = _by_side(station.cells, instrument) if isinstance(instrument, PinComb) else station.cells
    return StationReadings(
        number=station.number,
        distance_mm=distance_mm,
        left=_row_of(cells, "left"),
        right=_row_of(cells, "right"),
        middle=cells.get(("middle", 1)),
        widths=_row_of(cells, "width"),
        tilt_deg=station.tilt_deg or 0.0,
        repeat=station.repeat,
    )


def _outward(points: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    inward = len(points) > 1 and points[0][0] > points[-1][0]
    return tuple(reversed(points)) if inward else tuple(points)


def _row_of(cells: dict[tuple[str, int], float], side: str) -> tuple[float | None, ...]:
    last = max((part for own, part in cells if own == side), default=0)
    return tuple(cells.get((side, part)) for part in range(1, last + 1))


def _by_side(cells: dict[tuple[str, int], float], comb: PinComb) -> dict[tuple[str, int], float]:
    """Put pins counted from the left end where they are: left outward, middle, right outward."""
    left, right = left_pins(comb), right_pins(comb)
    placed: dict[tuple[str, int], float] = {}
    for (side, part), reading in cells.items():
        if side != "pin":
            placed[side, part] = reading
        elif part in left:
            placed["left", left.index(part) + 1] = reading
        elif part in right or part > comb.n_pins:
            placed["right", part - (comb.n_pins - len(right))] = reading
        else:
            placed["middle", 1] = reading
    return placed


def _topline(gathered: Gathered) -> Topline:
    joints = gathered.topline_joints
    if gathered.topline_level_deg is not None and gathered.topline_start_mm is not None:
        last = max(joints, default=0)
        return ToplineJoints(
            start_mm=gathered.topline_start_mm,
            level_deg=gathered.topline_level_deg,
            joints=tuple(joints.get(part) for part in range(1, last + 1)),
        )
    if joints or gathered.topline_level_deg is not None:
        gathered.findings.add(
            "The topline's chain has joints but no level, or no place where it starts",
            "Write the first link's level and the distance where it starts.",
            field="topline",
        )
    if not gathered.heights:
        return NO_TOPLINE
    places = sorted(gathered.heights)
    return ToplineHeights(
        distance_mm=tuple(places), height_mm=tuple(gathered.heights[place] for place in places)
    )
