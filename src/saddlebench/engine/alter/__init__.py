"""Altering a saddle: what may be done, what it does, and the plan that does least for most."""

from saddlebench.engine.alter.alteration import Alteration, Shim, ShimPlace
from saddlebench.engine.alter.plan import (
    AlterationPlan,
    Looked,
    QuickPlan,
    altered,
    altered_problem,
    plan_alteration,
    quick_plan,
    try_alteration,
)
from saddlebench.engine.alter.policy import Aim, Place, Policy

__all__ = [
    "Aim",
    "Alteration",
    "AlterationPlan",
    "Looked",
    "Place",
    "Policy",
    "QuickPlan",
    "Shim",
    "ShimPlace",
    "altered",
    "altered_problem",
    "plan_alteration",
    "quick_plan",
    "try_alteration",
]
