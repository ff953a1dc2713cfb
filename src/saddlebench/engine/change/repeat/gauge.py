"""Gauge repeatability and reproducibility: backs by fitters by repeats, by analysis of variance.

References
----------
Automotive Industry Action Group, Measurement Systems Analysis, 4th ed. (2010), ch. III B, ANOVA method and
number of distinct categories. The interaction is pooled into the error where it is not seen at 25 %.
"""

from dataclasses import dataclass, replace
from math import sqrt
from typing import Self

import numpy as np
from scipy import stats

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

POOLED_ABOVE = 0.25
"""Beyond this probability of chance the interaction is taken for error."""
STUDY_WIDTH = 6.0
"""Standard deviations that a tolerance is compared with: 99.73 % of a normal distribution."""
SERVES_BELOW, TOO_COARSE_ABOVE = 0.10, 0.30
"""Shares of tolerance or study variation between which a gauge may serve (the same manual, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Where the spread of readings comes from: standard deviations in the unit of what was measured."""

    repeatability: float
    """The same fitter again: equipment variation."""
    reproducibility: float
    """Other fitters, their interaction with the backs in it: appraiser variation."""
    interaction: float
    """A fitter who reads one kind of back differently; 0 where it was pooled."""
    gauge: float
    """Both together."""
    parts: float
    """Between the backs."""
    total: float
    interaction_probability: float
    """Of seeing so much interaction by chance."""
    is_pooled: bool
    distinct_categories: int
    """How many kinds of back these readings tell apart: 5 is usual for good, 1 tells nothing."""
    of_tolerance: float | Undetermined
    """6 standard deviations of the gauge over the tolerance's width [1]."""

    @property
    def of_total(self) -> float:
        """Share of the gauge in the total standard deviation, the study variation [1]."""
        return self.gauge / self.total if self.total > 0.0 else 0.0

    def against(self, tolerance: float | None) -> Self:
        """Return the same study held against a tolerance: a whole width in the same unit; None: none."""
        share = NO_TOLERANCE if tolerance is None else share_of_tolerance(self.gauge, tolerance)
        return replace(self, of_tolerance=share)


NO_TOLERANCE = Undetermined("no tolerance was stated")
NOT_CROSSED = Undetermined(
    "every fitter must measure every back the same number of times, twice at least: two fitters, two backs"
)


def share_of_tolerance(sd: float, tolerance: float) -> float:
    """Return 6 standard deviations over the whole width of what may be, both in one unit [1].

    Raises
    ------
    ValueError
        If the tolerance is no width above 0.
    """
    if not tolerance > 0.0:
        msg = f"{tolerance} is no width of a tolerance"
        raise ValueError(msg)
    return STUDY_WIDTH * sd / tolerance


def gauge_study(table: FloatArray) -> GaugeStudy | Undetermined:
    """Return the gauge study of a crossed design; no tolerance is stated yet.

    Parameters
    ----------
    table : (p, o, r) float, any frame [any unit], p backs by o fitters by r repeats; none missing
    """
    if table.ndim != 3 or min(table.shape) < 2:
        return NOT_CROSSED
    p, o, r = table.shape
    squares, degrees = _squares(table)
    error = squares[3] / degrees[3]
    interaction = squares[2] / degrees[2]
    chance = float(stats.f.sf(interaction / error, degrees[2], degrees[3])) if error > 0.0 else 0.0
    is_pooled = chance > POOLED_ABOVE
    if is_pooled:
        error = interaction = (squares[2] + squares[3]) / (degrees[2] + degrees[3])
    of_interaction = 0.0 if is_pooled else max(interaction - error, 0.0) / r
    of_fitters = max(squares[1] / degrees[1] - interaction, 0.0) / (p * r)
    of_parts = max(squares[0] / degrees[0] - interaction, 0.0) / (o * r)
    gauge = error + of_fitters + of_interaction
    return GaugeStudy(
        repeatability=sqrt(error),
        reproducibility=sqrt(of_fitters + of_interaction),
        interaction=sqrt(of_interaction),
        gauge=sqrt(gauge),
        parts=sqrt(of_parts),
        total=sqrt(gauge + of_parts),
        interaction_probability=chance,
        is_pooled=is_pooled,
        distinct_categories=max(1, int(sqrt(2.0 * of_parts / gauge))) if gauge > 0.0 else 1,
        of_tolerance=NO_TOLERANCE,
    )


def _squares(table: FloatArray) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """Return sums of squares and degrees of freedom: backs, fitters, interaction, error."""
    p, o, r = table.shape
    grand = table.mean()
    of_parts = o * r * float(((table.mean(axis=(1, 2)) - grand) ** 2).sum())
    of_fitters = p * r * float(((table.mean(axis=(0, 2)) - grand) ** 2).sum())
    cells = table.mean(axis=2)
    error = float(((table - cells[:, :, None]) ** 2).sum())
    of_cells = r * float(((cells - grand) ** 2).sum())
    interaction = max(of_cells - of_parts - of_fitters, 0.0)
    return (of_parts, of_fitters, interaction, error), (p - 1, o - 1, (p - 1) * (o - 1), p * o * (r - 1))


def crossed_table(cells: dict[tuple[str, str], list[float]]) -> FloatArray:
    """Return readings as a crossed table, of the backs that every fitter measured, as often as all did.

    Parameters
    ----------
    cells : readings by back and fitter

    Returns
    -------
    (p, o, r) float, any frame [any unit]; without backs where the design is not crossed
    """
    fitters = sorted({fitter for _, fitter in cells})
    backs = sorted({back for back, _ in cells})
    whole = [back for back in backs if all(cells.get((back, fitter)) for fitter in fitters)]
    repeats = min((len(cells[back, fitter]) for back in whole for fitter in fitters), default=0)
    rows = [[cells[back, fitter][:repeats] for fitter in fitters] for back in whole]
    return np.array(rows, dtype=float).reshape(len(whole), len(fitters), repeats)
