"""What is done to a saddle: fill by zone, shims, front arch, pad, girth straps."""

from dataclasses import dataclass, field
from enum import StrEnum

from saddlebench.engine.saddle.materials import FELT_PAD, FOAM_PAD, GEL_PAD, PadStuff
from saddlebench.engine.saddle.model import PadLayer, Zone
from saddlebench.engine.saddle.zones import Filling

USUAL_KPA = 10.0
"""Pressure at which a removable shim's pressed thickness is taken: a usual mean, rider up at halt."""
FLATTEST = 0.4
"""A removable shim is never counted thinner than this part of itself."""


class ShimPlace(StrEnum):
    """Where a shim lies."""

    UNDER_TREE = "between tree and panel"
    IN_PAD = "in the pad, removable"


SHIM_STUFF: dict[str, PadStuff] = {"felt": FELT_PAD, "gel": GEL_PAD, "foam": FOAM_PAD}
"""What shims are made of, by the name an order uses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shim:
    """One bevelled shim on one side, over one zone's whole width."""

    on_left: bool
    zone: Zone
    thickness_mm: float
    stuff: str = "felt"
    """One of `SHIM_STUFF`."""
    place: ShimPlace = ShimPlace.UNDER_TREE

    @property
    def pressed_mm(self) -> float:
        """Thickness under `USUAL_KPA`; a shim under the tree spreads its load and counts in full."""
        if self.place is ShimPlace.UNDER_TREE:
            return self.thickness_mm
        kept = 1.0 - USUAL_KPA / SHIM_STUFF[self.stuff].modulus_kpa
        return self.thickness_mm * max(FLATTEST, kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alteration:
    """Everything done to one saddle; lengths are those on the bench, before new flock beds down."""

    fill_left: Filling = field(default_factory=Filling)
    fill_right: Filling = field(default_factory=Filling)
    shims: tuple[Shim, ...] = ()
    arch_mm: float = 0.0
    """Front arch wider (+) or narrower (−) between the point ends."""
    pad: PadLayer | None = None
    """A pad put beneath the pads that are there."""
    straps: tuple[str, ...] | None = None
    """Girth straps to use, by name; None: those in use."""

    @property
    def is_nothing(self) -> bool:
        """Whether the saddle stays as it is."""
        return self == Alteration()

    @property
    def moved_mm(self) -> float:
        """Sum of what is added and taken over all zones and halves, shims and arch [mm]."""
        halves = (
            *self.fill_left.inner_mm,
            *self.fill_left.outer_mm,
            *self.fill_right.inner_mm,
            *self.fill_right.outer_mm,
        )
        return (
            0.5 * sum(abs(one) for one in halves)
            + sum(shim.thickness_mm for shim in self.shims)
            + abs(self.arch_mm)
        )
