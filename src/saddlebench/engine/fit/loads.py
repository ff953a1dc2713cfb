"""Load cases: what the saddle carries, in which order, and where each number comes from."""

from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.frames import FloatArray

GRAVITY_M_S2 = 9.80665
"""Standard gravity, CGPM 1901."""


class State(StrEnum):
    """The states in which a saddle is looked at; each is reached from the one it names.

    `GIRTHED` follows `PLACED`; `RIDER_UP` and `BACK_LIFTED` follow `GIRTHED`; `MOVING` follows the rider up
    at halt.
    """

    PLACED = "placed"
    GIRTHED = "girthed"
    RIDER_UP = "rider up"
    BACK_LIFTED = "back lifted"
    MOVING = "moving"


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """A hand, a weight or a test load on the saddle, straight down."""

    at_saddle: FloatArray
    """(3,) float, saddle frame [mm]."""
    force_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCase:
    """One rider load, as a multiple of the rider's weight and its split between seat and stirrup bars."""

    name: str
    state: State
    force_multiple: float
    """Vertical force over the rider's weight."""
    is_peak: bool
    """A peak of the stride is compared with peaks, a mean (the rider's weight) with means."""
    stirrup_share: float
    """η: share of the load on the stirrup bars, both together."""
    back_lift_mm: float = 0.0
    """How far the lowest point of the back is lifted."""
    pushes: tuple[Push, ...] = ()
    """Further loads, for hand tests and for checks."""
    source: str


USUAL_LOAD_HEIGHT_MM = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Who sits on it, and how."""

    mass_kg: float
    off_centre_mm: float = 0.0
    """Sideways offset of the seat's load, positive to the left."""
    left_stirrup_share: float = 0.5
    load_height_mm: float = USUAL_LOAD_HEIGHT_MM
    """Height above the panels (their mean height) at which the seat's load acts.

    0–60 mm for a rider who balances (assumption): a rider's own body moves against a roll, so the load acts
    lower than the seat.
    """


_SHARES = "stirrup shares 0.2 sitting, 0.5 rising, 0.9 light seat: assumptions"
_FRUEHWIRTH = (
    "Fruehwirth et al. (2004) Equine Vet J 36:754–757, maximum force over rider's weight (values from memory)"
)
_DE_COCQ = "de Cocq et al. (2010) J Biomech 43:627–631, peak over rider's body weight"

PLACED = LoadCase(
    name="placed",
    state=State.PLACED,
    force_multiple=0.0,
    is_peak=False,
    stirrup_share=0.0,
    source="the saddle's own weight",
)
GIRTHED = LoadCase(
    name="girthed",
    state=State.GIRTHED,
    force_multiple=0.0,
    is_peak=False,
    stirrup_share=0.0,
    source="the saddle's own weight and the girth",
)
HALT = LoadCase(
    name="halt",
    state=State.RIDER_UP,
    force_multiple=1.0,
    is_peak=False,
    stirrup_share=0.2,
    source=f"the rider's weight; {_SHARES}",
)
RISING = LoadCase(
    name="rising, stride mean",
    state=State.RIDER_UP,
    force_multiple=1.0,
    is_peak=False,
    stirrup_share=0.5,
    source=f"the stride's mean is the rider's weight, de Cocq et al. (2010); {_SHARES}",
)
LIGHT_SEAT = LoadCase(
    name="light seat, stride mean",
    state=State.RIDER_UP,
    force_multiple=1.0,
    is_peak=False,
    stirrup_share=0.9,
    source=f"the stride's mean is the rider's weight; {_SHARES}",
)
WALK_PEAK = LoadCase(
    name="walk, peak",
    state=State.MOVING,
    force_multiple=1.23,
    is_peak=True,
    stirrup_share=0.2,
    source=f"{_FRUEHWIRTH}; {_SHARES}",
)
TROT_PEAK = LoadCase(
    name="trot, peak",
    state=State.MOVING,
    force_multiple=2.48,
    is_peak=True,
    stirrup_share=0.2,
    source=f"{_FRUEHWIRTH}; {_SHARES}",
)
CANTER_PEAK = LoadCase(
    name="canter, peak",
    state=State.MOVING,
    force_multiple=2.77,
    is_peak=True,
    stirrup_share=0.2,
    source=f"{_FRUEHWIRTH}; {_SHARES}",
)
SITTING_TROT_PEAK = LoadCase(
    name="sitting trot, peak",
    state=State.MOVING,
    force_multiple=2.92,
    is_peak=True,
    stirrup_share=0.2,
    source=f"{_DE_COCQ}, 2.92 ± 0.29 (13 riders); {_SHARES}",
)
RISING_TROT_PEAK = LoadCase(
    name="rising trot, peak while sitting",
    state=State.MOVING,
    force_multiple=2.54,
    is_peak=True,
    stirrup_share=0.2,
    source=f"{_DE_COCQ}, 2.54 ± 0.30 (13 riders); {_SHARES}",
)
RISING_TROT_STANDING_PEAK = LoadCase(
    name="rising trot, peak while standing",
    state=State.MOVING,
    force_multiple=1.95,
    is_peak=True,
    stirrup_share=0.5,
    source=f"{_DE_COCQ}, 1.95 ± 0.34 (13 riders); {_SHARES}",
)


def back_lifted(lift_mm: float = 25.0) -> LoadCase:
    """Return the case of the back lifted by hand, without a rider; the default lift is an assumption."""
    return LoadCase(
        name="back lifted",
        state=State.BACK_LIFTED,
        force_multiple=0.0,
        is_peak=False,
        stirrup_share=0.0,
        back_lift_mm=lift_mm,
        source=f"lift of {lift_mm:g} mm at the lowest point, as stated",
    )


MOVING_CASES = (WALK_PEAK, TROT_PEAK, CANTER_PEAK, SITTING_TROT_PEAK, RISING_TROT_PEAK)
MORE_CASES = (
    RISING,
    LIGHT_SEAT,
    WALK_PEAK,
    CANTER_PEAK,
    SITTING_TROT_PEAK,
    RISING_TROT_PEAK,
    RISING_TROT_STANDING_PEAK,
)
"""Cases that a fit check can be asked to show besides those that it is judged on."""
DEFAULT_CASES = (HALT, TROT_PEAK, back_lifted())
"""“Placed” and “girthed” come before any of them by themselves."""
