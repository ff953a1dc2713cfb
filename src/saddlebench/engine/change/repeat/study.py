"""A repeat study: how well each number of a back is measured twice, by one and by several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.repeat.agreement import Agreement, limits_of_agreement, limits_with_repeats
from saddlebench.engine.change.repeat.consistency import Consistency, consistency_of
from saddlebench.engine.change.repeat.gauge import (
    NO_TOLERANCE,
    GaugeStudy,
    crossed_table,
    gauge_study,
    share_of_tolerance,
)
from saddlebench.engine.change.repeat.icc import Icc, complete_table, intraclass
from saddlebench.engine.change.repeat.precision import ONE_GROUP, precision_of
from saddlebench.engine.change.repeat.sets import Repeat, quantities_in
from saddlebench.engine.change.repeat.spread import NOTHING_REPEATED, Spread, pooled
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

ONE_BACK = Undetermined("only one back was measured: nothing says how backs differ")

SEVERAL_BACKS = Undetermined("who stands out is asked of one back at a time")


@dataclass(frozen=True, slots=True, kw_only=True)
class PairAgreement:
    """Two who measured the same backs: the first's readings less the second's."""

    first: str
    second: str
    limits: Agreement


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityRepeats:
    """One number of the back, measured repeatedly."""

    quantity: Quantity
    n_results: int
    mean: float
    """Over all results; of several backs it says little."""
    repeatability: Spread | Undetermined
    """By the same fitter with the same instrument."""
    reproducibility: Spread | Undetermined
    """By any of the fitters with any of the instruments."""
    correlation: tuple[Icc, ...] | Undetermined
    """All six forms, of the backs that everybody measured."""
    agreement: tuple[PairAgreement, ...]
    gauge: GaugeStudy | Undetermined
    consistency: Consistency | Undetermined
    """Of who measured; given where one back was measured by three at least."""
    by: tuple[str, ...] = ()
    """Who measured, and with what: the groups of `consistency`, in its order."""
    tolerance: float | None = None
    """Whole width of what the number may be, in its unit; None: none was stated."""

    @property
    def of_tolerance(self) -> float | Undetermined:
        """Six standard deviations of reading over the tolerance: of any fitter where several measured [1]."""
        if self.tolerance is None:
            return NO_TOLERANCE
        if isinstance(self.gauge, GaugeStudy):
            return self.gauge.of_tolerance
        known = [one for one in (self.reproducibility, self.repeatability) if isinstance(one, Spread)]
        return share_of_tolerance(known[0].sd, self.tolerance) if known else NOTHING_REPEATED


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatStudy:
    """All numbers of a repeat set."""

    backs: tuple[str, ...]
    fitters: tuple[str, ...]
    instruments: tuple[str, ...]
    n_repeats: int
    quantities: tuple[QuantityRepeats, ...]


def study_repeats(repeats: Sequence[Repeat]) -> RepeatStudy:
    """Return the repeat study of a set.

    Parameters
    ----------
    repeats : of one back or of several, by one fitter or several

    Raises
    ------
    ValueError
        Without any repeat.
    """
    if not repeats:
        msg = "there are no repeats"
        raise ValueError(msg)
    return RepeatStudy(
        backs=tuple(dict.fromkeys(one.back for one in repeats)),
        fitters=tuple(dict.fromkeys(one.fitter for one in repeats)),
        instruments=tuple(dict.fromkeys(one.instrument for one in repeats)),
        n_repeats=len(repeats),
        quantities=tuple(_of_quantity(quantity, repeats) for quantity in quantities_in(repeats)),
    )


def against_tolerances(study: RepeatStudy, tolerance_of: Callable[[Quantity], float | None]) -> RepeatStudy:
    """Return a repeat study held against tolerances.

    Parameters
    ----------
    study : of any tolerances, or none
    tolerance_of : gives the whole width of what a number may be, in its unit; None: none is stated
    """
    return replace(
        study, quantities=tuple(_against(one, tolerance_of(one.quantity)) for one in study.quantities)
    )


def _against(one: QuantityRepeats, tolerance: float | None) -> QuantityRepeats:
    gauge = one.gauge if isinstance(one.gauge, Undetermined) else one.gauge.against(tolerance)
    return replace(one, gauge=gauge, tolerance=tolerance)


def _of_quantity(quantity: Quantity, repeats: Sequence[Repeat]) -> QuantityRepeats:
    cells: dict[tuple[str, str], list[float]] = {}
    for repeat in repeats:
        if quantity in repeat.values:
            cells.setdefault((repeat.back, repeat.by), []).append(repeat.values[quantity])
    backs = tuple(dict.fromkeys(back for back, _ in cells))
    groups = {back: [np.array(row) for (of, _), row in cells.items() if of == back] for back in backs}
    each = [precision_of(group) for group in groups.values()]
    results = [value for row in cells.values() for value in row]
    return QuantityRepeats(
        quantity=quantity,
        n_results=len(results),
        mean=float(np.mean(results)),
        repeatability=_pooled([one.repeatability for one in each], NOTHING_REPEATED),
        reproducibility=_pooled([one.reproducibility for one in each], ONE_GROUP),
        correlation=ONE_BACK if len(backs) < 2 else _correlation(cells),
        agreement=_agreements(cells),
        gauge=ONE_BACK if len(backs) < 2 else gauge_study(crossed_table(cells)),
        consistency=consistency_of(groups[backs[0]]) if len(backs) == 1 else SEVERAL_BACKS,
        by=tuple(dict.fromkeys(by for _, by in cells)),
    )


def _pooled(spreads: Sequence[Spread | Undetermined], otherwise: Undetermined) -> Spread | Undetermined:
    known = [one for one in spreads if isinstance(one, Spread)]
    if len(known) == 1:
        return known[0]
    return pooled(known) if known else otherwise


def _correlation(cells: dict[tuple[str, str], list[float]]) -> tuple[Icc, ...] | Undetermined:
    """Compare raters by their first readings; a single rater is compared with their own repeats."""
    if len({by for _, by in cells}) > 1:
        return intraclass(complete_table({place: row[0] for place, row in cells.items()}))
    times = {(back, str(time)): value for (back, _), row in cells.items() for time, value in enumerate(row)}
    return intraclass(complete_table(times))


def _agreements(cells: dict[tuple[str, str], list[float]]) -> tuple[PairAgreement, ...]:
    held = []
    for first, second in combinations(dict.fromkeys(by for _, by in cells), 2):
        both = [back for back, by in cells if by == first and (back, second) in cells]
        rows: list[tuple[FloatArray, FloatArray]] = [
            (np.array(cells[back, first]), np.array(cells[back, second])) for back in both
        ]
        ours, theirs = [row[0] for row in rows], [row[1] for row in rows]
        if all(len(one) == 1 for one in (*ours, *theirs)):
            limits = limits_of_agreement(np.ravel(ours), np.ravel(theirs))
        else:
            limits = limits_with_repeats(ours, theirs)
        if isinstance(limits, Agreement):
            held.append(PairAgreement(first=first, second=second, limits=limits))
    return tuple(held)
