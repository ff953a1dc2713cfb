"""What is set on an instrument, part by part, as it is read at the bench; and what came of it so far."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.engine.back.readings import (
    NO_TOPLINE,
    BackReadings,
    Reading,
    Section,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.units import Length, parse_number
from saddlebench.exchange.readers import reader

if TYPE_CHECKING:
    from saddlebench.engine.back.surface import EstimatedBack
    from saddlebench.engine.replica.set_check import StationSet
    from saddlebench.engine.replica.settings import InstrumentSettings

AsSet = Mapping[str, float | bool]
TOPLINE = "topline"
SIDE_WORDS = {"near": "Near (left)", "off": "Off (right)", "": "Middle"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One thing to set."""

    name: str
    """Among the readings as set: `s3/near/4`; of a point `s3/near/4/out`, with its height beside it."""
    side: str
    part: str
    reading: float
    up_name: str = ""
    up: float | None = None
    """Of a traced point: how high; its reading is how far out."""
    is_length: bool = False
    """Whether the reading is a length of the back's own [mm], and no reading of the instrument's."""

    @property
    def names(self) -> tuple[str, ...]:
        """Every name that this setting is kept under."""
        return (self.name, self.up_name) if self.up_name else (self.name,)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPart:
    """A part of the work: the topline, or one station."""

    key: str
    words: str
    where: str
    settings: tuple[Setting, ...]
    can_be_typed: bool
    """Whether a reading other than the one asked for can be judged; of the topline only ticks are kept."""


def parts_of(settings: "InstrumentSettings") -> tuple[BenchPart, ...]:
    """Return the parts in the order in which one sets them: the topline, then station by station."""
    from saddlebench.report.replica.words import place_words  # noqa: PLC0415

    topline = BenchPart(
        key=TOPLINE,
        words="Topline",
        where=_topline_where(settings),
        settings=tuple(_topline(settings)),
        can_be_typed=False,
    )
    stations = [
        BenchPart(
            key=f"s{one.number}",
            words=f"Station {one.number}",
            where=place_words(one.readings.distance_mm),
            settings=tuple(_station(settings, one.readings)),
            can_be_typed=True,
        )
        for one in settings.stations
    ]
    return (topline, *stations) if topline.settings else tuple(stations)


def _topline_where(settings: "InstrumentSettings") -> str:
    from saddlebench.report.replica.words import place_words  # noqa: PLC0415

    topline = settings.readings.topline
    if isinstance(topline, ToplineJoints):
        return f"starts {place_words(topline.start_mm)}; level: the first link’s fall to the rear, in degrees"
    unit = "inches" if reader().length is Length.INCH else "mm"
    return f"heights of the midline against the shoulder mark, {unit}"


def _topline(settings: "InstrumentSettings") -> Iterator[Setting]:
    from saddlebench.report.replica.words import place_words  # noqa: PLC0415

    topline = settings.readings.topline
    if isinstance(topline, ToplineJoints):
        yield Setting(name="top/0", side="", part="level", reading=topline.level_deg)
        for k, reading in enumerate(topline.joints, start=1):
            if reading is not None:
                yield Setting(name=f"top/{k}", side="", part=f"joint {k}", reading=reading)
    elif isinstance(topline, ToplineHeights):
        pairs = zip(topline.distance_mm, topline.height_mm, strict=True)
        for k, (distance, height) in enumerate(pairs):
            yield Setting(
                name=f"top/{k}", side="", part=place_words(distance), reading=height, is_length=True
            )


