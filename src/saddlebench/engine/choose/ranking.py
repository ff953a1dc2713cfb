"""The order of saddles by what is known of them, and what may be said of that order."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from saddlebench.engine.alter import Alteration
from saddlebench.engine.choose.assess import Assessed
from saddlebench.engine.choose.cost import CostRules
from saddlebench.engine.choose.fill import AfterFill
from saddlebench.engine.choose.finalists import Finalist, speaks_against, speaks_for, verdicts_hold
from saddlebench.engine.choose.listed import Depth, Entry, HowSure
from saddlebench.engine.choose.variants import Sorted, Variant
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.frames import FloatArray

NOT_TRIED = Undetermined("not asked for, or not reached: no confidence was computed")


class Listing(Protocol):
    """What the making of a list needs to be told."""

    @property
    def length(self) -> int:
        """How many entries."""

    @property
    def rules(self) -> CostRules:
        """What weighs how much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of shapes, by their number: in full, and from the quick pass."""

    full: Mapping[int, Assessed]
    quick: Mapping[int, Assessed]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One saddle in the way in which it costs least; all others of exactly that shape and cost with it."""

    variant: Variant
    alike: tuple[str, ...] = ()
    """Keys of the others."""
    assessed: Assessed
    cost: float
    depth: Depth
    fill: Alteration | None = None
    """What is done to the fill to reach this cost."""

    @property
    def price(self) -> float:
        """What its alterations count."""
        return self.cost - self.assessed.total


def ranked(variants: Sequence[Variant], known: Known, rules: CostRules) -> list[Place]:
    """Return every saddle of which something is known, in its cheapest way, the best first.

    Saddles that share their shape and their cost share a place. Of one saddle, what is known in full and what
    is known from the quick pass compete by cost alone.
    """
    best: dict[str, Place] = {}
    for variant in variants:
        place = _place(variant, known, rules)
        if place is None:
            continue
        other = best.get(variant.candidate.key)
        if other is None or _order(place) < _order(other):
            best[variant.candidate.key] = place
    places: dict[tuple[int, bool], list[Place]] = defaultdict(list)
    for place in sorted(best.values(), key=_order):
        places[place.variant.shape, place.variant.arch_by_mm != 0.0].append(place)
    return [
        replace(alike[0], alike=tuple(one.variant.candidate.key for one in alike[1:]))
        for alike in places.values()
    ]


def in_order(places: Sequence[Place]) -> list[Place]:
    """Return places in the order of a list."""
    return sorted(places, key=_order)


def _order(place: Place) -> tuple[float, float, str]:
    return place.cost, abs(place.variant.arch_by_mm), place.variant.candidate.key


def _place(variant: Variant, known: Known, rules: CostRules) -> Place | None:
    price = rules.arch_set if variant.arch_by_mm else 0.0
    full, quick = known.full.get(variant.shape), known.quick.get(variant.shape)
    if full is not None:
        return Place(variant=variant, assessed=full, cost=full.total + price, depth=Depth.FULL)
    if quick is not None:
        return Place(variant=variant, assessed=quick, cost=quick.total + price, depth=Depth.QUICK)
    return None


def with_fill(places: Sequence[Place], changed: Mapping[int, AfterFill], rules: CostRules) -> list[Place]:
    """Return the places anew in order, each with its fill changed where that costs less.

    Parameters
    ----------
    places : in order
    changed : shapes with their fill changed, by number
    rules : what changing the fill counts
    """
    anew = []
    for place in places:
        other = changed.get(place.variant.shape)
        if other is not None:
            cost = other.assessed.total + place.price + rules.flock_changed
            if cost < place.cost:
                place = replace(place, assessed=other.assessed, cost=cost, fill=other.alteration)  # noqa: PLW2901
        anew.append(place)
    return in_order(anew)


def entries_of(
    places: Sequence[Place], found: Sorted, known: Known, settings: Listing, finalists: Mapping[str, Finalist]
) -> tuple[Entry, ...]:
    """Return the list's entries.

    Parameters
    ----------
    places : in order, more of them than the list is long
    found : the stock's shapes
    known : what is known of them
    settings : how long the list is, what weighs how much
    finalists : by the key of their place's saddle
    """
    rules, length = settings.rules, settings.length
    listed = places[:length]
    tries = Tries.of(places, finalists)
    standing = {v.candidate.key: known.full.get(v.shape) for v in found.variants if not v.arch_by_mm}
    entries = []
    for place in listed:
        key = place.variant.candidate.key
        finalist = finalists.get(key)
        study = finalist.study if finalist is not None else None
        findings = study.findings if study is not None else ()
        stands = standing.get(key)
        entries.append(
            Entry(
                rank=1 + sum(other.cost < place.cost for other in listed),
                key=key,
                label=place.variant.candidate.label,
                depth=place.depth,
                cost=place.cost,
                cost_as_it_stands=Undetermined("not looked at in full") if stands is None else stands.total,
                arch_by_mm=place.variant.arch_by_mm,
                fill=place.fill,
                counted=place.assessed.counted,
                study=study,
                speaks_for=speaks_for(findings, rules),
                speaks_against=speaks_against(findings, _worst_counted(place.assessed)),
                how_sure=_how_sure(tries, key, length, finalist),
                level_with=tries.level_with(key, [other.variant.candidate.key for other in listed]),
                alike=place.alike,
            )
        )
    return tuple(entries)


def _worst_counted(assessed: Assessed) -> dict[FindingName, float]:
    worst: dict[FindingName, float] = {}
    for name, counted in assessed.counted:
        worst[name] = max(counted, worst.get(name, 0.0))
    return worst


def _how_sure(tries: "Tries", key: str, length: int, finalist: Finalist | None) -> HowSure | Undetermined:
    if finalist is None or finalist.study is None or key not in tries.costs or not tries.count:
        return NOT_TRIED
    return HowSure(
        tried=tries.count,
        stays=tries.stays(key, length),
        verdicts_hold=verdicts_hold(finalist.study.findings),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tries:
    """Costs of saddles over all tries, try for try comparable."""

    costs: Mapping[str, FloatArray]
    """(d,) float [1] by key."""

    @classmethod
    def of(cls, places: Sequence[Place], finalists: Mapping[str, Finalist]) -> "Tries":
        """Gather the tries of places that were looked at closely, with what their alterations count."""
        costs = {}
        for place in places:
            finalist = finalists.get(place.variant.candidate.key)
            if finalist is not None and finalist.tried.size:
                costs[place.variant.candidate.key] = finalist.tried + place.price
        return cls(costs=costs)

    @property
    def count(self) -> int:
        """How many tries."""
        return next((one.size for one in self.costs.values()), 0)

    def stays(self, key: str, length: int) -> float:
        """Return the share of tries in which fewer than `length` saddles cost less."""
        mine = self.costs[key]
        cheaper = np.sum([one < mine for one in self.costs.values()], axis=0)
        return float(np.mean(cheaper < length))

    def level_with(self, key: str, others: Sequence[str]) -> tuple[str, ...]:
        """Return those of which neither costs less in four of five tries."""
        if key not in self.costs:
            return ()
        mine = self.costs[key]
        return tuple(
            other
            for other in others
            if other != key
            and other in self.costs
            and max(np.mean(mine < self.costs[other]), np.mean(mine > self.costs[other])) < AGREEING
        )
