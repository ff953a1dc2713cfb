"""The alteration plan: what to change, by how much, and what comes of it."""

from collections.abc import Callable
from dataclasses import dataclass

from saddlebench.engine.alter.alteration import Alteration
from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.criteria import Criteria
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settled import Settlement
from saddlebench.engine.saddle.alterable import Alterable
from saddlebench.engine.saddle.model import SaddleModel


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One state of the saddle looked at: before, or after an alteration."""

    fit: FitProblem
    """The problem that was settled; its saddle is the altered one."""
    settlement: Settlement
    findings: tuple[Finding, ...]
    misfit: float
    """The plan's objective without the price of what is moved [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickPlan:
    """A plan from the slopes alone, for ranking many saddles: not settled again, never shown as a result."""

    alteration: Alteration
    misfit_before: float
    misfit_after: float
    """As the slopes foretell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlterationPlan:
    """A plan, and the saddle before and after it."""

    alteration: Alteration
    before: Looked
    after: Looked
    binding: tuple[str, ...]
    """Limits that hold the plan back, in words."""


def plan_alteration(
    fit: FitProblem,
    allowed: Alterable,
    policy: Policy | None = None,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    progress: Callable[[int, int, str], None] | None = None,
) -> AlterationPlan | Undetermined:
    """Return the least change that lets the saddle lie best, within what may be altered."""
    raise NotImplementedError


def quick_plan(fit: FitProblem, allowed: Alterable, policy: Policy | None = None) -> QuickPlan | Undetermined:
    """Return a plan from one settled state and its slopes; `fit` on 250 to 500 points is enough."""
    raise NotImplementedError


def try_alteration(
    fit: FitProblem,
    alteration: Alteration,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
) -> Looked:
    """Settle and judge the saddle after a change made by hand."""
    raise NotImplementedError


def altered_problem(fit: FitProblem, alteration: Alteration) -> FitProblem:
    """Return the same fit with the saddle (and pads) altered."""
    raise NotImplementedError


def altered(saddle: SaddleModel, alteration: Alteration) -> SaddleModel:
    """Return the saddle altered; rows and columns of its points stay."""
    raise NotImplementedError
