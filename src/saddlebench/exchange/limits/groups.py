"""Which limits a practice can set: those of the default table, near and off together, by families."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, isfinite

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.fit.criteria import Criterion, FindingName, LimitPlace
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Part
from saddlebench.engine.fit.verdicts import Levels, Limit
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.units import Unit
from saddlebench.exchange import phrases
from saddlebench.exchange.vocabulary import said

ENDS = ("fine_from", "fine_to", "borderline_from", "borderline_to")
"""The ends of a limit's two ranges, by the names they have in files and forms."""
_FURTHEST = {"%": (0.0, 100.0), "°": (-90.0, 90.0)}
_FURTHEST_MM = (-500.0, 500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitGroup:
    """One limit of the default table, for the families that it is the same for."""

    finding: FindingName
    key: MeasureKey
    """Of the near side, where both sides have it."""
    families: tuple[Family, ...]
    levels: Levels
    source: str

    @property
    def slug(self) -> str:
        """Its name in addresses."""
        words = (self.finding.name, self.key.name.name, self.key.part or "whole", *self.families)
        return "-".join(str(word).lower().replace("-", "").replace(" ", "") for word in words)

    @property
    def unit(self) -> Unit:
        """The unit its numbers are in."""
        return self.key.unit

    @property
    def places(self) -> tuple[LimitPlace, ...]:
        """The places of the criteria table that it covers."""
        return tuple(
            LimitPlace(finding=self.finding, measure=self.key.name, part=self.key.part, family=family)
            for family in self.families
        )

    @property
    def title(self) -> str:
        """The finding as pages call it."""
        return phrases.name_of(self.finding)

    @property
    def measured(self) -> str:
        """What is measured, where and in which state, in words."""
        part = f", {self.key.part} third" if self.key.part is not Part.WHOLE else ""
        state = f", {self.key.state}" if self.key.state is not None else ""
        return said(f"{self.key.name}{part}{state}")

    @property
    def ends(self) -> dict[str, float]:
        """The default's ends that are closed; what is open is not among them."""
        return closed_ends(self.levels)

    @property
    def furthest(self) -> tuple[float, float]:
        """Between what any end lies."""
        return _FURTHEST.get(self.unit.symbol, _FURTHEST_MM)


def closed_ends(levels: Levels) -> dict[str, float]:
    """Return the ends of levels that are closed, by name."""
    given = dict(zip(ENDS, (*levels.fine, *levels.borderline), strict=True))
    return {name: value for name, value in given.items() if isfinite(value)}


@cache
def limit_groups() -> tuple[LimitGroup, ...]:
    """Return every limit that a practice can set, in the order of the findings."""
    groups: dict[tuple[str, MeasureName, Part, frozenset[Family]], LimitGroup] = {}
    for row in DEFAULT_CRITERIA.rows:
        for limit in row.limits:
            key = (row.finding, limit.measure.name, limit.measure.part, row.families)
            groups.setdefault(key, _group(row, limit))
    order = list(FindingName)
    return tuple(sorted(groups.values(), key=lambda one: order.index(one.finding)))


def _group(row: Criterion, limit: Limit) -> LimitGroup:
    return LimitGroup(
        finding=row.finding,
        key=limit.measure,
        families=tuple(family for family in Family if family in row.families),
        levels=limit.levels,
        source=limit.source,
    )


def group_of(place: LimitPlace) -> LimitGroup | None:
    """Return the limit that a place belongs to; None where the table has none."""
    return next((one for one in limit_groups() if place in one.places), None)


def levels_of(group: LimitGroup, ends: Mapping[str, float | None], where: Where) -> Levels:
    """Return the levels that a practice states for a limit.

    Parameters
    ----------
    group : the limit
    ends : the stated ends by the names of `ENDS`; None or left out: open
    where : the file and the limit's place in it; the end is added as the field

    Raises
    ------
    InputProblemsError
        If an end is missing, is open in the table, is out of bounds, or the ranges are not nested.
    """
    problems = []
    for name in ENDS:
        value, is_closed = ends.get(name), name in group.ends
        fault = _fault(group, value, is_closed=is_closed)
        if fault:
            field = f"{where.field}.{name}" if where.field else name
            problems.append(Problem(what=fault[0], cure=fault[1], where=Where(file=where.file, field=field)))
    if problems:
        raise InputProblemsError(problems)
    low, high, outer_low, outer_high = (ends.get(name) for name in ENDS)
    try:
        return Levels(
            fine=(-inf if low is None else low, inf if high is None else high),
            borderline=(-inf if outer_low is None else outer_low, inf if outer_high is None else outer_high),
        )
    except ValueError:
        what = "“fine” does not lie within “borderline”"
        cure = "Let the borderline range begin no later and end no earlier than the fine one."
        raise InputProblemsError([Problem(what=what, cure=cure, where=where)]) from None


def _fault(group: LimitGroup, value: float | None, *, is_closed: bool) -> tuple[str, str] | None:
    if value is None:
        if not is_closed:
            return None
        return "this end of the limit is missing", "Write a number, or go back to the default."
    if not is_closed:
        return "this limit is open at this end", "Leave it out: the finding looks the other way."
    low, high = group.furthest
    if not low <= value <= high:
        unit = group.unit.symbol
        return f"{value:g} {unit} is outside {low:g} to {high:g} {unit}", "Check the number."
    return None
