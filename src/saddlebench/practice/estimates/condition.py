"""The published condition score: nine points, judged by eye and hand on six areas."""

from dataclasses import dataclass

SOURCE = "Henneke DR et al. (1983), Equine Veterinary Journal 15:371–372"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionPoint:
    """One point of the scale."""

    score: int
    word: str


SCALE = (
    ConditionPoint(score=1, word="poor"),
    ConditionPoint(score=2, word="very thin"),
    ConditionPoint(score=3, word="thin"),
    ConditionPoint(score=4, word="moderately thin"),
    ConditionPoint(score=5, word="moderate"),
    ConditionPoint(score=6, word="moderately fleshy"),
    ConditionPoint(score=7, word="fleshy"),
    ConditionPoint(score=8, word="fat"),
    ConditionPoint(score=9, word="extremely fat"),
)
AREAS = ("neck", "withers", "behind_shoulder", "ribs", "loin", "tailhead")
USUAL_GOAL = (4, 6)
