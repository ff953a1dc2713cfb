"""Altering a saddle: what may be done, what it does, and the plan that does least for most."""

from saddlebench.engine.alter.alteration import Alteration, Shim, ShimPlace
from saddlebench.engine.alter.apply import altered, altered_problem
from saddlebench.engine.alter.limits import Binding
from saddlebench.engine.alter.outcome import FindingChange, Turn
from saddlebench.engine.alter.plan import (
    AlterationPlan,
    QuickPlan,
    hand_plan,
    plan_alteration,
    quick_plan,
    try_alteration,
    with_plan_confidence,
)
from saddlebench.engine.alter.policy import Aim, Place, Policy
from saddlebench.engine.alter.replica import ReplicaCheck, ReplicaGap, on_replica

__all__ = [
    "Aim",
    "Alteration",
    "AlterationPlan",
    "Binding",
    "FindingChange",
    "Place",
    "Policy",
    "QuickPlan",
    "ReplicaCheck",
    "ReplicaGap",
    "Shim",
    "ShimPlace",
    "Turn",
    "altered",
    "altered_problem",
    "hand_plan",
    "on_replica",
    "plan_alteration",
    "quick_plan",
    "try_alteration",
    "with_plan_confidence",
]
