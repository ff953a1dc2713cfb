"""What a change study says: how records were laid together, where a change is real, what is not known.

A change is later less earlier, in mm along the outward normal of the skin: positive is fuller, negative less.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.record import Coat
from saddlebench.engine.back.regions import Across, Along
from saddlebench.engine.change.registration import Registration
from saddlebench.engine.errors import NotMeasured, Problem
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One record of the study."""

    label: str
    measured_on: dt.date
    instrument: str
    coat: Coat
    n_stations: int
    version: str = ""
    """Digest of the record's file, where there is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A place where the back has changed by more than measuring explains."""

    s_mm: float
    """Middle, behind the shoulder mark of the earlier record."""
    phi: float
    """Middle, angle from the midline, positive left [rad]."""
    from_midline_mm: float
    """Middle, over the skin; positive left."""
    diameter_mm: float
    depth: Estimate
    """Along the normal, against what surrounds it [mm]; the map says how much all of it changed. A patch that
    was picked out for being large is overstated a little."""
    strength: float
    """Depth over its deviation; compare with the scan's threshold."""
    place_sd_mm: float = 0.0
    """How far off the middle may be, each way over the skin: a standard deviation; 0 in a study kept before
    it was worked out."""
    middles_mm: tuple[tuple[float, float], ...] = ()
    """Where the middle may be in 95 of 100 cases: behind the shoulder mark, and over the skin from the
    midline, positive left; the most probable first. Empty in a study kept before it was worked out."""
    sure: float = 0.0
    """How probable its direction is, discs of all places and sizes weighed. Where a wide change may be the
    account, the map's level if it leaves its band there, else 0. 0 in a study kept before this was found."""

    @property
    def is_way_in_doubt(self) -> bool:
        """Whether a wide change may lie behind it, so that which way this place went is not sure."""
        return bool(self.middles_mm) and self.sure == 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """What is known of a change that is told and not named; shares are probabilities [1]."""

    s_mm: float
    """Likeliest middle, behind the shoulder mark."""
    from_midline_mm: float
    """Likeliest middle, over the skin; positive left."""
    half_mm: float
    """Where the front half of what both records measured ends, behind the shoulder mark."""
    fuller: float
    front: float
    left: float
    right: float
    """The rest lies on the midline."""
    middles_mm: tuple[tuple[float, float], ...]
    """Where the middle may be in 95 of 100 cases, as `Patch.middles_mm`."""
    is_wide_likely: bool
    """Whether a change over a wide part of the back may be the account instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscScan:
    """Whether there is a change at all, and where."""

    level: float
    """How often an unchanged back would show any patch."""
    threshold: float
    """That many deviations are reached anywhere by an unchanged back so often."""
    strongest: float
    """The largest depth over its deviation that was found."""
    patches: tuple[Patch, ...]
    """Strongest first; empty where nothing can be told."""
    n_discs: int
    unplaced: Unplaced | None = None
    """What is known of a change that is told and not named. None also in a study kept before it was found."""

    @property
    def is_told(self) -> bool:
        """Whether a change can be told from error, its place and which way it went."""
        return bool(self.patches)

    @property
    def is_unplaced(self) -> bool:
        """Whether the records differ by more than error explains, but where and which way is not told."""
        return not self.patches and self.strongest > self.threshold

    @property
    def is_beyond_error(self) -> bool:
        """Whether the records differ by more than error explains, named or not."""
        return self.is_told or self.is_unplaced


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastWide:
    """The least change over a wide part of the back, gain or loss, that would be told in 95 of 100 cases.

    Wide: half of its depth 150 mm from its middle, on one side or over the midline. What is less may have
    gone unseen: laying the records together, posture and coat take it up.
    """

    best_mm: float
    """Where it would be told best [mm]."""
    middle_mm: float
    """At half of all places, from this depth on [mm]."""
    worst_mm: float
    """At nine places of ten, from this depth on [mm]."""
    even_mm: float
    """All over what both records measured, the same everywhere [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeMap:
    """The change at every node of a grid in the earlier record's frame, with its simultaneous band."""

    grid: PolarGrid
    common: NDArray[np.bool_]
    """(n_s, n_phi) whether both records measured there."""
    change_mm: FloatArray
    """(n_s, n_phi) float, back frame, along the normal [mm]; 0 outside what both measured."""
    sd_mm: FloatArray
    """(n_s, n_phi) float, back frame, deviation if nothing changed [mm]."""
    band: float
    """An unchanged pair leaves ± this many deviations anywhere in one case of twenty."""
    earlier_mm: FloatArray
    """(n_s, n_phi) float, back frame, the earlier surface's radius [mm]."""
    later_mm: FloatArray
    """(n_s, n_phi) float, back frame, that radius with the change [mm]."""
    told_mm: FloatArray
    """(n_s, n_phi) float, back frame, the least change over a disc of 100 mm that would be told in 95 of 100
    cases [mm]; not finite where none would."""

    @property
    def is_real(self) -> NDArray[np.bool_]:
        """(n_s, n_phi) where the change stands outside the band."""
        real: NDArray[np.bool_] = self.common & (np.abs(self.change_mm) > self.band * self.sd_mm)
        return real


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionVolume:
    """Volume gained (or lost) in one region of one side."""

    along: Along | None = None
    """None: all that lies under the saddle, from the shoulder mark to the last rib."""
    across: Across | None = None
    side: str
    """“left”, “right”, or “both”."""
    volume: Estimate | NotMeasured
    """[cm³]."""
    mean_depth: Estimate | NotMeasured
    """Volume over the region's area [mm]."""
    is_told: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberChange:
    """A width, height, angle, area or ratio on both days, read at the same place of the back."""

    name: str
    """In words: “width 150 mm below the midline”."""
    place: str
    """“withers”, “shoulder”, “lowest”, “last rib”, “topline”."""
    side: str
    """“left”, “right”, or “both”."""
    unit: str
    earlier: float | NotMeasured
    later: float | NotMeasured
    change: Estimate | NotMeasured
    is_told: bool

    @property
    def key(self) -> str:
        """What tells this number from all others."""
        return f"{self.place}: {self.name}, {self.side}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SideChange:
    """How much more the left gained than the right, in one region."""

    along: Along
    across: Across
    left_minus_right: Estimate | NotMeasured
    """[mm]."""
    is_told: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two records, compared in full."""

    earlier: int
    """Index into the study's visits."""
    later: int
    registration: Registration
    scan: DiscScan
    map: ChangeMap
    volumes: tuple[RegionVolume, ...]
    numbers: tuple[NumberChange, ...]
    sides: tuple[SideChange, ...]
    cautions: tuple[str, ...]
    least_wide: LeastWide | None = None
    """None in a study kept before it was worked out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotComparable:
    """Two records that say nothing of each other, and why."""

    earlier: int
    later: int
    problems: tuple[Problem, ...]

    @property
    def reason(self) -> str:
        """All of it in a sentence or two."""
        return " ".join(f"{problem.what}. {problem.cure}" for problem in self.problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A visit in between against the first, in short."""

    later: int
    days: int
    scan: DiscScan
    under_saddle: Estimate | NotMeasured
    """Volume gained since the first visit [cm³]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeStudy:
    """Two or more back records of one horse, compared."""

    horse: str
    visits: tuple[Visit, ...]
    """In order of their days."""
    whole: Comparison | NotComparable
    """The first against the last."""
    steps: tuple[Step | NotComparable, ...]
    """Every visit after the first, against it; all of them together keep the level."""
    engine_version: str
    seed: int
    cautions: tuple[str, ...]

    @property
    def told_since(self) -> Visit | None:
        """The first visit from which on the change could be told, if it can be."""
        return told_since(self.visits, self.steps)


def told_since(visits: Sequence[Visit], steps: Sequence[Step | NotComparable]) -> Visit | None:
    """Return the visit after which every comparable one differs from the first, if the last does."""
    found: Visit | None = None
    for step in reversed(steps):
        if isinstance(step, NotComparable):
            continue
        if not step.scan.is_beyond_error:
            break
        found = visits[step.later]
    return found
