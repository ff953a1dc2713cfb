"""What is asked while a back is measured, part by part, in the order in which it is read."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.exchange.places import place_words
from saddlebench.practice.catalogue import Value

Values = Mapping[str, Value]
SIDES = ("near", "off")
SIDE_WORDS = {"near": "near (left)", "off": "off (right)", "middle": "middle", "": ""}
POINTS_PLANNED = 10
_SECTION = re.compile(r"s(\d{1,3})r(\d{1,2})")
_PLANNED = re.compile(r"(s\d{1,3}r\d{1,2})/(?:distance|planned)")
_HEIGHT = re.compile(r"top/(\d{1,3})/(?:distance|height)")
_POINT = re.compile(r"(\d{1,3})/(?:out|down)")
_MOST_POINTS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing that is asked."""

    name: str
    """Its entry's field: `s3r0/near/5`."""
    words: str
    kind: str = "number"
    """number, yes_no, choice or text."""
    side: str = ""
    """near, off, middle, or nothing."""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    step: float = 1.0
    """The smallest step that is read, in its unit."""
    on_pad: bool = True
    """Whether the number pad stops here; what is rarely needed stands in the list only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the measuring: the marks, the topline, one section."""

    key: str
    words: str
    detail: str
    asked: tuple[Asked, ...]
    is_section: bool = False
    number: int = 0
    """Of a section: as the fitter counts, from the front."""
    repeat: int = 0

    @property
    def names(self) -> tuple[str, ...]:
        """The fields whose values are this part's."""
        return tuple(one.name for one in self.asked)


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


def parts_of(instrument: Instrument, values: Values) -> tuple[Part, ...]:
    """Return all parts in the order of the work on the horse."""
    sections = planned_sections(values)
    return (
        _marks(),
        _stance(),
        _topline(instrument, values),
        *(_section(instrument, one, values) for one in sections),
        _after(),
    )


def _mark(name: str, words: str, low: float, high: float, hint: str = "") -> Asked:
    return Asked(name=f"mark/{name}", words=words, unit="mm", low=low, high=high, hint=hint)


def _marks() -> Part:
    behind = "Behind the shoulder mark; with a minus in front of it."
    return Part(
        key="marks",
        words="Marks",
        detail="Distances along the back, from the shoulder mark.",
        asked=(
            _mark("withers", "Highest spine of the withers", -400, 300, behind),
            _mark("lowest", "Lowest point of the topline", -100, 900, behind),
            _mark("last_rib", "Last-rib mark", 100, 1000, behind),
            _mark("shoulder_left", "Shoulder edge, near", -150, 150, behind),
            _mark("shoulder_right", "Shoulder edge, off", -150, 150, behind),
        ),
    )


def _tilt(name: str, words: str) -> Asked:
    hint = "Read off a level; 0 on level ground."
    return Asked(name=f"stance/{name}", words=words, unit="°", low=-45, high=45, hint=hint, step=0.5)


def _stance() -> Part:
    return Part(
        key="stance",
        words="Stance and coat",
        detail="Square, head in front, weight on all four.",
        asked=(
            _tilt("pitch", "Ground falls towards the head"),
            _tilt("roll", "Near side stands higher"),
            Asked(name="coat/mm", words="Depth of the coat", unit="mm", low=0, high=100),
            Asked(
                name="coat/state",
                words="Coat",
                kind="choice",
                choices=(("summer", "summer"), ("winter", "winter"), ("clipped", "clipped")),
                on_pad=False,
            ),
            Asked(name="notes", words="Notes", kind="text", on_pad=False),
        ),
    )


def _after() -> Part:
    return Part(
        key="after",
        words="Girth groove and spine strip",
        detail="After the sections.",
        asked=(
            _mark("girth_groove", "Girth groove", -100, 400, "Behind the shoulder mark."),
            _mark("spine_strip_width", "Width of the spine strip, as felt", 5, 200),
        ),
    )


def has_topline_chain(instrument: Instrument) -> bool:
    """Tell whether the instrument has links of its own for the topline."""
    return isinstance(instrument, JointedChain) and instrument.topline is not None


def _topline(instrument: Instrument, values: Values) -> Part:
    if values.get("top/how") == "chain" and isinstance(instrument, JointedChain) and instrument.topline:
        return _topline_chain(instrument.topline.arm.n_links, instrument.topline.arm.scale)
    rows = sorted({int(match[1]) for name in values if (match := _HEIGHT.fullmatch(name))})
    spare = (max(rows, default=0) + 1, max(rows, default=0) + 2)
    asked: list[Asked] = []
    for row in (*rows, *spare):
        place = values.get(f"top/{row}/distance")
        known = isinstance(place, int | float)
        where = place_words(float(place)) if isinstance(place, int | float) else "a further place"
        asked += [
            Asked(
                name=f"top/{row}/distance", words=f"Place {row}", unit="mm", low=-400, high=1200, on_pad=False
            ),
            Asked(
                name=f"top/{row}/height",
                words=f"Height {where}",
                unit="mm",
                low=-2500,
                high=2500,
                hint="Above the floor, or above any line parallel to it.",
                on_pad=known,
            ),
        ]
    return Part(
        key="topline", words="Topline", detail="Height of the midline at each place.", asked=tuple(asked)
    )


