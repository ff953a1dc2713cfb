"""Limits of agreement: how far two fitters' (or instruments') readings of one back may lie apart.

References
----------
Bland JM & Altman DG (1986) Statistical methods for assessing agreement between two methods of clinical
measurement. Lancet i:307–310. Bland JM & Altman DG (1999) Measuring agreement in method comparison studies.
Stat Methods Med Res 8:135–160, section 5 (several readings of one subject). Carkeet A (2015) Exact parametric
confidence intervals for Bland-Altman limits of agreement. Optom Vis Sci 92:e71–80 (single readings). Zou GY
(2013) Confidence interval estimation for the Bland-Altman limits of agreement with multiple observations per
individual. Stat Methods Med Res 22:630–642 (several readings).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from saddlebench.engine.change.repeat.spread import COVERAGE
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """First less second, and the limits that 95 % of such differences stay within."""

    bias: float
    bias_interval: tuple[float, float]
    sd: float
    """Of one difference, single reading against single reading."""
    lower: float
    upper: float
    lower_interval: tuple[float, float]
    """95 % interval of the lower limit itself."""
    upper_interval: tuple[float, float]
    n_backs: int


TOO_FEW_PAIRS = Undetermined("three backs at least must have been measured by both")


def limits_of_agreement(
    first: FloatArray, second: FloatArray, coverage: float = COVERAGE
) -> Agreement | Undetermined:
    """Return the limits of agreement of single readings.

    Parameters
    ----------
    first, second : (n,) float, any frame [any unit], one reading of every back by each
    coverage : of limits and intervals

    Returns
    -------
    Agreement
        Its intervals are exact for normal differences.
    """
    differences = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    n = len(differences)
    if n < 3:
        return TOO_FEW_PAIRS
    bias, sd = float(differences.mean()), float(differences.std(ddof=1))
    z = float(stats.norm.ppf(0.5 + coverage / 2.0))
    tail = (1.0 - coverage) / 2.0
    margin = float(stats.t.isf(tail, n - 1)) * sd / np.sqrt(n)
    near, far = stats.nct.ppf([tail, 1.0 - tail], n - 1, z * np.sqrt(n)) * sd / np.sqrt(n)
    return Agreement(
        bias=bias,
        bias_interval=(bias - margin, bias + margin),
        sd=sd,
        lower=bias - z * sd,
        upper=bias + z * sd,
        lower_interval=(float(bias - far), float(bias - near)),
        upper_interval=(float(bias + near), float(bias + far)),
        n_backs=n,
    )


def limits_with_repeats(
    first: Sequence[FloatArray], second: Sequence[FloatArray], coverage: float = COVERAGE
) -> Agreement | Undetermined:
    """Return the limits of agreement of single readings, where each back was read several times by each.

    Means of repeats lie closer together than single readings do; what the averaging took away is put back
    (Bland & Altman 1999, 5.1 and 5.2), so that the limits still are those of one reading against one.

    Parameters
    ----------
    first, second : (m_i,) float, any frame [any unit], a back an array: its readings by each
    coverage : of limits and intervals
    """
    n = len(first)
    if n < 3 or len(second) != n:
        return TOO_FEW_PAIRS
    differences = np.array([a.mean() - b.mean() for a, b in zip(first, second, strict=True)])
    parts, degrees = [float(differences.var(ddof=1))], [n - 1]
    for readings in (first, second):
        counts = np.array([len(one) for one in readings])
        within = float(sum(((one - one.mean()) ** 2).sum() for one in readings))
        if counts.sum() > n:
            parts.append((1.0 - float((1.0 / counts).mean())) * within / int(counts.sum() - n))
            degrees.append(int(counts.sum() - n))
    return _limits_from_parts(float(differences.mean()), parts, degrees, n, coverage)


def _limits_from_parts(
    bias: float, parts: Sequence[float], degrees: Sequence[int], n: int, coverage: float
) -> Agreement:
    """Return limits whose variance is a sum of parts, the first that of the differences of the means."""
    tail = (1.0 - coverage) / 2.0
    z = float(stats.norm.ppf(1.0 - tail))
    variance = sum(parts)
    sd = float(np.sqrt(variance))
    down = sum((v * (1.0 - nu / stats.chi2.isf(tail, nu))) ** 2 for v, nu in zip(parts, degrees, strict=True))
    up = sum((v * (nu / stats.chi2.ppf(tail, nu) - 1.0)) ** 2 for v, nu in zip(parts, degrees, strict=True))
    least = float(np.sqrt(max(variance - np.sqrt(down), 0.0)))
    most = float(np.sqrt(variance + np.sqrt(up)))
    margin = float(stats.t.isf(tail, n - 1)) * float(np.sqrt(parts[0] / n))
    inward, outward = np.hypot(margin, z * (sd - least)), np.hypot(margin, z * (most - sd))
    return Agreement(
        bias=bias,
        bias_interval=(bias - margin, bias + margin),
        sd=sd,
        lower=bias - z * sd,
        upper=bias + z * sd,
        lower_interval=(float(bias - z * sd - outward), float(bias - z * sd + inward)),
        upper_interval=(float(bias + z * sd - inward), float(bias + z * sd + outward)),
        n_backs=n,
    )
