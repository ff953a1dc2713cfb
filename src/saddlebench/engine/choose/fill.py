"""What changing the fill would make of a saddle: a plan from the slopes, in workable steps, settled again."""

from dataclasses import dataclass, replace

from saddlebench.engine.alter import Alteration, altered, quick_plan
from saddlebench.engine.choose.assess import (
    COARSE_POINTS,
    FINE_POINTS,
    Assessed,
    AssessJob,
    assess_model,
    fit_problem,
)
from saddlebench.engine.choose.models import model_for
from saddlebench.engine.choose.variants import Shape
from saddlebench.engine.errors import InputProblemsError, Undetermined
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.saddle.alterable import Alterable, FillRange, NotAlterable
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.zones import ByZone, Filling

ONLY_FILL = NotAlterable(reason="only the fill is tried here; the arch has its own place in the list")


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterFill:
    """A shape with its fill changed."""

    alteration: Alteration
    assessed: Assessed


def after_fill(job: AssessJob, shape: Shape) -> AfterFill | Undetermined:
    """Return a shape with the fill that suits this back best, settled in full; or why there is none."""
    allowed = shape.record.alterable
    step = next(
        (one.step_mm for one in (allowed.fill_left, allowed.fill_right) if isinstance(one, FillRange)), None
    )
    if step is None:
        return Undetermined("its fill is not to be changed")
    try:
        return _after(job, shape, _fill_only(allowed), step)
    except InputProblemsError as error:
        return Undetermined(error.problems[0].what)


def _fill_only(allowed: Alterable) -> Alterable:
    return replace(allowed, arch=ONLY_FILL, shims=ONLY_FILL, straps=ONLY_FILL, pad=ONLY_FILL)


def _after(job: AssessJob, shape: Shape, allowed: Alterable, step_mm: float) -> AfterFill | Undetermined:
    few, many = model_for(shape.record, COARSE_POINTS), model_for(shape.record, FINE_POINTS)
    if not isinstance(few, SaddleModel) or not isinstance(many, SaddleModel):
        return Undetermined("it cannot be judged")
    settings = SettleSettings(both_positions=False, coarse_points=0)
    plan = quick_plan(replace(fit_problem(job, few, shape), settings=settings), allowed)
    if isinstance(plan, Undetermined):
        return plan
    alteration = Alteration(
        fill_left=_workable(plan.alteration.fill_left, step_mm),
        fill_right=_workable(plan.alteration.fill_right, step_mm),
    )
    if alteration.is_nothing:
        return Undetermined("no workable change of its fill would better it")
    return AfterFill(alteration=alteration, assessed=assess_model(job, altered(many, alteration), shape))


def _workable(filling: Filling, step_mm: float) -> Filling:
    """Return the filling in whole steps: what is smaller than half a step is not done."""

    def whole(zones: ByZone) -> ByZone:
        front, waist, seat, rear = (step_mm * round(one / step_mm) + 0.0 for one in zones)
        return front, waist, seat, rear

    return Filling(inner_mm=whole(filling.inner_mm), outer_mm=whole(filling.outer_mm))