def _station(settings: "InstrumentSettings", station: Section) -> Iterator[Setting]:
    from saddlebench.engine.replica.setting_steps import part_names  # noqa: PLC0415

    before = f"s{station.number}"
    if isinstance(station, SectionPoints):
        for side, points in (("near", station.left), ("off", station.right)):
            for k, (out, up) in enumerate(points):
                at = f"{before}/{side}/{k}"
                yield Setting(
                    name=f"{at}/out", up_name=f"{at}/up", side=side, part=f"point {k + 1}", reading=out, up=up
                )
        return
    names = part_names(settings.instrument)
    if station.middle is not None:
        yield Setting(name=f"{before}/middle/0", side="", part=names.middle, reading=station.middle)
    for side, parts, held in (("near", names.left, station.left), ("off", names.right, station.right)):
        for k, (part, reading) in enumerate(zip(parts, held, strict=False)):
            if reading is not None:
                yield Setting(name=f"{before}/{side}/{k}", side=side, part=part, reading=reading)


def as_entered(settings: "InstrumentSettings", as_set: AsSet) -> BackReadings:
    """Return what the instrument shows as far as it was set: ticked as asked, or as typed."""
    stations: list[Section] = []
    for one in settings.stations:
        station = one.readings
        held = _points(station, as_set) if isinstance(station, SectionPoints) else _read(station, as_set)
        if held is not None:
            stations.append(held)
    return BackReadings(stations=tuple(stations), topline=NO_TOPLINE)


def _read(station: StationReadings, as_set: AsSet) -> StationReadings | None:
    before = f"s{station.number}"
    left, right = (
        tuple(_shown(as_set, f"{before}/{side}/{k}", wanted) for k, wanted in enumerate(held))
        for side, held in (("near", station.left), ("off", station.right))
    )
    middle = _shown(as_set, f"{before}/middle/0", station.middle)
    if all(one is None for one in (*left, middle, *right)):
        return None
    return StationReadings(
        number=station.number, distance_mm=station.distance_mm, left=left, right=right, middle=middle
    )


def _points(station: SectionPoints, as_set: AsSet) -> SectionPoints | None:
    sides = []
    for side, points in (("near", station.left), ("off", station.right)):
        found = []
        for k, (out, up) in enumerate(points):
            at = f"s{station.number}/{side}/{k}"
            pair = _shown(as_set, f"{at}/out", out), _shown(as_set, f"{at}/up", up)
            if pair[0] is not None and pair[1] is not None:
                found.append((pair[0], pair[1]))
        sides.append(tuple(found))
    left, right = sides
    if not left and not right:
        return None
    return SectionPoints(number=station.number, distance_mm=station.distance_mm, left=left, right=right)


def _shown(as_set: AsSet, name: str, wanted: Reading) -> Reading:
    held = as_set.get(name)
    if held is None or wanted is None:
        return None
    return wanted if held is True else float(held)


def found_so_far(
    estimated: "EstimatedBack", settings: "InstrumentSettings", as_set: AsSet
) -> "dict[str, StationSet]":
    """Return what is said of each station that was set at all, by the key of its part."""
    from saddlebench.engine.replica.set_check import check_set  # noqa: PLC0415

    found = check_set(estimated, settings, as_entered(settings, as_set))
    return {f"s{one.number}": one for one in found}


def read_posted(
    part: BenchPart, posted: Mapping[str, str]
) -> tuple[dict[str, float | bool | None], list[Problem]]:
    """Return the readings of a part as a form has them, and what is no number."""
    values: dict[str, float | bool | None] = {}
    problems: list[Problem] = []
    for one in part.settings:
        ticked = f"tick.{one.name}" in posted
        for name in one.names:
            typed = posted.get(f"as.{name}", "").strip()
            if not typed:
                values[name] = True if ticked else None
                continue
            read = parse_number(typed, Where(field=f"{one.part}{f', {one.side}' if one.side else ''}"))
            if isinstance(read, Problem):
                problems.append(read)
            else:
                values[name] = read
    return values, problems


def state_of(part: BenchPart, as_set: AsSet, found: "Mapping[str, StationSet]") -> str:
    """Return how far a part is: to do, partly, good, not yet."""
    n_set = sum(name in as_set for one in part.settings for name in one.names)
    if not n_set:
        return "to do"
    if n_set < sum(len(one.names) for one in part.settings):
        return "partly"
    said = found.get(part.key)
    return "good" if said is None or said.good else "not yet"
