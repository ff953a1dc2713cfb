"""Load cases: what the saddle carries, in which order, and where each number comes from."""

from dataclasses import dataclass
from enum import StrEnum

GRAVITY_M_S2 = 9.80665
"""Standard gravity, CGPM 1901."""


class State(StrEnum):
    """The states in which a saddle is looked at."""

    PLACED = "placed"
    GIRTHED = "girthed"
    RIDER_UP = "rider up"
    BACK_LIFTED = "back lifted"
    MOVING = "moving"


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
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Who sits on it, and how."""

    mass_kg: float
    off_centre_mm: float = 0.0
    """Sideways offset of the seat's load, positive to the left."""
    left_stirrup_share: float = 0.5
    load_height_mm: float = 30.0
    """Height above the seat at which the load acts: 0–60 mm for a rider who balances (assumption)."""
