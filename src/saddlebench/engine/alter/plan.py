"""The alteration plan: what to change, by how much, what comes of it, and what holds it back."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from saddlebench.engine.alter.alteration import Alteration
from saddlebench.engine.alter.apply import altered_problem
from saddlebench.engine.alter.bounded import least_within
from saddlebench.engine.alter.limits import Binding, binding_limits
from saddlebench.engine.alter.objective import aimed_at, jacobian, lies, quadratic
from saddlebench.engine.alter.options import best_option
from saddlebench.engine.alter.outcome import FindingChange, changes_of, is_worth_it
from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.alter.search import search
from saddlebench.engine.alter.variables import alteration_of
from saddlebench.engine.back.stations import Station
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.confidence import CloudSettings
from saddlebench.engine.fit.criteria import Criteria
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.judged_states import study_cases
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.study import USUAL_LIFT_MM, FitStudy, StudyInputs, settled_study, with_tries
from saddlebench.engine.saddle.alterable import Alterable, NotAlterable
from saddlebench.engine.saddle.unmodelled import why_not

_BY_HAND = NotAlterable(reason="set by hand")
NOTHING_ALLOWED = Alterable(
    fill_left=_BY_HAND, fill_right=_BY_HAND, arch=_BY_HAND, shims=_BY_HAND, straps=_BY_HAND, pad=_BY_HAND
)
PLAN_POINTS = 600
"""Bearing points on which a plan is sought; before and after are settled on all of the saddle's."""
ROUGHLY_MM = 1e-3
"""How closely a quick plan's least squares are solved."""
Told = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlterationPlan:
    """A plan, and the saddle before and after it."""

    alteration: Alteration
    policy: Policy
    before: FitStudy
    after: FitStudy
    """The saddle as altered, on the bench: before new flock beds down."""
    misfit_before: float
    misfit_after: float
    """The plan's own measure of unevenness and imbalance, on `PLAN_POINTS` points [1]."""
    misfit_free: float
    """The same for the best that the limits allow without workable steps or a price on what is moved."""
    binding: tuple[Binding, ...]
    """Limits that hold the plan back, the dearest first."""
    changes: tuple[FindingChange, ...]
    """Every finding, before and after."""

    @property
    def not_reached(self) -> tuple[FindingChange, ...]:
        """Findings that no allowed change brings to "fine" in this plan."""
        return tuple(change for change in self.changes if change.is_still_off)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickPlan:
    """A plan from the slopes alone, for ranking many saddles: not settled again, never shown as a result."""

    alteration: Alteration
    misfit_before: float
    misfit_after: float
    """As the slopes foretell."""
    moved_mm: float


def plan_alteration(
    fit: FitProblem,
    allowed: Alterable,
    policy: Policy | None = None,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    stations: tuple[Station, ...] = (),
    inputs: StudyInputs | None = None,
    before: FitStudy | None = None,
    progress: Told | None = None,
) -> AlterationPlan | Undetermined:
    """Return the least change that lets the saddle lie best, within what may be altered.

    Parameters
    ----------
    fit : the saddle as it is on the back; its load cases are set to those of a study
    allowed : what may be altered on this saddle
    policy : what is aimed at; even by default
    horse, criteria, stations, inputs
        As for a study (`fit.study.settled_study`).
    before : the study of the saddle as it is, where there is one already
    progress : told `(done, of, doing)`

    Returns
    -------
    AlterationPlan; Undetermined where the saddle is not rigid, or does not come to rest as it is

    Raises
    ------
    InputProblemsError
        If the fit is not usable; every problem is listed.
    """
    policy, told = policy or Policy(), progress or _silent
    if not fit.saddle.family.is_rigid:
        return why_not(fit.saddle.family)
    told(0, 3, "looking at it as it is")
    fit = replace(fit, cases=study_cases(fit.saddle, USUAL_LIFT_MM))

    def _look(alteration: Alteration) -> FitStudy:
        return try_alteration(
            fit, alteration, horse=horse, criteria=criteria, stations=stations, inputs=inputs
        )

    before = before or _look(Alteration())
    aimed = aimed_at(fit, allowed, policy, PLAN_POINTS)
    if isinstance(aimed, Undetermined):
        return aimed
    told(1, 3, "seeking the least change")
    found = search(aimed, lambda doing: told(1, 3, doing))
    if isinstance(found, Undetermined):
        return found
    told(2, 3, "looking at what comes of it")
    alteration = alteration_of(aimed.variables, found.best.x)
    after = before if alteration.is_nothing else _look(alteration)
    alteration, after = best_option(alteration, after, allowed, policy, _look)
    changes = changes_of(before, after)
    if not is_worth_it(changes, found.start.misfit, found.best.misfit) and alteration.moved_mm:
        alteration, after, changes = Alteration(), before, changes_of(before, before)
        found = replace(found, best=found.start)
    told(3, 3, "done")
    return AlterationPlan(
        alteration=alteration,
        policy=policy,
        before=before,
        after=after,
        misfit_before=found.start.misfit,
        misfit_after=found.best.misfit,
        misfit_free=found.free.misfit,
        binding=binding_limits(aimed.variables, allowed, found, policy),
        changes=changes,
    )


