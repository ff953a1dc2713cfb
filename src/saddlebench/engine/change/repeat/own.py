"""A practice's own errors in place of the instrument's stated ones: when, how large, and why.

Repeats of one back give one factor on what the instrument states of itself: the observed variance of the
regions' heights over the stated one, both summed over the regions. Its degrees of freedom are Satterthwaite's
for a sum of correlated variances.

References
----------
JCGM 100:2008, G.4.2: a stated standard deviation believed to 25 % is worth 8 degrees of freedom. Gelman et
al., Bayesian Data Analysis, 3rd ed. (2013), 3.2: a scaled inverse-χ² prior adds its own degrees of freedom.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.change.repeat.sets import LaidOver
from saddlebench.engine.change.repeat.spread import chi_square_factors, degrees_for
from saddlebench.engine.change.repeat.stated import StatedRepeats
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

BELIEVED_TO = 0.25
"""How far a stated error is believed, as a share of it (assumption)."""
STATED_DEGREES = degrees_for(BELIEVED_TO)
ENOUGH_DEGREES = STATED_DEGREES
"""With so many degrees of freedom own figures are known as well as the stated ones are believed."""
LEAST_FACTOR = 0.5
"""Repeats in one visit do not show another day: the stated errors are never more than halved."""


class InUse(StrEnum):
    """Whose errors a computation goes by."""

    STATED = "the instrument's stated errors"
    BOTH = "stated errors, widened by own repeats"
    OWN = "own repeats"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnErrors:
    """What a fitter's own repeats say of the errors that an instrument states."""

    factor: float
    """Own standard deviation over the stated one, of everything that is fresh at each repeat."""
    low: float
    high: float
    """95 % interval of the factor."""
    degrees: float
    n_repeats: int
    n_backs: int
    in_use: InUse
    applied: float
    """The factor that is used."""
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """Observed against stated variance of one back's repeats, with the degrees of freedom of their ratio."""

    observed: float
    """Sum of the regions' variances [mm²]."""
    stated: float
    fixed: float
    """Part of the stated variance that no hand can better: rounding, marks [mm²]."""
    degrees: float
    n_repeats: int


NO_REPEATS = Undetermined("no back was measured twice by the same fitter with the same instrument")


def ratio_from(laid: LaidOver, stated: StatedRepeats, fixed: FloatArray) -> Ratio | Undetermined:
    """Return the ratio of repeats laid over each other, from draws of what was stated.

    Parameters
    ----------
    laid : the repeats
    stated : what they should differ by
    fixed : (r,) float, back frame [mm²], the part of the regions' variances that no hand betters
    """
    used = [region for region in stated.regions if region in laid.regions]
    if not used:
        return Undetermined("no region of the back was measured in every repeat")
    rows = np.array([[means[region] for region in used] for means in laid.means()])
    columns = [stated.regions.index(region) for region in used]
    covariance = np.atleast_2d(np.cov(stated.region_draws_mm[:, columns], rowvar=False))
    degrees = len(rows) - 1
    total = float(np.trace(covariance))
    return Ratio(
        observed=float(rows.var(axis=0, ddof=1).sum()),
        stated=total,
        fixed=min(float(fixed[columns].sum()), 0.95 * total),
        degrees=degrees * total**2 / float((covariance**2).sum()),
        n_repeats=len(rows),
    )


def own_errors(ratios: Sequence[Ratio]) -> OwnErrors | Undetermined:
    """Return what own repeats say, over all backs that were repeated, and what is to be used.

    Parameters
    ----------
    ratios : one a back (or a day), all of one fitter with one instrument

    Notes
    -----
    With `ν` own and `ν₀ = 8` stated degrees of freedom: below `ν₀` the stated errors stay, unless the own
    ones are surely larger; then both are combined, `f² = (ν₀ + ν f̂²)/(ν₀ + ν)`. From `ν₀` on the own ones
    stand alone.
    """
    if not ratios:
        return NO_REPEATS
    degrees = sum(one.degrees for one in ratios)
    observed = sum(one.degrees * one.observed / one.stated for one in ratios) / degrees
    fixed = sum(one.degrees * one.fixed / one.stated for one in ratios) / degrees
    least, most = chi_square_factors(degrees)
    # What no hand can better is taken out on both sides; only the rest is scaled.
    low, factor, high = (
        float(np.sqrt(max(observed * times**2 - fixed, 0.0) / (1.0 - fixed))) for times in (least, 1.0, most)
    )
    in_use, applied = _in_use(factor, low, degrees)
    n_repeats, n_backs = sum(one.n_repeats for one in ratios), len(ratios)
    return OwnErrors(
        factor=factor,
        low=low,
        high=high,
        degrees=degrees,
        n_repeats=n_repeats,
        n_backs=n_backs,
        in_use=in_use,
        applied=applied,
        why=_why(in_use, factor, degrees),
    )


def _in_use(factor: float, low: float, degrees: float) -> tuple[InUse, float]:
    if degrees >= ENOUGH_DEGREES:
        return InUse.OWN, max(factor, LEAST_FACTOR)
    if low > 1.0:
        combined = (STATED_DEGREES + degrees * factor**2) / (STATED_DEGREES + degrees)
        return InUse.BOTH, float(np.sqrt(combined))
    return InUse.STATED, 1.0


def _why(in_use: InUse, factor: float, degrees: float) -> str:
    # Cut, not rounded: 7.6 are not yet 8.
    known = f"own repeats rest on {int(degrees)} degrees of freedom, {ENOUGH_DEGREES:.0f} are enough"
    match in_use:
        case InUse.OWN:
            floor = " (halved at most: repeats in one visit do not show another day)"
            return f"{known}: they replace the stated errors{floor if factor < LEAST_FACTOR else ''}"
        case InUse.BOTH:
            return f"{known}: too few to replace the stated errors, but they are surely larger"
        case InUse.STATED:
            return f"{known}: until then the stated errors are used"
