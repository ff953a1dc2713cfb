"""Saddles without a rigid tree: recorded in full, judged by the fitter, not by this model."""

from dataclasses import dataclass, field

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.fittings import SeatNumbers, StrapNumbers
from saddlebench.engine.saddle.model import Family


@dataclass(frozen=True, slots=True, kw_only=True)
class Insert:
    """A removable pad or insert that gives a treeless saddle its shape."""

    name: str
    thickness_mm: float
    length_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TreelessNumbers:
    """A treeless saddle or a pad saddle."""

    label: str
    length_mm: float
    width_mm: float
    """Of the bearing part of one side."""
    channel_mm: float = 0.0
    """Width of the gap over the spine; 0 if it has none of its own."""
    inserts: tuple[Insert, ...] = ()
    strap_hang_behind_mm: float = 120.0
    """Where the stirrup leathers hang, behind the front edge."""
    girth_straps: tuple[StrapNumbers, ...] = ()
    seat: SeatNumbers = field(default_factory=SeatNumbers)
    mass_kg: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlexibleTreeNumbers:
    """A saddle whose tree is meant to bend or twist."""

    label: str
    length_mm: float
    width_mm: float
    channel_mm: float
    bends: str
    """In words: where and how the tree gives."""
    seat: SeatNumbers = field(default_factory=SeatNumbers)
    mass_kg: float = 6.0


def why_not(family: Family) -> Undetermined:
    """Return what the model does not cover for a family that is not rigid."""
    if family is Family.TREELESS:
        return Undetermined(
            "a treeless saddle is not rigid: how far it spreads the load of seat and stirrups, how it "
            "takes the shape of the back and what stays free over the spine are not covered by the model"
        )
    return Undetermined(
        "a flexible tree is not rigid: how far it bends and twists under the rider, and so where it bears, "
        "are not covered by the model"
    )
