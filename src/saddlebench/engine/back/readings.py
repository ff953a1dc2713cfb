"""Readings: the raw numbers as read off an instrument, never overwritten by what is derived from them."""

from dataclasses import dataclass

from saddlebench.engine.errors import NotMeasured

Reading = float | None
"""None stands for a cell left blank: the joint or pin was not read."""

NO_TOPLINE = NotMeasured("the topline was not measured")


@dataclass(frozen=True, slots=True, kw_only=True)
class StationReadings:
    """What a chain, a comb or a tape showed at one station, in the instrument's own unit."""

    number: int
    """As the fitter counts, from 1."""
    distance_mm: float
    """Behind the shoulder mark, along the level [mm]; negative in front of it."""
    left: tuple[Reading, ...] = ()
    """Outward from the midline: joints of the left arm, or pins left of the midline."""
    right: tuple[Reading, ...] = ()
    """Outward from the midline: joints of the right arm, or pins right of the midline."""
    middle: Reading = None
    """The pin over the midline, where a comb has one."""
    widths: tuple[Reading, ...] = ()
    """Across the back at the instrument's depths, where a tape is all there is; left and right then hold how
    steep the sides fall, one reading each."""
    tilt_deg: float = 0.0
    """How the instrument leaned against the ground: positive when its left end is the higher [°]."""
    repeat: int = 0
    """0 the first time; 1, 2, … when the station was measured again."""

    @property
    def words(self) -> str:
        """The station as a fitter says it."""
        return station_words(self.number, self.repeat)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPoints:
    """Points of one section, as traced on a sheet or cut from a scan.

    Each point is (out, up), from the midline outward: the distance from the midline on its own side, and the
    height. A tracing's heights count from the midline's mark on the sheet, in the sheet's unit; a scan's from
    the shoulder mark, in mm.
    """

    number: int
    """As the fitter counts, from 1."""
    distance_mm: float
    """Behind the shoulder mark, along the level [mm]; negative in front of it."""
    left: tuple[tuple[float, float], ...] = ()
    right: tuple[tuple[float, float], ...] = ()
    tilt_deg: float = 0.0
    """Against the ground; positive when the sheet's left end was the higher [°]."""
    repeat: int = 0
    """0 the first time; 1, 2, … when the station was measured again."""

    @property
    def words(self) -> str:
        """The station as a fitter says it."""
        return station_words(self.number, self.repeat)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineHeights:
    """Heights of the dorsal midline behind the shoulder mark, above any line parallel to the floor."""

    distance_mm: tuple[float, ...]
    height_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineJoints:
    """What a chain laid back along the topline showed."""

    start_mm: float
    """Where it starts, behind the shoulder mark; negative in front of it [mm]."""
    level_deg: float
    """First link below level towards the tail, as read off the level [°]."""
    joints: tuple[Reading, ...]
    """Joint between links 1 and 2 first, in the instrument's own unit; positive bends down."""


Section = StationReadings | SectionPoints
Topline = ToplineHeights | ToplineJoints | NotMeasured


@dataclass(frozen=True, slots=True, kw_only=True)
class BackReadings:
    """Everything that was read at one horse, in the order in which it was read."""

    stations: tuple[Section, ...]
    topline: Topline = NO_TOPLINE


def station_words(number: int, repeat: int) -> str:
    """Return “station 3”, “station 3 again”, “station 3, repeat 2”."""
    again = {0: "", 1: " again"}.get(repeat, f", repeat {repeat}")
    return f"station {number}{again}"


def known_run(readings: tuple[Reading, ...]) -> list[float]:
    """Return the readings up to the first that is missing."""
    run: list[float] = []
    for reading in readings:
        if reading is None:
            break
        run.append(reading)
    return run
