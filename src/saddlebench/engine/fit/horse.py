"""What a fit check knows of the horse besides its back."""

from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.errors import NotMeasured


class Build(StrEnum):
    """Builds with limits of their own."""

    ORDINARY = "ordinary"
    PONY = "pony"
    COB = "cob"


NO_MASS = NotMeasured("the horse's mass was not given")


@dataclass(frozen=True, slots=True, kw_only=True)
class Horse:
    """One horse: its mass and build."""

    mass_kg: float | NotMeasured = NO_MASS
    build: Build = Build.ORDINARY
    is_flat_withered: bool = False
    """On a flat-withered horse a high front is no sign of a narrow tree; roll is judged instead."""
