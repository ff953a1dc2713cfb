"""What is worked out from a tape, a hand and the calendar: weight, condition, firmness, re-check dates."""

from saddlebench.practice.estimates.condition import AREAS, SCALE, ConditionPoint
from saddlebench.practice.estimates.firmness import firmness_kpa_mm
from saddlebench.practice.estimates.height import height_as_hands, height_from_hands
from saddlebench.practice.estimates.recheck import RecheckWindow, recheck_window
from saddlebench.practice.estimates.weight import WeightEstimate, carried_share, estimate_weight

__all__ = [
    "AREAS",
    "SCALE",
    "ConditionPoint",
    "RecheckWindow",
    "WeightEstimate",
    "carried_share",
    "estimate_weight",
    "firmness_kpa_mm",
    "height_as_hands",
    "height_from_hands",
    "recheck_window",
]