def _topline_chain(n_links: int, scale: Scale) -> Part:
    unit = _unit(scale, "°")
    joints = [
        Asked(
            name=f"top/joint/{j}",
            words=f"Joint {j}",
            unit=unit,
            low=scale.lowest,
            high=scale.highest,
            step=scale.step,
        )
        for j in range(1, n_links)
    ]
    return Part(
        key="topline",
        words="Topline",
        detail="The chain laid back along the midline.",
        asked=(
            Asked(
                name="top/start",
                words="The chain starts at",
                unit="mm",
                low=-400,
                high=400,
                hint="Behind the shoulder mark; with a minus in front of it.",
            ),
            Asked(
                name="top/level",
                words="First link below level",
                unit="°",
                step=0.5,
                low=-60,
                high=60,
                hint="Towards the tail; with a minus where it rises.",
            ),
            *joints,
        ),
    )


def _unit(scale: Scale, plain: str) -> str:
    return plain if abs(scale.per_division) == 1.0 else "div"


def _section(instrument: Instrument, section: PlannedSection, values: Values) -> Part:
    again = {0: "", 1: " again"}.get(section.repeat, f", time {section.repeat + 1}")
    match instrument:
        case JointedChain():
            asked = _joints(instrument, section.key)
        case PinComb():
            asked = _pins(instrument, section.key)
        case TracedCurve():
            asked = _points(instrument, section.key, values)
        case TapeAndHand():
            asked = _tape(instrument, section.key)
        case _:
            asked = ()
    more = (
        Asked(
            name=f"{section.key}/tilt",
            words="Near end of the instrument higher by",
            unit="°",
            low=-45,
            high=45,
            on_pad=False,
        ),
        Asked(name=f"{section.key}/square", words="Square?", kind="yes_no", on_pad=False),
    )
    return Part(
        key=section.key,
        words=f"Section {section.number}{again}",
        detail=place_words(section.distance_mm),
        asked=(*asked, *more),
        is_section=True,
        number=section.number,
        repeat=section.repeat,
    )


def _joints(chain: JointedChain, key: str) -> tuple[Asked, ...]:
    arms = {"near": chain.left, "off": chain.right}
    return tuple(
        Asked(
            name=f"{key}/{side}/{j}",
            words=f"Joint {j}",
            side=side,
            unit=_unit(arm.scale, "°"),
            low=arm.scale.lowest,
            high=arm.scale.highest,
            step=arm.scale.step,
        )
        for side, arm in arms.items()
        for j in range(1, arm.n_links + 1)
    )


def _pins(comb: PinComb, key: str) -> tuple[Asked, ...]:
    return tuple(
        Asked(
            name=f"{key}/pin/{pin}",
            words=f"Pin {pin}",
            side="near" if pin < comb.midline_pin else "off" if pin > comb.midline_pin else "middle",
            unit=_unit(comb.scale, "mm"),
            low=comb.scale.lowest,
            high=comb.scale.highest,
            step=comb.scale.step,
        )
        for pin in range(1, comb.n_pins + 1)
    )


def _tape(tape: TapeAndHand, key: str) -> tuple[Asked, ...]:
    widths = tuple(
        Asked(
            name=f"{key}/width/{k}",
            words=f"Width {depth:g} mm down",
            unit=_unit(tape.width, "mm"),
            low=tape.width.lowest,
            high=tape.width.highest,
            step=tape.width.step,
            hint="Hands flat and upright on both sides, so far below the midline; tape across between them.",
        )
        for k, depth in enumerate(tape.width_depths_mm, start=1)
    )
    angles = tuple(
        Asked(
            name=f"{key}/{side}/1",
            words="Angle of the side",
            side=side,
            unit=_unit(tape.angle, "°"),
            low=tape.angle.lowest,
            high=tape.angle.highest,
            step=tape.angle.step,
            hint=f"{tape.card_mm:g} mm of card or phone flat on the side, upper edge "
            f"{tape.width_depths_mm[0]:g} mm down; degrees below level.",
        )
        for side in SIDES
    )
    return (*widths, *angles)


def _points(curve: TracedCurve, key: str, values: Values) -> tuple[Asked, ...]:
    unit = "mm" if curve.mm_per_unit == 1.0 else "on the sheet"
    reach = 700.0 / curve.mm_per_unit
    asked: list[Asked] = []
    for side in SIDES:
        for i in range(1, n_points(values, key, side) + 1):
            name = f"{key}/{side}/{i}"
            asked += [
                Asked(
                    name=f"{name}/out",
                    words=f"Point {i}: out",
                    side=side,
                    unit=unit,
                    low=0,
                    high=reach,
                    step=curve.step,
                ),
                Asked(
                    name=f"{name}/down",
                    words=f"Point {i}: down",
                    side=side,
                    unit=unit,
                    low=-reach,
                    high=reach,
                    hint="Below the midline's mark; with a minus above it.",
                    step=curve.step,
                ),
            ]
    return tuple(asked)


def n_points(values: Values, key: str, side: str) -> int:
    """Return how many points of a tracing are asked for: as planned, and always two more than there are."""
    before = f"{key}/{side}/"
    held = [
        int(match[1])
        for name in values
        if name.startswith(before) and (match := _POINT.fullmatch(name[len(before) :]))
    ]
    return min(max(POINTS_PLANNED, max(held, default=0) + 2), _MOST_POINTS)
