"""What an alteration aims at: the fitter's choice of how the load is to lie."""

from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.saddle.model import Zone

ROOM_SHARE = 0.5
"""Share of the even pressure that is aimed at over a hollow that is to be left room (assumption)."""


class Aim(StrEnum):
    """Target profiles."""

    EVEN = "even"
    """The load lies evenly under the tree's footprint, both sides alike."""
    BIGGER_SHOULDER = "fit the bigger shoulder"
    """Arch and wool suit the bigger shoulder; the smaller side's front gets something removable instead."""
    LEAVE_ROOM = "leave room in the hollows"
    """Wasted hollows are not filled out: they bear half of what the rest does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One zone of one side."""

    on_left: bool
    zone: Zone


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """A practice's choice for one plan."""

    aim: Aim = Aim.EVEN
    room_over: tuple[Place, ...] = ()
    """With `LEAVE_ROOM`: the hollows; empty: found where one side of the back lies lower than the other."""
    arch: bool = True
    """Whether the arch may be set where the record allows."""
    shims: bool = True
    pad: bool = False
    """Whether a pad may be added."""
    straps: bool = True
    price_of_mm: float = 1.0
    """How much better the fit must get for each mm moved, over the usual; 0: whatever it costs."""
