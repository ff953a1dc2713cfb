"""One number of a back over the visits, with what each visit errs by and what visits err by together."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.back.record import Coat
from saddlebench.engine.frames import FloatArray

DAYS_A_YEAR = 365.25
DIGITS = 2
"""Of a correlation; draws tell no more."""
COAT_SD_MM: dict[Coat, float] = {Coat.SUMMER: 0.0, Coat.CLIPPED: 0.0, Coat.WINTER: 3.0, Coat.NOT_NOTED: 1.5}
"""How far a coat may move the skin that an instrument finds, all visits in it alike.

Assumption: a winter coat is 5–15 mm deep by common practice, much of it pressed flat.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlations:
    """How what is fresh in the numbers of one visit goes together."""

    quantities: tuple[Quantity, ...] = ()
    rows: tuple[tuple[float, ...], ...] = ()
    """Of each number with those before it [1]."""

    @classmethod
    def of(cls, draws: Mapping[Quantity, FloatArray]) -> Self:
        """Return what draws (d,) float, any frame [unit], of each number show; of numbers that vary."""
        varying = {quantity: drawn for quantity, drawn in draws.items() if np.ptp(drawn) > 0.0}
        if len(varying) < 2:
            return cls(quantities=tuple(varying), rows=((),) * len(varying))
        matrix = np.corrcoef(np.array(list(varying.values()))).round(DIGITS)
        return cls(
            quantities=tuple(varying),
            rows=tuple(tuple(matrix[k, :k].tolist()) for k in range(len(varying))),
        )

    def of_those(self, wanted: Sequence[Quantity]) -> Self:
        """Return the same for those of some numbers that it knows, in their order."""
        known = [quantity for quantity in wanted if quantity in self.quantities]
        matrix = self.among(known)
        return type(self)(
            quantities=tuple(known), rows=tuple(tuple(matrix[k, :k].tolist()) for k in range(len(known)))
        )

    def among(self, wanted: Sequence[Quantity]) -> FloatArray:
        """Return the correlations (k, k) float of numbers, any frame [1]: 1 where nothing is known."""
        full = np.ones((len(self.quantities) + 1,) * 2)
        for k, row in enumerate(self.rows):
            full[k, :k] = full[:k, k] = row
        place = {quantity: k for k, quantity in enumerate(self.quantities)}
        at = [place.get(quantity, -1) for quantity in wanted]
        return full[np.ix_(at, at)]


NOT_KNOWN = Correlations()


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A back on one day, in numbers."""

    day: dt.date
    label: str
    device: str
    """What visits share their standing errors by: the instrument and the places where it was laid."""
    coat: Coat
    estimates: Mapping[Quantity, Estimate]
    fresh_share: Mapping[Quantity, float]
    """Of each number's standard uncertainty squared: the part that is fresh at every visit [1]."""
    correlations: Correlations = NOT_KNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesPoint:
    """One number on one day."""

    day: dt.date
    value: float
    fresh_sd: float
    """Of what no other visit shares."""
    shared: Mapping[str, float]
    """Standard deviation by what is shared: the instrument's standing errors, the coat."""

    @property
    def sd(self) -> float:
        """Standard uncertainty of the value, all told."""
        return float(np.sqrt(self.fresh_sd**2 + sum(sd**2 for sd in self.shared.values())))


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One number over the visits, in the order of the days."""

    quantity: Quantity
    points: tuple[SeriesPoint, ...]

    @property
    def years(self) -> FloatArray:
        """(n,) float, years since the first visit, any frame [a]."""
        first = self.points[0].day
        return np.array([(point.day - first).days for point in self.points]) / DAYS_A_YEAR

    @property
    def values(self) -> FloatArray:
        """(n,) float, any frame, in the quantity's unit."""
        return np.array([point.value for point in self.points])

    @property
    def fresh_sd(self) -> FloatArray:
        """(n,) float, any frame, in the quantity's unit."""
        return np.array([point.fresh_sd for point in self.points])

    def shared_covariance(self) -> FloatArray:
        """Return the covariance (n, n) of what visits err by together, any frame [unit²]."""
        names = sorted({name for point in self.points for name in point.shared})
        loadings = np.array([[point.shared.get(name, 0.0) for name in names] for point in self.points])
        loadings = loadings.reshape(len(self.points), len(names))
        return np.asarray(loadings @ loadings.T)


def series_of(visits: Sequence[Visit]) -> tuple[Series, ...]:
    """Return every number over the visits, each from the visits on which it was measured."""
    ordered = sorted(visits, key=lambda visit: visit.day)
    quantities = dict.fromkeys(quantity for visit in ordered for quantity in visit.estimates)
    return tuple(
        Series(
            quantity=quantity,
            points=tuple(_point(visit, quantity) for visit in ordered if quantity in visit.estimates),
        )
        for quantity in quantities
    )


def _point(visit: Visit, quantity: Quantity) -> SeriesPoint:
    estimate = visit.estimates[quantity]
    fresh = min(max(visit.fresh_share.get(quantity, 1.0), 0.0), 1.0)
    shared = {f"instrument: {visit.device}": estimate.sd * float(np.sqrt(1.0 - fresh))}
    # Both sides of a width carry the coat; a difference of sides or an angle does not.
    coat = 2.0 * COAT_SD_MM[visit.coat] if "width" in quantity.what and quantity.unit == "mm" else 0.0
    if coat > 0.0:
        shared[f"coat: {visit.coat}"] = coat
    return SeriesPoint(
        day=visit.day,
        value=estimate.value,
        fresh_sd=max(estimate.sd * float(np.sqrt(fresh)), 1e-3),
        shared=shared,
    )
