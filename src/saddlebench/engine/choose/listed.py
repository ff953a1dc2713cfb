"""What a shortlist holds."""

from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.alter import Alteration
from saddlebench.engine.choose.cost import CostRules
from saddlebench.engine.choose.limits import HardLimits, RuledOut
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.doubt_sources import WorthRepeating, best_of, likely_settled
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.study import ErrorsUsed, FitStudy


class Depth(StrEnum):
    """How closely an entry was looked at."""

    QUICK = "quick pass only"
    FULL = "in full"


@dataclass(frozen=True, slots=True, kw_only=True)
class NotJudged:
    """One saddle that cannot be judged, and why."""

    key: str
    label: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HowSure:
    """How an entry stands when everything uncertain is tried, if the model holds."""

    tried: int
    stays: float
    """Share of the tries in which it stays in the list [1]."""
    verdicts_hold: float
    """Share of its findings' verdicts, over all tries, that come out as computed [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One saddle of the list."""

    rank: int
    """From 1; saddles that cost exactly the same share a rank."""
    key: str
    """Of the first of the saddles that share this place."""
    label: str
    depth: Depth
    cost: float
    """With what is altered."""
    cost_as_it_stands: float | Undetermined
    """Without altering anything; undetermined where that was not looked at in full."""
    arch_by_mm: float
    """The arch is to be set wider by so much; below 0 narrower; 0: not at all."""
    fill: Alteration | None
    """What is to be done to the fill; None: nothing."""
    counted: tuple[tuple[FindingName, float], ...]
    """What each finding counts, weighted, after what is altered."""
    study: FitStudy | None
    """The fit check after what is altered; None where only the quick pass was made."""
    speaks_for: tuple[Finding, ...]
    """Up to three findings, the most telling first."""
    speaks_against: tuple[Finding, ...]
    """Up to three: what is off first, then what has least room left."""
    how_sure: HowSure | Undetermined
    level_with: tuple[str, ...]
    """Keys of entries of the list of which it cannot be told which is better."""
    alike: tuple[str, ...]
    """Keys of the other saddles of exactly this shape and cost: this place in the list is theirs as well."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDoubt:
    """Whether one saddle of a list stands before another, and where the doubt of that comes from."""

    first: str
    """Key of the one that costs less as computed."""
    first_label: str
    other: str
    other_label: str
    lead: float
    """How far the first leads, in deviations of the tries: below 0 it mostly does not [1]."""
    agreeing: float
    """Share of the tries in which the first costs less: Φ(lead) [1]."""
    sources: tuple[WorthRepeating, ...]
    """The largest first; `low` and `high` are of the lead [1]."""

    @property
    def is_told(self) -> bool:
        """Whether it can be told which stands first: by the same measure as of findings."""
        return max(self.agreeing, 1.0 - self.agreeing) >= AGREEING

    @property
    def best(self) -> WorthRepeating | Undetermined:
        """The repeat that helps most."""
        return best_of(self.sources)

    @property
    def would_settle(self) -> bool:
        """Whether the best repeat tells which stands first more often than not."""
        return not self.is_told and likely_settled(self.sources)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What was done for a list, so that what was left out and what was shared can be told."""

    candidates: int
    ways: int
    """Saddles that passed the hard limits, each in every setting of its arch."""
    shapes: int
    """Different geometries among them; saddles of one model range and size share theirs."""
    first: int
    """Shapes looked at first: girthed, on few points."""
    quick: int
    """Shapes settled in the quick pass."""
    in_full: int
    """Shapes settled at full resolution."""
    margin: float
    """By how much the quick pass may err before a saddle could be lost."""
    largest_error: float
    """By how much it erred at most where both were made: cost of the quick pass over that in full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortlist:
    """Saddles for one horse and rider, the best first."""

    wanted_key: str
    wanted_label: str
    entries: tuple[Entry, ...]
    ruled_out: tuple[RuledOut, ...]
    not_judged: tuple[NotJudged, ...]
    is_complete: bool
    """Whether every saddle was looked at as closely as it needs; otherwise the list is partial."""
    length: int
    """How many were asked for."""
    rules: CostRules
    limits: HardLimits
    work: Work
    order_doubts: tuple[OrderDoubt, ...] = ()
    """Of the first place, against those from which it cannot be told; empty where nothing was tried."""
    own_errors: ErrorsUsed | None = None
    """Own errors that the back went by; None: those that its instrument states."""
