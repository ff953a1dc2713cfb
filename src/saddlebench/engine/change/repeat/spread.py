"""Standard deviations with their degrees of freedom, their intervals, and how they combine.

References
----------
JCGM 100:2008: G.4.1 (effective degrees of freedom, Welch and Satterthwaite), G.4.2 and E.4.3 (how well a
standard deviation is known). Graybill FA & Wang CM (1980) Confidence intervals on nonnegative linear
combinations of variances. J Am Stat Assoc 75:869–873.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from saddlebench.engine.errors import Undetermined

COVERAGE = 0.95
NOTHING_REPEATED = Undetermined("nothing was measured twice under the same conditions")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A standard deviation, how many degrees of freedom it rests on, and its 95 % interval."""

    sd: float
    """In the unit of what was measured."""
    degrees: float
    """Degrees of freedom; not whole where variances were combined."""
    low: float
    high: float

    @property
    def variance(self) -> float:
        """The square of the standard deviation."""
        return self.sd**2

    @property
    def limit(self) -> float:
        """The difference of two results that 95 % stay within: 1.96·√2 standard deviations.

        ISO 5725-6:1994, 4.1.4 (rounded there to 2.8).
        """
        return float(stats.norm.ppf(0.5 + COVERAGE / 2.0) * np.sqrt(2.0)) * self.sd


def spread_of(variance: float, degrees: float, coverage: float = COVERAGE) -> Spread:
    """Return a standard deviation with its interval, from the distribution of χ².

    Parameters
    ----------
    variance : float, square of the unit of what was measured
    degrees : float, above 0
    coverage : float, of the interval

    Raises
    ------
    ValueError
        Without any degree of freedom.
    """
    if not degrees > 0.0:
        msg = f"a standard deviation needs degrees of freedom, not {degrees}"
        raise ValueError(msg)
    low, high = chi_square_factors(degrees, coverage)
    sd = float(np.sqrt(max(variance, 0.0)))
    return Spread(sd=sd, degrees=float(degrees), low=sd * low, high=sd * high)


def chi_square_factors(degrees: float, coverage: float = COVERAGE) -> tuple[float, float]:
    """Return by what a standard deviation is multiplied for the ends of its interval."""
    tail = (1.0 - coverage) / 2.0
    least, most = stats.chi2.ppf([tail, 1.0 - tail], degrees)
    return float(np.sqrt(degrees / most)), float(np.sqrt(degrees / least))


def effective_degrees(parts: Sequence[float], degrees: Sequence[float]) -> float:
    """Return the degrees of freedom of a sum of variances (JCGM 100:2008, G.2b).

    Parameters
    ----------
    parts : each variance as it enters the sum
    degrees : the degrees of freedom of each
    """
    total = sum(parts)
    lost = sum(part**2 / nu for part, nu in zip(parts, degrees, strict=True) if part != 0.0)
    return float(total**2 / lost) if lost > 0.0 else float(sum(degrees))


def sum_spread(
    variance: float, parts: Sequence[float], degrees: Sequence[float], coverage: float = COVERAGE
) -> Spread:
    """Return the standard deviation of a sum of variances with Graybill and Wang's interval.

    Parameters
    ----------
    variance : the sum as it is stated: not below what a negative component was held at
    parts : each variance as it enters the sum
    degrees : the degrees of freedom of each
    coverage : of the interval
    """
    tail, total = (1.0 - coverage) / 2.0, sum(parts)
    down = up = 0.0
    for part, nu in zip(parts, degrees, strict=True):
        least, most = stats.chi2.ppf([tail, 1.0 - tail], nu) / nu
        down += (part * (1.0 - 1.0 / most)) ** 2
        up += (part * (1.0 / least - 1.0)) ** 2
    return Spread(
        sd=float(np.sqrt(variance)),
        degrees=effective_degrees(parts, degrees),
        low=float(np.sqrt(max(total - np.sqrt(down), 0.0))),
        high=float(np.sqrt(total + np.sqrt(up))),
    )


def relative_doubt(degrees: float) -> float:
    """Return by how much a standard deviation is itself unsure, as a share of it (JCGM 100:2008, E.4.3)."""
    return float(1.0 / np.sqrt(2.0 * degrees))


def degrees_for(doubt: float) -> float:
    """Return the degrees of freedom of a standard deviation unsure by a share (JCGM 100:2008, G.4.2)."""
    return 0.5 / doubt**2


def pooled(spreads: Sequence[Spread]) -> Spread:
    """Return one standard deviation from several of the same thing, weighted by their degrees of freedom.

    Raises
    ------
    ValueError
        Without any spread.
    """
    degrees = sum(one.degrees for one in spreads)
    if not degrees:
        msg = "nothing to pool"
        raise ValueError(msg)
    return spread_of(sum(one.degrees * one.variance for one in spreads) / degrees, degrees)
