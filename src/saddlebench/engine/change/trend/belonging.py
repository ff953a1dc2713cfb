"""Which visits do not belong: found one at a time, the oddest first, and left out of what is odd in them."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.oddness import Part, Scores, combined
from saddlebench.engine.change.trend.series import NOT_KNOWN, Correlations, Series
from saddlebench.engine.change.trend.smooth import LeftOut, Smooth, smooth

LEAST_VISITS = 3
MOST_ODD = 0.25
"""Of the visits; beyond it the trend itself is in question, not single visits."""

MANY, LEAST_MANY = 1.0 / 3.0, 4
"""Odd as a whole is a visit of which this share of the numbers is odd, and more than so many of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OddVisit:
    """A visit that does not belong, and what of it."""

    day: dt.date
    chance: float
    """How probable so odd a visit is, were it one of the others: all that was looked at reckoned in [1]."""
    whole: bool
    """Whether it is odd as a whole: many numbers a little, together."""
    places: tuple[str, ...]
    """Places of which the numbers are odd together; none where it is odd as a whole."""
    numbers: tuple[Quantity, ...]
    """That are odd each by itself, elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Belonging:
    """What is left of one number's visits, and the trend through them."""

    odd: Mapping[int, float]
    """Of visits left out, by their place in the series: how probable so odd a number is."""
    smooth: Smooth


@dataclass(slots=True)
class _Held:
    """One number while visits are being left out."""

    series: Series
    odd: dict[int, float]
    smooth: Smooth
    left_out: LeftOut

    @classmethod
    def of(cls, series: Series) -> "_Held":
        found = smooth(series)
        return cls(series, {}, found, found.left_out())

    @property
    def kept(self) -> list[int]:
        return [k for k in range(len(self.series.points)) if k not in self.odd]

    @property
    def is_spent(self) -> bool:
        n, out = len(self.series.points), len(self.odd)
        return out >= int(MOST_ODD * n) or n - out <= LEAST_VISITS

    def leave_out(self, day: dt.date) -> None:
        at = next((j, k) for j, k in enumerate(self.kept) if self.series.points[k].day == day)
        self.odd[at[1]] = float(self.left_out.chance[at[0]])
        self.smooth = smooth(kept_of(self.series, self.odd))
        self.left_out = self.smooth.left_out()


def kept_of(series: Series, odd: Mapping[int, float]) -> Series:
    """Return a number's visits without those left out."""
    points = tuple(point for index, point in enumerate(series.points) if index not in odd)
    return replace(series, points=points)


def find_odd(
    series: Sequence[Series],
    correlations: Mapping[dt.date, Correlations],
    false_alarms: float,
    told: Callable[[int, str], None],
) -> tuple[tuple[Belonging, ...], tuple[OddVisit, ...]]:
    """Return each number's trend through the visits that belong, and the visits that do not.

    Every visit is held against the others with all its numbers (`oddness.py`); the level holds for all visits
    together (Bonferroni's bound). Of the oddest visit that part is left out that is oddest for its weight:
    one number, all of a place, or all; all, too, where a third of it is out by then. Then
    everything is looked at again.

    Parameters
    ----------
    series : each of three visits at least
    correlations : by visit, of what is fresh in its numbers; of those that are not there nothing is known
    false_alarms : how often visits that all belong may show one that does not
    told : of progress, by number; may raise to stop
    """
    held: dict[Quantity, _Held] = {}
    for index, one in enumerate(series):
        told(index, one.quantity.words)
        held[one.quantity] = _Held.of(one)
    days = {point.day for one in series for point in one.points}
    found: dict[dt.date, list[tuple[float, Part]]] = {}
    while True:
        scores = _scores(held)
        judged = {day: _judge(one, correlations.get(day, NOT_KNOWN)) for day, one in scores.items()}
        day = min(judged, key=lambda one: judged[one][0], default=None)
        if day is None or judged[day][0] * len(days) >= false_alarms:
            break
        chance, part = judged[day]
        there = sum(point.day == day for one in series for point in one.points)
        out = sum(len(one.quantities) for _, one in found.get(day, []))
        if out + len(part.quantities) >= max(MANY * there, LEAST_MANY + 1):
            part = replace(part, quantities=scores[day].quantities, where="")
        found.setdefault(day, []).append((chance, part))
        for quantity in part.quantities:
            held[quantity].leave_out(day)
    belonging = tuple(Belonging(odd=one.odd, smooth=one.smooth) for one in held.values())
    return belonging, tuple(_odd_visit(day, found[day], len(days)) for day in sorted(found))


def _scores(held: Mapping[Quantity, _Held]) -> dict[dt.date, Scores]:
    """Return every visit's numbers that may still be left out."""
    rows: dict[dt.date, list[tuple[Quantity, float, float, float]]] = {}
    for quantity, one in held.items():
        if one.is_spent:
            continue
        out = one.left_out
        for j, k in enumerate(one.kept):
            row = (quantity, float(out.chance[j]), float(out.score[j]), float(out.own[j]))
            rows.setdefault(one.series.points[k].day, []).append(row)
    return {
        day: Scores(
            quantities=tuple(quantity for quantity, _, _, _ in those),
            chance=np.array([chance for _, chance, _, _ in those]),
            score=np.array([score for _, _, score, _ in those]),
            own=np.array([own for _, _, _, own in those]),
        )
        for day, those in rows.items()
    }


def _judge(scores: Scores, correlations: Correlations) -> tuple[float, Part]:
    parts = scores.parts(correlations)
    return combined(parts), min(parts, key=lambda part: part.chance / part.weight)


def _odd_visit(day: dt.date, found: Sequence[tuple[float, Part]], visits: int) -> OddVisit:
    parts = [part for _, part in found]
    whole = any(not part.where for part in parts)
    places = () if whole else tuple(part.where for part in parts if len(part.quantities) > 1)
    return OddVisit(
        day=day,
        chance=min(min(chance for chance, _ in found) * visits, 1.0),
        whole=whole,
        places=places,
        numbers=()
        if whole
        else tuple(
            part.quantities[0] for part in parts if len(part.quantities) == 1 and part.where not in places
        ),
    )
