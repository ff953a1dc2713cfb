"""A derived quantity with its uncertainty, from its value on the mean surface and on the draws."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

NORMAL_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""
LEAST_SHARE = 0.9
"""A quantity that fewer draws than this can be read on is not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value, its standard uncertainty and a 95 % interval, in a stated unit."""

    value: float
    sd: float
    low: float
    """Lower end of the 95 % interval."""
    high: float
    """Upper end of the 95 % interval."""
    unit: str


def estimate_from_draws(values: FloatArray, unit: str, otherwise: NotMeasured) -> Estimate | NotMeasured:
    """Return the estimate of a quantity, its interval by JCGM 101:2008, 7.7 (probabilistically symmetric).

    Parameters
    ----------
    values : (1 + count,) float, on the mean surface, then on the draws; not finite where it has no value
    unit : str
    otherwise : NotMeasured
        The answer where the quantity has no value.
    """
    drawn = values[1:][np.isfinite(values[1:])]
    if not np.isfinite(values[0]) or len(drawn) < max(2.0, LEAST_SHARE * (len(values) - 1)):
        return otherwise
    low, high = np.quantile(drawn, [0.025, 0.975])
    return Estimate(
        value=float(values[0]), sd=float(drawn.std(ddof=1)), low=float(low), high=float(high), unit=unit
    )


def estimate_from_variance(value: float, variance: float, unit: str) -> Estimate:
    """Return the estimate of a linear quantity, whose distribution is normal (JCGM 100:2008, 5.2.2)."""
    sd = float(np.sqrt(max(variance, 0.0)))
    return Estimate(value=value, sd=sd, low=value - NORMAL_95 * sd, high=value + NORMAL_95 * sd, unit=unit)
