"""What a shortlist may be told."""

from dataclasses import dataclass, field

from saddlebench.engine.choose.cost import CostRules
from saddlebench.engine.choose.limits import HardLimits
from saddlebench.engine.fit.criteria import Criteria
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA

MARGIN = 1.0
"""Calibrated; see docs/why/shortlist.md and `benchmarks/shortlist.py`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortlistSettings:
    """What a shortlist may be told."""

    length: int = 20
    draws: int = 48
    """Tries for the confidence; 0 leaves it out."""
    seed: int = 0
    cloud_points: int = 250
    margin: float = MARGIN
    exhaustive: bool = False
    """Settle every shape in full: slow, to check the quick pass against."""
    try_fill: bool = True
    """Try other fill in the saddles of the list and the next ones."""
    with_studies: bool = True
    """Make the fit check of each entry; a season leaves it out."""
    criteria: Criteria = DEFAULT_CRITERIA
    rules: CostRules = field(default_factory=CostRules)
    limits: HardLimits = field(default_factory=HardLimits)
