"""Whether one of several groups repeats worse, or lies further off, than chance allows.

References
----------
ISO 5725-2:1994, 7.3: Mandel's h and k (7.3.1), Cochran's test (7.3.3), Grubbs' tests for one and for two
outlying observations (7.3.4). Critical values: Wilrich, AStA Adv Stat Anal 97 (2013) 1–10, doi
10.1007/s10182-011-0185-y, in closed form, for all but two outlying observations (`grubbs_pair_limit`); the
standard's own tables are a test.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import optimize, stats

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
class SuspectPair:
    """The two groups that lie furthest off to one side: together they hide each other from a test of one."""

    groups: tuple[int, int]
    """Counted from 0, the outermost first."""
    statistic: float
    """Sum of squares about the mean without the two, over that with them: the smaller, the more suspect."""
    straggler_below: float
    outlier_below: float

    @property
    def is_straggler(self) -> bool:
        """Whether it is beyond the 5 % point."""
        return self.statistic < self.straggler_below

    @property
    def is_outlier(self) -> bool:
        """Whether it is beyond the 1 % point."""
        return self.statistic < self.outlier_below


@dataclass(frozen=True, slots=True, kw_only=True)
class Consistency:
    """The standard's five looks at groups of results of one thing."""

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
    two_lie_off: SuspectPair | Undetermined
    """By Grubbs' test of two group means on one side; only asked where one alone is no outlier (7.3.4.2)."""


TOO_FEW = Undetermined("three groups at least are needed")
UNEQUAL = Undetermined("every group needs the same number of results, two at least")
ALL_ALIKE = Undetermined("all results are the same")
TOO_FEW_FOR_TWO = Undetermined("four groups at least are needed")
ONE_IS_OFF = Undetermined("one group alone already lies further off than chance allows")
DIRECTIONS = 100_000
"""Directions over which the two-sample tail of Grubbs' test is averaged: its limits are sure to 0.3 %."""


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
            h=TOO_FEW,
            k=TOO_FEW,
            h_limit=0.0,
            k_limit=0.0,
            repeats_worse=TOO_FEW,
            lies_off=TOO_FEW,
            two_lie_off=TOO_FEW,
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
        two_lie_off=_two_lie_off(means, lies_off),
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


def _two_lie_off(means: FloatArray, one: Suspect | Undetermined) -> SuspectPair | Undetermined:
    p = len(means)
    if isinstance(one, Undetermined):
        return one
    if one.is_outlier:
        return ONE_IS_OFF
    if p < 4:
        return TOO_FEW_FOR_TWO
    order = np.argsort(means, kind="stable")
    total = float(((means - means.mean()) ** 2).sum())
    pairs = ((order[0], order[1]), (order[-1], order[-2]))
    without = [np.delete(means, pair) for pair in pairs]
    ratios = [float(((rest - rest.mean()) ** 2).sum()) / total for rest in without]
    worst = int(np.argmin(ratios))
    outer, inner = pairs[worst]
    return SuspectPair(
        groups=(int(outer), int(inner)),
        statistic=ratios[worst],
        straggler_below=grubbs_pair_limit(p, STRAGGLER),
        outlier_below=grubbs_pair_limit(p, OUTLIER),
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


@lru_cache(maxsize=64)
def grubbs_pair_limit(p: int, level: float) -> float:
    """Return the critical value of Grubbs' test of two of p means on one side, whichever side that is.

    The ratio G of a given pair is Beta((p − 3)/2, 1) and independent of the directions in which the pair
    lies off and the rest scatters. In a given direction the pair is outermost up to some ratio G*, so that
    `P(G < g) = p(p − 1)/2 · E[min(g, G*)^((p − 3)/2)]` for one side (Grubbs, Ann. Math. Stat. 21 (1950) 27–58
    has the statistic; the average over directions is worked out here). Half the level goes to either side.

    Raises
    ------
    ValueError
        With fewer than four means.
    """
    if p < 4:
        msg = "two outlying means need four means at least"
        raise ValueError(msg)
    ceiling = _outermost_up_to(p)
    power = 0.5 * (p - 3)

    def beyond(log_g: float) -> float:
        share = float(np.mean(np.minimum(np.exp(log_g), ceiling) ** power))
        return 0.5 * p * (p - 1) * share - 0.5 * level

    return float(np.exp(optimize.brentq(beyond, np.log(1e-12), 0.0, xtol=1e-10)))


def _outermost_up_to(p: int) -> FloatArray:
    """Return the ratio G up to which a pair is the highest of p values, in random directions [1]."""
    rng = np.random.default_rng([p, 5])
    rest = rng.standard_normal((DIRECTIONS, p - 2))
    rest -= rest.mean(axis=1, keepdims=True)
    top = rest.max(axis=1) / np.linalg.norm(rest, axis=1)
    turn = (np.arange(DIRECTIONS) + 0.5) * (2.0 * np.pi / DIRECTIONS)
    # Of a pair's unit of deviation: half its difference, and its middle against the mean of the rest.
    half = np.cos(turn) / np.sqrt(2.0)
    middle = np.sin(turn) * np.sqrt(0.5 + 1.0 / (p - 2))
    above = np.maximum(middle - np.abs(half), 0.0) / top
    return above**2 / (1.0 + above**2)


def mandel_h_limit(p: int, level: float) -> float:
    """Return the value that one group's h exceeds by chance (either sign) with a probability `level`."""
    t = stats.t.isf(level / 2.0, p - 2)
    return float((p - 1) * t / np.sqrt(p * (p - 2 + t**2)))


def mandel_k_limit(p: int, n: int, level: float) -> float:
    """Return the value that one group's k exceeds by chance with a probability `level`."""
    ratio = stats.f.isf(level, n - 1, (p - 1) * (n - 1))
    return float(np.sqrt(p / (1.0 + (p - 1) / ratio)))
