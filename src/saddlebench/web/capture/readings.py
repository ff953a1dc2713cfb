"""Entries become the engine's readings and record, and readings of a table become entries."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from saddlebench.engine.back.comb import left_pins, middle_pin, right_pins
from saddlebench.engine.back.instruments import Instrument, PinComb, TapeAndHand, TracedCurve
from saddlebench.engine.back.landmarks import NOT_MARKED, Landmarks, Mark
from saddlebench.engine.back.readings import (
    NO_TOPLINE,
    BackReadings,
    Reading,
    Section,
    SectionPoints,
    StationReadings,
    Topline,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import COAT_NOT_MEASURED, BackRecord, Coat
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import NotMeasured
from saddlebench.exchange.backsheets.sheet import DEFAULT_SD_MM
from saddlebench.practice.catalogue import Value
from saddlebench.web.capture.asked import has_topline_chain
from saddlebench.web.capture.parts import SIDES
from saddlebench.web.capture.planned import PlannedSection, Values, planned_sections

_MOST = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What a record is called, and its day."""

    label: str
    measured_on: date


def number_of(values: Values, name: str) -> float | None:
    """Return a reading; None where there is none."""
    held = values.get(name)
    return float(held) if isinstance(held, int | float) and not isinstance(held, bool) else None


def section_of_values(instrument: Instrument, planned: PlannedSection, values: Values) -> Section | None:
    """Return one section as far as it was read; None where nothing was."""
    key, tilt = planned.key, number_of(values, f"{planned.key}/tilt") or 0.0
    if isinstance(instrument, TracedCurve):
        near, off = (_points(values, f"{key}/{side}") for side in SIDES)
        if not near and not off:
            return None
        return SectionPoints(
            number=planned.number,
            distance_mm=planned.distance_mm,
            left=near,
            right=off,
            tilt_deg=tilt,
            repeat=planned.repeat,
        )
    left, middle, right = _read_across(instrument, key, values)
    widths = _widths(instrument, key, values)
    if all(one is None for one in (*left, middle, *right, *widths)):
        return None
    return StationReadings(
        number=planned.number,
        distance_mm=planned.distance_mm,
        left=left,
        right=right,
        middle=middle,
        widths=widths,
        tilt_deg=tilt,
        repeat=planned.repeat,
    )


def _widths(instrument: Instrument, key: str, values: Values) -> tuple[Reading, ...]:
    if not isinstance(instrument, TapeAndHand):
        return ()
    n = len(instrument.width_depths_mm)
    return _trimmed([number_of(values, f"{key}/width/{k}") for k in range(1, n + 1)])


def _read_across(
    instrument: Instrument, key: str, values: Values
) -> tuple[tuple[Reading, ...], Reading, tuple[Reading, ...]]:
    if isinstance(instrument, PinComb):
        left, right = (
            _trimmed([number_of(values, f"{key}/pin/{pin}") for pin in pins])
            for pins in (left_pins(instrument), right_pins(instrument))
        )
        middle = middle_pin(instrument)
        return left, None if middle is None else number_of(values, f"{key}/pin/{middle}"), right
    near, off = (
        _trimmed([number_of(values, f"{before}/{j}") for j in range(1, _last(values, before) + 1)])
        for before in (f"{key}/{side}" for side in SIDES)
    )
    return near, None, off


def _last(values: Values, before: str) -> int:
    parts = [name.removeprefix(f"{before}/") for name in values if name.startswith(f"{before}/")]
    return min(max((int(part) for part in parts if part.isdigit() and len(part) < 5), default=0), _MOST)


def _trimmed(readings: list[Reading]) -> tuple[Reading, ...]:
    """Return the readings without the blanks after the last one."""
    last = max((i for i, one in enumerate(readings, start=1) if one is not None), default=0)
    return tuple(readings[:last])


def _points(values: Values, before: str) -> tuple[tuple[float, float], ...]:
    named = [name.removeprefix(f"{before}/") for name in values if name.startswith(f"{before}/")]
    held = [int(part) for one in named if (part := one.split("/")[0]).isdigit() and len(part) < 4]
    last = max(held, default=0)
    pairs = [
        (number_of(values, f"{before}/{i}/out"), number_of(values, f"{before}/{i}/down"))
        for i in range(1, min(last, _MOST) + 1)
    ]
    return tuple((out, 0.0 - down) for out, down in pairs if out is not None and down is not None)


def sections_of(instrument: Instrument, values: Values) -> tuple[Section, ...]:
    """Return every section that was read at all, in the order of reading."""
    found = [section_of_values(instrument, one, values) for one in planned_sections(values)]
    return tuple(one for one in found if one is not None)


