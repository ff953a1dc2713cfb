"""How many tries agree: the share that findings, plans and shortlists carry, and how well it is known."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

AGREEING = 0.80
"""What fewer tries than this share say is not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareAgreeing:
    """How many of the tries say the same."""

    tried: int
    agreeing: int
    low: float
    """Ends of the 95 % interval of the share, for the number of tries alone [1]."""
    high: float

    @property
    def share(self) -> float:
        """Share of the tries that agree [1]."""
        return self.agreeing / self.tried

    @property
    def is_told(self) -> bool:
        """Whether enough agree for it to be said."""
        return self.share >= AGREEING


def share_agreeing(agrees: NDArray[np.bool_] | Sequence[bool], coverage: float = 0.95) -> ShareAgreeing:
    """Return the share of tries that agree, with its exact interval.

    Parameters
    ----------
    agrees : (d,) bool, one a try: whether it ends in the same verdict, plan or first choice
    coverage : of the interval

    Raises
    ------
    ValueError
        Without any try.

    References
    ----------
    Clopper CJ & Pearson ES (1934) Biometrika 26:404–413.
    """
    held = np.asarray(agrees, dtype=bool)
    if not held.size:
        msg = "there are no tries"
        raise ValueError(msg)
    tried, agreeing = int(held.size), int(held.sum())
    tail = (1.0 - coverage) / 2.0
    low = 0.0 if agreeing == 0 else float(stats.beta.ppf(tail, agreeing, tried - agreeing + 1))
    high = 1.0 if agreeing == tried else float(stats.beta.isf(tail, agreeing + 1, tried - agreeing))
    return ShareAgreeing(tried=tried, agreeing=agreeing, low=low, high=high)
