"""Whether one of several groups repeats worse, or lies further off, than chance allows.

References
----------
ISO 5725-2:1994, 7.3: Mandel's h and k (7.3.1), Cochran's test (7.3.3), Grubbs' test for one outlying
observation (7.3.4). Critical values: Wilrich, AStA Adv Stat Anal 97 (2013) 1–10, doi
10.1007/s10182-011-0185-y, in closed form; the standard's own tables are a test.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

STRAGGLER, OUTLIER = 0.05, 0.01
"""Levels beyond which a group is called a straggler and an outlier (ISO 5725-2, 7.3.2.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """The group that stands out most, and how improbable that is."""

    group: int
    """Counted from 0."""
    statistic: float
    straggler_above: float
    outlier_above: float

    @property
    def is_straggler(self) -> bool:
        """Whether it is beyond the 5 % point."""
        return self.statistic > self.straggler_above

    @property
    def is_outlier(self) -> bool:
        """Whether it is beyond the 1 % point."""
        return self.statistic > self.outlier_above


@dataclass(frozen=True, slots=True, kw_only=True)
class Consistency:
    """The standard's four looks at groups of results of one thing."""

    h: tuple[float, ...] | Undetermined
    """Mandel's h, one a group: how far each group's mean lies off, in the means' standard deviation."""
    k: tuple[float, ...] | Undetermined
    """Mandel's k, one a group: how badly each group repeats against all."""
    h_limit: float
    """Beyond this (either sign) at 1 %; 0 where there is no h."""
    k_limit: float
    """Beyond this at 1 %; 0 where there is no k."""
    repeats_worse: Suspect | Undetermined
    """By Cochran's test."""
    lies_off: Suspect | Undetermined
    """By Grubbs' test of the group means."""


TOO_FEW = Undetermined("three groups at least are needed")
UNEQUAL = Undetermined("every group needs the same number of results, two at least")
ALL_ALIKE = Undetermined("all results are the same")


def consistency_of(groups: Sequence[FloatArray], level: float = OUTLIER) -> Consistency:
    """Return Mandel's statistics, Cochran's and Grubbs' tests of groups (n_i,) float, any frame [any unit].

    Cochran's test and k are for equal numbers of results; with unequal ones they are not given.

    Parameters
    ----------
    groups : results of one thing, a group an array
    level : of Mandel's limits
    """
    held = [np.asarray(group, dtype=float) for group in groups if len(group)]
    p = len(held)
    if p < 3:
        return Consistency(
            h=TOO_FEW, k=TOO_FEW, h_limit=0.0, k_limit=0.0, repeats_worse=TOO_FEW, lies_off=TOO_FEW
        )
    means = np.array([group.mean() for group in held])
    h, lies_off = _means(means)
    n = len(held[0])
    k: tuple[float, ...] | Undetermined = UNEQUAL
    repeats_worse: Suspect | Undetermined = UNEQUAL
    if n >= 2 and all(len(group) == n for group in held):
        k, repeats_worse = _variances(np.array([group.var(ddof=1) for group in held]), n)
    return Consistency(
        h=h,
        k=k,
        h_limit=0.0 if isinstance(h, Undetermined) else mandel_h_limit(p, level),
        k_limit=0.0 if isinstance(k, Undetermined) else mandel_k_limit(p, n, level),
        repeats_worse=repeats_worse,
        lies_off=lies_off,
    )


def _means(means: FloatArray) -> tuple[tuple[float, ...] | Undetermined, Suspect | Undetermined]:
    sd = float(means.std(ddof=1))
    if sd == 0.0:
        return ALL_ALIKE, ALL_ALIKE
    h = (means - means.mean()) / sd
    p, worst = len(means), int(np.argmax(np.abs(h)))
    return tuple(h.tolist()), Suspect(
        group=worst,
        statistic=float(abs(h[worst])),
        straggler_above=grubbs_limit(p, STRAGGLER),
        outlier_above=grubbs_limit(p, OUTLIER),
    )


def _variances(
    variances: FloatArray, n: int
) -> tuple[tuple[float, ...] | Undetermined, Suspect | Undetermined]:
    total = float(variances.sum())
    if total == 0.0:
        return ALL_ALIKE, ALL_ALIKE
    p, worst = len(variances), int(np.argmax(variances))
    return tuple(np.sqrt(p * variances / total).tolist()), Suspect(
        group=worst,
        statistic=float(variances[worst] / total),
        straggler_above=cochran_limit(p, n, STRAGGLER),
        outlier_above=cochran_limit(p, n, OUTLIER),
    )


def cochran_limit(p: int, n: int, level: float) -> float:
    """Return the critical value of Cochran's test of p groups of n results."""
    ratio = stats.f.isf(level / p, n - 1, (p - 1) * (n - 1))
    return float(1.0 / (1.0 + (p - 1) / ratio))


def grubbs_limit(p: int, level: float) -> float:
    """Return the critical value of Grubbs' test of p means, whichever lies furthest off."""
    t = stats.t.isf(level / (2 * p), p - 2)
    return float((p - 1) * t / np.sqrt(p * (p - 2 + t**2)))


def mandel_h_limit(p: int, level: float) -> float:
    """Return the value that one group's h exceeds by chance (either sign) with a probability `level`."""
    t = stats.t.isf(level / 2.0, p - 2)
    return float((p - 1) * t / np.sqrt(p * (p - 2 + t**2)))


def mandel_k_limit(p: int, n: int, level: float) -> float:
    """Return the value that one group's k exceeds by chance with a probability `level`."""
    ratio = stats.f.isf(level, n - 1, (p - 1) * (n - 1))
    return float(np.sqrt(p / (1.0 + (p - 1) / ratio)))