def topline_of(instrument: Instrument, values: Values) -> Topline:
    """Return the topline as far as it was read."""
    if values.get("top/how") == "chain" and has_topline_chain(instrument):
        start, level = number_of(values, "top/start"), number_of(values, "top/level")
        n = _last(values, "top/joint")
        joints = _trimmed([number_of(values, f"top/joint/{j}") for j in range(1, n + 1)])
        if start is None or level is None or not joints:
            return NO_TOPLINE
        return ToplineJoints(start_mm=start, level_deg=level, joints=joints)
    rows = sorted(
        {name.split("/")[1] for name in values if name.startswith("top/") and name.endswith("/height")}
    )
    pairs = [
        (number_of(values, f"top/{row}/distance"), number_of(values, f"top/{row}/height")) for row in rows
    ]
    known = sorted((s, z) for s, z in pairs if s is not None and z is not None)
    if not known:
        return NO_TOPLINE
    return ToplineHeights(distance_mm=tuple(s for s, _ in known), height_mm=tuple(z for _, z in known))


def landmarks_of(values: Values) -> Landmarks:
    """Return the marks that were set, each with its usual error."""
    return Landmarks(**{name: _mark(values, name, sd) for name, sd in DEFAULT_SD_MM.items()})


def _mark(values: Values, name: str, sd_mm: float) -> Mark | NotMeasured:
    place = number_of(values, f"mark/{name}")
    return NOT_MARKED if place is None else Mark(place, sd_mm)


def record_of_values(named: Named, instrument: Instrument, values: Values) -> BackRecord:
    """Return the back record that the readings make so far."""
    coat, state = number_of(values, "coat/mm"), values.get("coat/state")
    return BackRecord(
        label=named.label,
        measured_on=named.measured_on,
        instrument=instrument,
        readings=BackReadings(
            stations=sections_of(instrument, values), topline=topline_of(instrument, values)
        ),
        stance=Stance(
            pitch_deg=number_of(values, "stance/pitch") or 0.0,
            roll_deg=number_of(values, "stance/roll") or 0.0,
        ),
        landmarks=landmarks_of(values),
        coat_mm=COAT_NOT_MEASURED if coat is None else coat,
        coat=Coat(state) if state in {one.value for one in Coat} else Coat.NOT_NOTED,
        notes="\n".join(_notes(values)),
    )


def from_card_words(values: Values) -> str:
    """Return what is said of readings that were written on a yard card; blank where they were not."""
    if values.get("source/card") is not True:
        return ""
    hour, typed_on = values.get("source/begun_at"), values.get("source/typed_on")
    begun = f", begun at {hour}" if hour else ""
    typed = f", on {typed_on}" if typed_on else ""
    return f"Written on a yard card at the horse{begun}; typed in later{typed}."


def _notes(values: Values) -> Iterator[str]:
    if from_card := from_card_words(values):
        yield from_card
    written = values.get("notes")
    if isinstance(written, str) and written.strip():
        yield written.strip()
    for one in planned_sections(values):
        again = f", time {one.repeat + 1}" if one.repeat else ""
        if values.get(f"{one.key}/square") is False:
            yield f"Section {one.number}{again}: the horse did not stand square."
        moved = number_of(values, f"{one.key}/moved")
        if moved:
            times = "once" if moved == 1 else f"{moved:.0f} times"
            yield f"Section {one.number}{again}: the horse moved {times}; readings are from after that."


def values_of_readings(instrument: Instrument, readings: BackReadings) -> dict[str, Value]:
    """Return the entries that stand for readings that came in a table."""
    values: dict[str, Value] = {}
    for section in readings.stations:
        key = f"s{section.number}r{section.repeat}"
        values[f"{key}/distance" if section.repeat == 0 else f"{key}/planned"] = (
            section.distance_mm if section.repeat == 0 else True
        )
        if section.tilt_deg:
            values[f"{key}/tilt"] = section.tilt_deg
        values |= dict(_cells(instrument, key, section))
        values[f"{key}/done"] = True
    match readings.topline:
        case ToplineHeights():
            values["top/how"] = "heights"
            pairs = zip(readings.topline.distance_mm, readings.topline.height_mm, strict=True)
            for row, (distance, height) in enumerate(pairs, start=1):
                values |= {f"top/{row}/distance": distance, f"top/{row}/height": height}
        case ToplineJoints():
            values |= {
                "top/how": "chain",
                "top/start": readings.topline.start_mm,
                "top/level": readings.topline.level_deg,
            }
            values |= {f"top/joint/{j}": one for j, one in enumerate(readings.topline.joints, start=1)}
        case _:
            pass
    return {name: value for name, value in values.items() if value is not None}


def _cells(instrument: Instrument, key: str, section: Section) -> Iterator[tuple[str, Value]]:
    if isinstance(section, SectionPoints):
        for side, points in zip(SIDES, (section.left, section.right), strict=True):
            for i, (out, up) in enumerate(points, start=1):
                yield f"{key}/{side}/{i}/out", out
                yield f"{key}/{side}/{i}/down", 0.0 - up
    elif isinstance(instrument, PinComb):
        for pins, depths in ((left_pins(instrument), section.left), (right_pins(instrument), section.right)):
            for pin, depth in zip(pins, depths, strict=False):
                yield f"{key}/pin/{pin}", depth
        middle = middle_pin(instrument)
        if middle is not None:
            yield f"{key}/pin/{middle}", section.middle
    else:
        rows = {"width": section.widths, **dict(zip(SIDES, (section.left, section.right), strict=True))}
        for side, readings in rows.items():
            for j, reading in enumerate(readings, start=1):
                yield f"{key}/{side}/{j}", reading
