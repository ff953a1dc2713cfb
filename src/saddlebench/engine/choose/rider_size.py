"""Whether a saddle is the rider's size: seat against thigh, flap against leg.

The figures are those usually handed round in the trade, written from memory; no published source was found.
They are data: whoever measures otherwise puts in their own.
"""

from dataclasses import dataclass

from saddlebench.engine.errors import NotMeasured

MM_PER_INCH = 25.4
NOT_GIVEN = NotMeasured("not given")


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderSize:
    """What decides a rider's size of saddle, sitting on a chair, knees bent square."""

    thigh_mm: float | NotMeasured = NOT_GIVEN
    """From the wall behind the buttocks to the front of the knee."""
    leg_mm: float | NotMeasured = NOT_GIVEN
    """From the hip joint's knob to the floor, standing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatStep:
    """Up to this thigh, this seat."""

    thigh_up_to_mm: float
    seat_in: float


def _step(thigh_in: float, seat_in: float) -> SeatStep:
    return SeatStep(thigh_up_to_mm=thigh_in * MM_PER_INCH, seat_in=seat_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRules:
    """How seat and flap follow the rider."""

    seats: tuple[SeatStep, ...] = (
        _step(16.5, 15.0),
        _step(18.5, 16.0),
        _step(20.0, 16.5),
        _step(21.5, 17.0),
        _step(23.0, 17.5),
        _step(24.5, 18.0),
    )
    """Rising; a longer thigh than the last takes half an inch more."""
    seat_fine_in: float = 0.5
    """So far off the usual size still suits."""
    seat_most_in: float = 1.0
    """Further off is not offered: the hard limit."""
    flap_of_leg: tuple[float, float] = (0.40, 0.50)
    """Flap, stirrup bar to lower edge, over the leg, hip to floor."""
    flap_reach_mm: float = 30.0
    """So far outside is not offered: the hard limit."""
    source: str = "common practice, from memory; change it to your own"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeFit:
    """How far a saddle is off the rider's size."""

    seat_off_in: float | NotMeasured
    """Above 0: larger than usual for this thigh."""
    flap_off_mm: float | NotMeasured
    """Above 0: longer than the usual range; below 0: shorter; 0: within it."""


DEFAULT_SIZES = SizeRules()


def usual_seat_in(thigh_mm: float, rules: SizeRules = DEFAULT_SIZES) -> float:
    """Return the seat usually taken for a thigh [inches]."""
    for step in rules.seats:
        if thigh_mm <= step.thigh_up_to_mm:
            return step.seat_in
    return rules.seats[-1].seat_in + 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """A saddle's own sizes."""

    seat_in: float | NotMeasured
    flap_mm: float | NotMeasured


def size_fit(saddle: Sizes, rider: RiderSize, rules: SizeRules = DEFAULT_SIZES) -> SizeFit:
    """Return how far seat and flap are off what this rider usually takes."""
    return SizeFit(seat_off_in=_seat_off(saddle, rider, rules), flap_off_mm=_flap_off(saddle, rider, rules))


def _seat_off(saddle: Sizes, rider: RiderSize, rules: SizeRules) -> float | NotMeasured:
    if isinstance(saddle.seat_in, NotMeasured):
        return saddle.seat_in
    if isinstance(rider.thigh_mm, NotMeasured):
        return NotMeasured(f"the rider's thigh: {rider.thigh_mm.reason}")
    return saddle.seat_in - usual_seat_in(rider.thigh_mm, rules)


def _flap_off(saddle: Sizes, rider: RiderSize, rules: SizeRules) -> float | NotMeasured:
    if isinstance(saddle.flap_mm, NotMeasured):
        return saddle.flap_mm
    if isinstance(rider.leg_mm, NotMeasured):
        return NotMeasured(f"the rider's leg: {rider.leg_mm.reason}")
    shortest, longest = (part * rider.leg_mm for part in rules.flap_of_leg)
    return min(saddle.flap_mm - shortest, 0.0) + max(saddle.flap_mm - longest, 0.0)
