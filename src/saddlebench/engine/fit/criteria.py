"""What a row of the criteria table is, and a practice's table of them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Self

from saddlebench.engine.fit.horse import Build
from saddlebench.engine.fit.measures.names import MeasureName, Part
from saddlebench.engine.fit.verdicts import (
    DEFAULT_OWNER,
    PRACTICES_OWN,
    Levels,
    Limit,
    PressureGuide,
)
from saddlebench.engine.saddle.model import Family


class FindingName(StrEnum):
    """What a fit check answers."""

    WITHERS_TOP = "withers, top, rider up"
    WITHERS_TOP_GIRTHED = "withers, top, girthed without rider"
    WITHERS_DROP = "drop when the rider mounts"
    WITHERS_SIDES = "withers sides, upper 60 mm"
    CHANNEL_WIDTH = "channel width"
    SPINE_STRIP = "channel against the spine strip"
    SPINE_HEIGHT = "height over the spine, rider up"
    FRONT_ANGLE = "point or bar angle against the back"
    FRONT_WIDTH = "width against the back, with pad"
    BEHIND_SHOULDER = "behind the shoulder edge"
    LAST_RIB = "bearing past the last-rib mark"
    BRIDGING = "bridging, rider up"
    BRIDGING_GIRTHED = "bridging, girthed only"
    ROCKING = "rocking"
    LOAD_ALONG = "load along the saddle"
    LOAD_ENDS = "load on the ends"
    LEFT_SHARE = "left share of the load"
    SEAT_TILT = "seat tilt from design"
    SEAT_SHIFT = "lowest seat point off design"
    OFF_LINE = "off line at the cantle"
    STRAPS = "straps against the girth groove"
    EDGE_SHARE = "load on the outer edges"
    FACE_ANGLE = "panel face against the back across"
    SURFACE_USED = "bearing surface used, rider up"
    SADDLE_EQUAL = "saddle itself near against off"
    RIDER_AND_TACK = "rider and tack against the horse's mass"
    PRESSURE_MEAN = "mean pressure by third, at the trot's mean load"
    PRESSURE_PEAK = "greatest pressure by third, at the trot's peak load"


class Combine(StrEnum):
    """How a finding with several limits is answered."""

    WORST = "the worst of them counts"
    BEST = "one of them suffices"


class Note(StrEnum):
    """Which way a measure is off, and what that may mean."""

    SITS_HIGH = "sits high in front: too narrow?"
    SITS_LOW = "sits low in front: too wide?"
    PINCHES_AT_ENDS = "pinches at the point ends"
    BEARS_AT_TOP = "bears at the top of the points"
    TOO_NARROW = "too narrow"
    TOO_WIDE = "too wide"
    TIPS_BACK = "tips back"
    TIPS_FORWARD = "tips forward"
    TO_NEAR = "to the near side"
    TO_OFF = "to the off side"
    INNER_EDGE = "bears on the inner edge"
    OUTER_EDGE = "bears on the outer edge"
    LOADS_FRONT = "loads the front"
    LOADS_MIDDLE = "loads the middle"
    LOADS_REAR = "loads the rear"
    BRIDGES = "bridges: a gap stays open between places that bear"
    ROCKS = "rocks about the middle of its panels"
    TOO_LONG = "bears behind the last rib: too long for this back, or put too far back"
    ON_WITHERS = "would lie on the withers: its pressures no longer hold"
    ON_SPINE = "would lie on the spine: its pressures no longer hold"
    TALK_NOT_VERDICT = (
        "a matter for a talk, not a verdict: studies begin to worry above 20 %, contested to 25 %"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One finding's limits, for some families of saddle."""

    finding: FindingName
    families: frozenset[Family]
    limits: tuple[Limit, ...]
    combine: Combine = Combine.WORST
    needs_settling: bool = True
    below: Note | None = None
    """Said when the measure that decides lies below its fine range."""
    above: Note | None = None
    """Said when it lies above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureCriterion:
    """A finding by pressure alone; its guides cannot answer "not right"."""

    finding: FindingName
    families: frozenset[Family]
    guides: tuple[PressureGuide, ...]
    needs_settling: bool = True


CHANNEL_FLOOR_MM = {Build.PONY: 55.0, Build.COB: 75.0}
"""Channel width that is fine for ponies and for cobs; ten below is still borderline (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitPlace:
    """Which limit of the table: of one measure of a finding, near and off alike, for one family of saddle."""

    finding: FindingName
    measure: MeasureName
    part: Part = Part.WHOLE
    family: Family


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """A practice's table: the default, with its own limits where it has set them."""

    rows: tuple[Criterion, ...]
    pressures: tuple[PressureCriterion, ...]

    def for_pair(self, family: Family, build: Build) -> tuple[Criterion, ...]:
        """Return the rows that apply to a family of saddle on a build of horse."""
        rows = tuple(row for row in self.rows if family in row.families)
        floor = CHANNEL_FLOOR_MM.get(build)
        if floor is None:
            return rows
        return tuple(_with_channel_floor(row, floor) for row in rows)

    def pressures_for(self, family: Family) -> tuple[PressureCriterion, ...]:
        """Return the rows on pressure that apply to a family of saddle."""
        return tuple(row for row in self.pressures if family in row.families)

    def with_own(self, owner: str, levels: Mapping[LimitPlace, Levels]) -> Self:
        """Return this table with a practice's own levels in the named places."""
        rows: list[Criterion] = []
        for row in self.rows:
            families: dict[tuple[Limit, ...], set[Family]] = {}
            for family in sorted(row.families):
                limits = tuple(_own(row.finding, family, limit, owner, levels) for limit in row.limits)
                families.setdefault(limits, set()).add(family)
            rows += [
                replace(row, families=frozenset(held), limits=limits) for limits, held in families.items()
            ]
        return replace(self, rows=tuple(rows))


def place_of(finding: FindingName, limit: Limit, family: Family) -> LimitPlace:
    """Return by what a practice names a limit."""
    key = limit.measure
    return LimitPlace(finding=finding, measure=key.name, part=key.part, family=family)


def _own(
    finding: FindingName, family: Family, limit: Limit, owner: str, levels: Mapping[LimitPlace, Levels]
) -> Limit:
    own = levels.get(place_of(finding, limit, family))
    return limit if own is None else replace(limit, levels=own, owner=owner, source=PRACTICES_OWN)


def _with_channel_floor(row: Criterion, floor_mm: float) -> Criterion:
    def lowered(limit: Limit) -> Limit:
        if limit.measure.name is not MeasureName.CHANNEL_WIDTH or limit.owner != DEFAULT_OWNER:
            return limit
        high = max(limit.levels.fine[1], floor_mm)
        levels = Levels(fine=(floor_mm, high), borderline=(floor_mm - 10.0, limit.levels.borderline[1]))
        return replace(limit, levels=levels)

    return replace(row, limits=tuple(lowered(limit) for limit in row.limits))
