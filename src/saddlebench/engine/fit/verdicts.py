"""Fine, borderline, not right, cannot tell; and the levels that part them.

Two kinds of level exist. `Levels`, of a shape, a share or an angle, can answer "not right". `PressureGuide`
cannot: its answer has only two members, so that kPa alone never condemns a saddle.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import inf
from typing import Literal

from saddlebench.engine.fit.measures.names import MeasureKey, PressureKey


class Verdict(StrEnum):
    """What is said of one finding."""

    FINE = "fine"
    BORDERLINE = "borderline"
    NOT_RIGHT = "not right"
    CANNOT_TELL = "cannot tell"


PressureVerdict = Literal[Verdict.FINE, Verdict.BORDERLINE]
BY_SEVERITY = (Verdict.FINE, Verdict.BORDERLINE, Verdict.NOT_RIGHT)

COMMON_PRACTICE = "common practice"
DEFAULT_OWNER = "saddlebench default"
PRACTICES_OWN = "the practice's own"


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Two nested ranges, ends included: inside the first is fine, inside the second borderline.

    Outside both is not right. Numbers are in the unit people see (mm, °, %).
    """

    fine: tuple[float, float]
    borderline: tuple[float, float]

    def __post_init__(self) -> None:
        low, fine_low, fine_high, high = self.borderline[0], *self.fine, self.borderline[1]
        if not low <= fine_low <= fine_high <= high:
            msg = f"levels are not nested: fine {self.fine} within borderline {self.borderline}"
            raise ValueError(msg)

    def judge(self, shown: float) -> Verdict:
        """Judge a number in the unit people see; only fine, borderline and not right can come out."""
        if self.fine[0] <= shown <= self.fine[1]:
            return Verdict.FINE
        if self.borderline[0] <= shown <= self.borderline[1]:
            return Verdict.BORDERLINE
        return Verdict.NOT_RIGHT

    @property
    def bounds(self) -> tuple[float, ...]:
        """Finite levels at which the verdict changes, rising."""
        return tuple(sorted({b for b in (*self.fine, *self.borderline) if abs(b) < inf}))

    def narrowest_band(self, shown: float) -> float:
        """Return the width of the bounded band in which `shown` lies; infinite for an open one."""
        edges = (-inf, *self.bounds, inf)
        return min(
            (high - low for low, high in pairwise(edges) if low <= shown <= high),
            default=inf,
        )


def at_least(fine: float, borderline: float) -> Levels:
    """Return levels for "the more the better"."""
    return Levels(fine=(fine, inf), borderline=(borderline, inf))


def at_most(fine: float, borderline: float) -> Levels:
    """Return levels for "the less the better"."""
    return Levels(fine=(-inf, fine), borderline=(-inf, borderline))


def either_way(fine: float, borderline: float) -> Levels:
    """Return levels for "near zero"."""
    return Levels(fine=(-fine, fine), borderline=(-borderline, borderline))


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One measure and the levels it is held against."""

    measure: MeasureKey
    levels: Levels
    source: str = COMMON_PRACTICE
    owner: str = DEFAULT_OWNER
    """Whose limit it is: the default's, or a practice's own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureGuide:
    """A pressure and the level above which it is worth a second look."""

    measure: PressureKey
    usual_below_kpa: float
    source: str
    owner: str = DEFAULT_OWNER

    def judge(self, shown: float) -> PressureVerdict:
        """Judge a pressure; "not right" is not among the answers."""
        return Verdict.FINE if shown <= self.usual_below_kpa else Verdict.BORDERLINE