def hand_plan(
    fit: FitProblem,
    alteration: Alteration,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    stations: tuple[Station, ...] = (),
    inputs: StudyInputs | None = None,
    before: FitStudy | None = None,
) -> AlterationPlan | Undetermined:
    """Return a plan that a person made, looked at like one that was sought; no limits hold it.

    Parameters
    ----------
    fit : the saddle as it is on the back
    alteration : what the person wants
    horse, criteria, stations, inputs, before
        As for `plan_alteration`.

    Returns
    -------
    AlterationPlan; Undetermined where the saddle is not rigid

    Raises
    ------
    InputProblemsError
        If the fit is not usable, or a strap is asked for that the saddle has not got.
    """
    if not fit.saddle.family.is_rigid:
        return why_not(fit.saddle.family)

    def _look(wanted: Alteration) -> FitStudy:
        return try_alteration(fit, wanted, horse=horse, criteria=criteria, stations=stations, inputs=inputs)

    before = before or _look(Alteration())
    after = _look(alteration)
    misfit = _misfit(altered_problem(fit, alteration))
    return AlterationPlan(
        alteration=alteration,
        policy=Policy(),
        before=before,
        after=after,
        misfit_before=_misfit(fit),
        misfit_after=misfit,
        misfit_free=misfit,
        binding=(),
        changes=changes_of(before, after),
    )


def _misfit(fit: FitProblem) -> float:
    aimed = aimed_at(fit, NOTHING_ALLOWED, Policy(), PLAN_POINTS)
    if isinstance(aimed, Undetermined):
        return inf
    held = lies(aimed, np.zeros(0))
    return inf if isinstance(held, Undetermined) else held.misfit


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


def try_alteration(
    fit: FitProblem,
    alteration: Alteration,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    stations: tuple[Station, ...] = (),
    inputs: StudyInputs | None = None,
) -> FitStudy:
    """Settle and judge the saddle after a change made by hand; at once, so without confidence.

    Raises
    ------
    InputProblemsError
        If the fit is not usable, or a strap is asked for that the saddle has not got.
    """
    changed = altered_problem(replace(fit, cases=study_cases(fit.saddle, USUAL_LIFT_MM)), alteration)
    return settled_study(changed, stations=stations, horse=horse, criteria=criteria, inputs=inputs)


def quick_plan(fit: FitProblem, allowed: Alterable, policy: Policy | None = None) -> QuickPlan | Undetermined:
    """Return a plan from one settled state and its slopes.

    The saddle is not settled again and steps need not be workable. It ranks what saddles of a stock may
    become; `plan_alteration` makes the plan of those that are shown. 250 to 500 points are enough.
    """
    aimed = aimed_at(fit, allowed, policy or Policy())
    if isinstance(aimed, Undetermined):
        return aimed
    start = lies(aimed, np.zeros(len(aimed.variables)))
    if isinstance(start, Undetermined):
        return start
    slopes = jacobian(aimed, start)
    if isinstance(slopes, Undetermined):
        return slopes
    low = np.array([one.least for one in aimed.variables])
    high = np.array([one.most for one in aimed.variables])
    x = least_within(quadratic(aimed, start, slopes), low, high, tolerance=ROUGHLY_MM)
    foretold = start.residual + slopes @ x
    alteration = alteration_of(aimed.variables, x)
    return QuickPlan(
        alteration=alteration,
        misfit_before=start.misfit,
        misfit_after=float(foretold @ foretold),
        moved_mm=alteration.moved_mm,
    )


def with_plan_confidence(
    plan: AlterationPlan,
    estimated: EstimatedBack,
    fit: FitProblem,
    *,
    criteria: Criteria = DEFAULT_CRITERIA,
    cloud: CloudSettings | None = None,
    progress: Told | None = None,
) -> AlterationPlan:
    """Return the plan with the confidence of every finding, before and after, tried on the same variations.

    Parameters
    ----------
    plan : AlterationPlan
    estimated : the back with its posterior
    fit : the saddle as it is, as given to `plan_alteration`
    criteria, cloud, progress
        As for a study.
    """
    cloud, told = cloud or CloudSettings(), progress or _silent
    told(0, 2, f"trying {cloud.draws} variations of it as it is")
    before = _surer(plan.before, estimated, fit, criteria, cloud)
    told(1, 2, f"trying {cloud.draws} variations of it as altered")
    after = _surer(plan.after, estimated, altered_problem(fit, plan.alteration), criteria, cloud)
    told(2, 2, "done")
    return replace(plan, before=before, after=after, changes=changes_of(before, after))


def _surer(
    study: FitStudy, estimated: EstimatedBack, fit: FitProblem, criteria: Criteria, cloud: CloudSettings
) -> FitStudy:
    if study.draws:
        return study
    put = with_tries(study.put, estimated, fit, study.horse, criteria, cloud)
    return replace(study, put=put, draws=cloud.draws, seed=cloud.seed)
