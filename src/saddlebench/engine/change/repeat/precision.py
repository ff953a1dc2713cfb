"""Repeatability and reproducibility of one thing measured repeatedly by several.

References
----------
ISO 5725-2:1994, 7.4.4 and 7.4.5 (one-way analysis of variance, any numbers of results per laboratory). The
interval of the reproducibility, which the standard does not give, is Graybill and Wang's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.change.repeat.spread import (
    NOTHING_REPEATED,
    Spread,
    spread_of,
    sum_spread,
)
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

ONE_GROUP = Undetermined("only one measured it: nothing says how others would differ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """How well one thing repeats, and how well it reproduces between groups (fitters, instruments)."""

    mean: float
    """General mean, weighted by the numbers of results."""
    n_results: int
    n_groups: int
    repeatability: Spread | Undetermined
    """Of results by the same group."""
    between: float | Undetermined
    """Standard deviation of the groups themselves; 0 where repeatability alone explains their means."""
    reproducibility: Spread | Undetermined
    """Of results by any group."""


def precision_of(groups: Sequence[FloatArray]) -> Precision:
    """Return repeatability and reproducibility.

    Parameters
    ----------
    groups : one array (n_i,) float a group, any frame [any unit], of results of the same thing

    Raises
    ------
    ValueError
        Without any result.
    """
    held = [np.asarray(group, dtype=float) for group in groups if len(group)]
    if not held:
        msg = "there are no results"
        raise ValueError(msg)
    counts = np.array([len(group) for group in held], dtype=float)
    means = np.array([group.mean() for group in held])
    total = counts.sum()
    mean = float((counts * means).sum() / total)
    degrees = total - len(held)
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in held)
    repeatability = spread_of(within / degrees, degrees) if degrees > 0 else NOTHING_REPEATED
    between, reproducibility = _between(counts, means, mean, repeatability)
    return Precision(
        mean=mean,
        n_results=int(total),
        n_groups=len(held),
        repeatability=repeatability,
        between=between,
        reproducibility=reproducibility,
    )


def _between(
    counts: FloatArray, means: FloatArray, mean: float, repeatability: Spread | Undetermined
) -> tuple[float | Undetermined, Spread | Undetermined]:
    p = len(counts)
    if p < 2:
        return ONE_GROUP, ONE_GROUP
    if isinstance(repeatability, Undetermined):
        # Single results tell only the sum of both, which is the reproducibility.
        return repeatability, spread_of(float(((means - mean) ** 2).sum() / (p - 1)), p - 1)
    of_groups = float((counts * (means - mean) ** 2).sum() / (p - 1))
    typical = float((counts.sum() - (counts**2).sum() / counts.sum()) / (p - 1))
    own = repeatability.variance
    between = max(of_groups - own, 0.0) / typical
    parts = (of_groups / typical, (1.0 - 1.0 / typical) * own)
    return float(np.sqrt(between)), sum_spread(own + between, parts, (p - 1, repeatability.degrees))
