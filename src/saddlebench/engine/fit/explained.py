"""How much of a spread numbers explain beyond chance, and what is known once a part of it is gone.

References
----------
Fisher RA (1924) Proc. Int. Math. Congr. Toronto 2: 805-813 (the variance ratio's distribution: what so many
numbers explain by chance; cited from memory). Raiffa H & Schlaifer R (1961) Applied Statistical Decision
Theory, ch. 5 (preposterior analysis: what is known after a measurement that was not made yet).
"""

from math import inf

import numpy as np
from scipy import special, stats

from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.verdicts import Levels
from saddlebench.engine.frames import FloatArray

HALF_WIDTH = 1.959964
"""Standard deviations on either side of a mean that hold 95 %."""


def moments(shown: FloatArray) -> tuple[float, float, int]:
    """Return mean, standard deviation and count of values (n,), any frame [any unit]."""
    return float(shown.mean()), float(shown.std(ddof=1)), len(shown)


def beyond_chance(explained: float, dimension: float, count: int, level: float) -> bool:
    """Tell whether numbers explain more of a variance than as many idle ones would, by the variance ratio.

    Parameters
    ----------
    explained : share of the variance that is explained in so many tries [1]
    dimension : how many independent numbers explain it
    count : of the tries
    level : how often idle numbers may explain as much
    """
    free = count - 1.0 - dimension
    if free < 1.0 or dimension <= 0.0:
        return False
    ratio = explained / dimension / max((1.0 - explained) / free, 1e-12)
    return bool(stats.f.sf(ratio, dimension, free) < level)


def without_chance(explained: float, dimension: float, count: int) -> float:
    """Return a share of variance less what so many numbers explain by chance (adjusted R², Ezekiel 1930)."""
    free = max(count - 1 - dimension, 1.0)
    return float(np.clip(1.0 - (1.0 - explained) * (count - 1) / free, 0.0, 1.0))


def settling(mean: float, sd: float, removes: float, levels: Levels, n: int = 81) -> float:
    """Return how probable it is that a finding can be told after a repeat.

    Afterwards the measure is known to `sd·√(1 − removes)` about a value that itself is not known yet and
    scatters by `sd·√removes`.

    Parameters
    ----------
    mean, sd : of the measure now, in the unit people see
    removes : part of its variance that the repeat takes away
    levels : what it is held against
    n : values afterwards that are tried
    """
    after = sd * float(np.sqrt(max(1.0 - removes, 1e-9)))
    values = mean + sd * float(np.sqrt(removes)) * special.ndtri((np.arange(n) + 0.5) / n)
    edges = np.array([-inf, *levels.bounds, inf])
    shares = np.diff(special.ndtr((edges[None, :] - values[:, None]) / after), axis=1)
    verdicts = [levels.judge(float(x)) for x in _inside(edges)]
    told = np.stack([shares[:, [v is one for v in verdicts]].sum(axis=1) for one in set(verdicts)])
    narrow = np.diff(edges)[np.searchsorted(edges, values) - 1] < HALF_WIDTH * after
    return float(np.mean((told.max(axis=0) >= AGREEING) & ~narrow))


def _inside(edges: FloatArray) -> FloatArray:
    """Return one place within each band between edges (k,) float, any frame [any unit]."""
    finite = edges[1:-1]
    return np.concatenate([[finite[0] - 1.0], 0.5 * (finite[1:] + finite[:-1]), [finite[-1] + 1.0]])
