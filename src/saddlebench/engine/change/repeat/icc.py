"""Intraclass correlation: how much of the spread between readings is that of the backs themselves.

References
----------
Shrout PE & Fleiss JL (1979) Intraclass correlations: uses in assessing rater reliability. Psychol Bull
86:420–428 (the six forms). McGraw KO & Wong SP (1996) Forming inferences about some intraclass correlation
coefficients. Psychol Methods 1:30–46, table 7 (intervals).
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import stats

from saddlebench.engine.change.repeat.spread import COVERAGE
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray


class Form(StrEnum):
    """Which readings are compared; a single reading, or the mean of all."""

    ONE_WAY = "ICC(1,1)"
    """Every back was measured by other people."""
    AGREEMENT = "ICC(2,1)"
    """The same people measured all backs; any others might: they must agree."""
    CONSISTENCY = "ICC(3,1)"
    """These very people: a constant difference between them does not count."""
    ONE_WAY_MEAN = "ICC(1,k)"
    AGREEMENT_MEAN = "ICC(2,k)"
    CONSISTENCY_MEAN = "ICC(3,k)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Icc:
    """One form's estimate with its 95 % interval."""

    form: Form
    value: float
    low: float
    high: float


TOO_SMALL = Undetermined("two backs and two readings of each are needed at least")
NO_SPREAD = Undetermined("all readings are the same")


def intraclass(table: FloatArray, coverage: float = COVERAGE) -> tuple[Icc, ...] | Undetermined:
    """Return all six forms.

    Parameters
    ----------
    table : (n, k) float, any frame [any unit], a row a back, a column a rater (or a repeat); none missing
    coverage : of the intervals
    """
    n, k = table.shape
    if n < 2 or k < 2:
        return TOO_SMALL
    squares = mean_squares(table)
    if squares.within == 0.0 or squares.error == 0.0:
        return NO_SPREAD
    single = (
        _one_way(squares, coverage),
        _agreement(squares, coverage),
        _consistency(squares, coverage),
    )
    means = tuple(
        Icc(form=form, value=_of_mean(one.value, k), low=_of_mean(one.low, k), high=_of_mean(one.high, k))
        for form, one in zip(
            (Form.ONE_WAY_MEAN, Form.AGREEMENT_MEAN, Form.CONSISTENCY_MEAN), single, strict=True
        )
    )
    return (*single, *means)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanSquares:
    """The two-way analysis of variance of n targets by k raters."""

    n: int
    k: int
    targets: float
    within: float
    raters: float
    error: float


def mean_squares(table: FloatArray) -> MeanSquares:
    """Return the mean squares of a table (n, k) float, any frame [any unit], of n targets by k raters."""
    n, k = table.shape
    grand = table.mean()
    rows, columns = table.mean(axis=1), table.mean(axis=0)
    of_rows = k * float(((rows - grand) ** 2).sum())
    of_columns = n * float(((columns - grand) ** 2).sum())
    within = float(((table - rows[:, None]) ** 2).sum())
    return MeanSquares(
        n=n,
        k=k,
        targets=of_rows / (n - 1),
        within=within / (n * (k - 1)),
        raters=of_columns / (k - 1),
        error=max(within - of_columns, 0.0) / ((n - 1) * (k - 1)),
    )


def _of_mean(single: float, k: int) -> float:
    """Return the reliability of a mean of k (Spearman and Brown)."""
    return k * single / (1.0 + (k - 1) * single)


def _from_ratio(ratio: float, k: int) -> float:
    return float((ratio - 1.0) / (ratio + k - 1.0))


def _by_ratio(form: Form, squares: MeanSquares, error: float, degrees: int, coverage: float) -> Icc:
    k, of_targets = squares.k, squares.n - 1
    ratio, tail = squares.targets / error, (1.0 - coverage) / 2.0
    low = ratio / stats.f.isf(tail, of_targets, degrees)
    high = ratio * stats.f.isf(tail, degrees, of_targets)
    return Icc(form=form, value=_from_ratio(ratio, k), low=_from_ratio(low, k), high=_from_ratio(high, k))


def _one_way(squares: MeanSquares, coverage: float) -> Icc:
    return _by_ratio(Form.ONE_WAY, squares, squares.within, squares.n * (squares.k - 1), coverage)


def _consistency(squares: MeanSquares, coverage: float) -> Icc:
    degrees = (squares.n - 1) * (squares.k - 1)
    return _by_ratio(Form.CONSISTENCY, squares, squares.error, degrees, coverage)


def _agreement(squares: MeanSquares, coverage: float) -> Icc:
    n, k = squares.n, squares.k
    targets, raters, error = squares.targets, squares.raters, squares.error
    value = (targets - error) / (targets + (k - 1) * error + k * (raters - error) / n)
    tail = (1.0 - coverage) / 2.0
    ratio = raters / error
    a, b = k * value * ratio, n * (1.0 + (k - 1) * value) - k * value
    degrees = (k - 1) * (n - 1) * (a + b) ** 2 / ((n - 1) * a**2 + b**2)
    # The reciprocal of the upper quantile: with next to no degrees of freedom that is beyond all numbers.
    below = stats.f.ppf(tail, degrees, n - 1)
    above = stats.f.isf(tail, degrees, n - 1)
    rest = k * raters + (k * n - k - n) * error
    low = n * (below * targets - error) / (rest + n * below * targets)
    high = n * (above * targets - error) / (rest + n * above * targets)
    return Icc(form=Form.AGREEMENT, value=float(value), low=float(low), high=float(high))


def complete_table(cells: dict[tuple[str, str], float]) -> FloatArray:
    """Return the readings as a table of the backs that every rater measured.

    Parameters
    ----------
    cells : a reading by back and rater

    Returns
    -------
    (n, k) float, any frame [any unit]; without rows where no back was measured by all
    """
    backs = sorted({back for back, _ in cells})
    raters = sorted({rater for _, rater in cells})
    rows = [
        [cells[back, rater] for rater in raters]
        for back in backs
        if all((back, rater) in cells for rater in raters)
    ]
    return np.array(rows, dtype=float).reshape(len(rows), len(raters))
