"""What is asked of one section, by the instrument that reads it."""

import re

from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.exchange.places import place_words
from saddlebench.web.capture.parts import SIDES, Asked, Part, unit_of
from saddlebench.web.capture.planned import PlannedSection, Values

POINTS_PLANNED = 10


_POINT = re.compile(r"(\d{1,3})/(?:out|down)")


_MOST_POINTS = 60


def section_part(instrument: Instrument, section: PlannedSection, values: Values) -> Part:
    """Return what is asked of a section."""
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
            unit=unit_of(arm.scale, "°"),
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
            unit=unit_of(comb.scale, "mm"),
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
            unit=unit_of(tape.width, "mm"),
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
            unit=unit_of(tape.angle, "°"),
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
