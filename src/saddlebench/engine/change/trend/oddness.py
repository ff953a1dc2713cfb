"""How odd a visit is: its numbers one by one, those of one place together, and all of them together.

The numbers of a visit share errors: one slipped gauge, one stance. Their squares are summed, and the sum is
held against what numbers that go together so show. Part of a number's deviation is what the visit errs by
itself, correlated as repeats of one back are; the rest is what the other visits make expect, of which nothing
is known: it is taken as going together altogether, which finds less and alarms less.

References
----------
Box GEP (1954) Some theorems on quadratic forms. Ann Math Stat 25:290–302 (the sum's distribution). Kuonen D
(1999) Saddlepoint approximations for distributions of quadratic forms in normal variables. Biometrika
86:929–935. Liu Y & Xie J (2020) Cauchy combination test. J Am Stat Assoc 115:393–402 (chances that hang
together in any way are combined; small ones hold their level). All three from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats
from scipy.special import ndtr

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.series import Correlations
from saddlebench.engine.frames import FloatArray

SHARES = {"number": 0.5, "place": 0.25, "whole": 0.25}
"""How the level is shared out among a visit's parts."""
LEAST_TOGETHER = 2
LEAST_EIGENVALUE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Numbers of a visit that are looked at together."""

    quantities: tuple[Quantity, ...]
    where: str
    """Their place; empty for the whole visit."""
    weight: float
    chance: float
    """How probable so odd a part is [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """What one visit's numbers deviate by from what the others make expect."""

    quantities: tuple[Quantity, ...]
    chance: FloatArray
    """(k,) float, any frame, of each number alone [1]."""
    score: FloatArray
    """(k,) float, any frame, its standard normal deviation [1]."""
    own: FloatArray
    """(k,) float, any frame, share of its variance that the visit errs by itself [1]."""

    def parts(self, correlations: Correlations) -> tuple[Part, ...]:
        """Return every number, every place and the whole, each with its chance; their weights sum up to 1."""
        places = [
            [k for k, one in enumerate(self.quantities) if one.where == where] for where in self._wheres
        ]
        places = [at for at in places if LEAST_TOGETHER <= len(at) < len(self.quantities)]
        whole = [list(range(len(self.quantities)))] if len(self.quantities) >= LEAST_TOGETHER else []
        shares = {kind: SHARES[kind] for kind, held in (("place", places), ("whole", whole)) if held}
        covariance = self._covariance(correlations)
        alone = (1.0 - sum(shares.values())) / len(self.quantities)
        return (
            *(
                Part(quantities=(one,), where=one.where, weight=alone, chance=float(self.chance[k]))
                for k, one in enumerate(self.quantities)
            ),
            *(
                self._together(at, covariance, self.quantities[at[0]].where, shares["place"] / len(places))
                for at in places
            ),
            *(self._together(at, covariance, "", shares["whole"]) for at in whole),
        )

    @property
    def _wheres(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.where for one in self.quantities))

    def _together(self, at: list[int], covariance: FloatArray, where: str, weight: float) -> Part:
        eigenvalues = np.linalg.eigvalsh(covariance[np.ix_(at, at)])
        return Part(
            quantities=tuple(self.quantities[k] for k in at),
            where=where,
            weight=weight,
            chance=chance_of_sum(float(np.sum(self.score[at] ** 2)), eigenvalues),
        )

    def _covariance(self, correlations: Correlations) -> FloatArray:
        """Return the scores' covariance (k, k), any frame [1], what nobody knows of it taken as one piece."""
        held = np.sqrt(np.outer(self.own, self.own)) * correlations.among(self.quantities)
        main = np.linalg.eigh(held)[1][:, -1]
        rest = np.sqrt(np.maximum(1.0 - self.own, 0.0)) * np.where(main < 0.0, -1.0, 1.0)
        return np.asarray(held + np.outer(rest, rest))


def combined(parts: Sequence[Part]) -> float:
    """Return how probable a visit of such parts is, by Cauchy's combination [1].

    A chance near 1 counts as one less half its weight: alone it would outweigh all small ones.
    """
    total = sum(
        part.weight / np.tan(np.pi * min(max(part.chance, 1e-15), 1.0 - 0.5 * part.weight)) for part in parts
    )
    return float(np.arctan2(1.0, total) / np.pi)


def chance_of_sum(total: float, eigenvalues: FloatArray) -> float:
    """Return how probable it is that a sum of squares of correlated normals is greater (Kuonen 1999).

    Parameters
    ----------
    total : the sum
    eigenvalues : (k,) float, any frame, of the normals' covariance [1]
    """
    held = eigenvalues[eigenvalues > LEAST_EIGENVALUE * eigenvalues.max()]
    mean, variance = float(held.sum()), 2.0 * float(np.sum(held**2))
    if total < mean + 0.5 * np.sqrt(variance):
        # Near the mean the saddlepoint has no value: moments do, and nothing is told from there (Box 1954).
        return float(stats.chi2.sf(2.0 * mean * total / variance, 2.0 * mean**2 / variance))
    most = 0.5 / float(held.max())

    def slope(at: float) -> float:
        return float(np.sum(held / (1.0 - 2.0 * at * held))) - total

    start, end = 0.0, most * (1.0 - 1e-12)
    at = float(optimize.brentq(slope, start, end)) if slope(end) > 0.0 else end
    generating = -0.5 * float(np.sum(np.log1p(-2.0 * at * held)))
    w = float(np.sqrt(2.0 * (at * total - generating)))
    v = at * float(np.sqrt(2.0 * np.sum((held / (1.0 - 2.0 * at * held)) ** 2)))
    return float(ndtr(-(w + np.log(v / w) / w)))
