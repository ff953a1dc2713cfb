"""How far the later record was moved to lie on the earlier one."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One of the six ways in which the later record was moved to lie on the earlier one."""

    name: str
    """In words: “along the back”, “roll”."""
    unit: str
    expected_sd: float
    """How far it might lie off by marks, ground and instrument."""
    value: float
    """How far it was moved."""
    sd: float
    """How far off it may still be."""
    expected: float = 0.0
    """How far the marks alone would move it."""

    @property
    def beyond(self) -> float:
        """How many deviations of what marks, ground and instrument allow it was moved further [1]."""
        return abs(self.value - self.expected) / self.expected_sd if self.expected_sd > 0.0 else 0.0

    @property
    def surprise(self) -> float:
        """By how many of its own deviations the shape contradicts what was expected [1].

        What a best linear estimate adds to what was expected varies by the prior variance less the posterior
        (Robinson, Stat. Sci. 6 (1991) 15–32): beside marks as sure as the shape that is half of it.
        """
        varies = self.expected_sd**2 - self.sd**2
        return abs(self.value - self.expected) / float(np.sqrt(varies)) if varies > 0.0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """How far the later record was moved; ground, instrument and marks are corrected, never the horse."""

    moves: tuple[Move, ...]
    mean_move_mm: float
    """Root mean square over the readings."""
    coat_mm: float
    """Of the coat alone the later record is expected to stand out by this much; taken off [mm]."""
    coat_sd_mm: float

    @property
    def along(self) -> Move:
        """The move along the back, which the marks tie."""
        return next(move for move in self.moves if move.name == "along the back")

    @property
    def turned(self) -> tuple[Move, ...]:
        """The moves that no mark along the back can be blamed for.

        Height is not among them: a mark set further back lies lower or higher by the topline's slope.
        """
        return tuple(move for move in self.moves if move.name not in ("along the back", "height"))
