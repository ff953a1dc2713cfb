"""Plans and work orders on files: a back (or a fit check) and a saddle become a plan, a plan an order."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from saddlebench.engine.alter import (
    Alteration,
    AlterationPlan,
    Policy,
    altered_problem,
    hand_plan,
    on_replica,
    plan_alteration,
    try_alteration,
    with_plan_confidence,
)
from saddlebench.engine.alter.bedding import Bedding, bedding_of, bench_alteration
from saddlebench.engine.alter.replica import USUAL_WEIGHT_KG, ReplicaCheck
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.confidence import CloudSettings
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.study import FitStudy, StudyInputs, StudySettings, study_problem
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.exchange.back_job import MeasuredBack, digest, measured
from saddlebench.exchange.job import StudyRequest, back_cautions, of_the_back, quiet
from saddlebench.exchange.records import StudyDocument, kind_of, read_back, read_saddle, read_study
from saddlebench.exchange.records.order import ArchPart

Told = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTask:
    """One saddle on one back, ready to be planned for."""

    fit: FitProblem
    saddle: SaddleRecord
    request: StudyRequest
    inputs: StudyInputs
    estimated: EstimatedBack | None
    """The back with its uncertainty; None where a fit check was given, which keeps none."""
    before: FitStudy | None = None
    of_the_back: tuple[str, ...] = ()
    """What has to be said of everything that is found on this back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan, and how it goes while new flock beds down."""

    task: PlanTask
    plan: AlterationPlan
    bedding: tuple[Bedding, ...] | Undetermined
    by_hand: bool


def task_of(
    back: MeasuredBack, saddle: SaddleRecord, request: StudyRequest, inputs: StudyInputs
) -> PlanTask | Undetermined:
    """Return the task of a measured back and a recorded saddle.

    Raises
    ------
    InputProblemsError
        With every fault of the saddle's underside.
    """
    model = model_of(saddle)
    if isinstance(model, NotMeasured | Undetermined):
        return Undetermined(f"“{saddle.label}” cannot be judged: {model.reason}")
    pads = saddle.pads if request.pads is None else request.pads
    fit = study_problem(
        back.estimated.surface, back.record.landmarks, model, pads, request.rider, StudySettings()
    )
    return PlanTask(
        fit=fit,
        saddle=saddle,
        request=request,
        inputs=inputs,
        estimated=back.estimated,
        of_the_back=back_cautions(back),
    )


def task_of_study(study: FitStudy, saddle: SaddleRecord) -> PlanTask:
    """Return the task of a fit check that was kept, and the record of its saddle."""
    fit = study_problem(
        study.surface, study.landmarks, study.saddle, study.pads, study.rider, StudySettings()
    )
    request = StudyRequest(rider=study.rider, horse=study.horse, pads=study.pads, draws=0)
    return PlanTask(
        fit=fit,
        saddle=saddle,
        request=request,
        inputs=study.inputs,
        estimated=None,
        before=study,
        of_the_back=of_the_back(study.cautions),
    )


def is_fit_check(path: Path) -> bool:
    """Tell whether a record file is a fit check.

    Raises
    ------
    InputProblemsError
        If it is no record of this program.
    OSError
        If it cannot be opened.
    """
    return kind_of(path) is StudyDocument


def task_of_files(back_or_fit: Path, saddle: Path, request: StudyRequest | None) -> PlanTask | Undetermined:
    """Return the task of two files; a fit check brings its own rider, horse and pads.

    Raises
    ------
    InputProblemsError
        With every fault of either file.
    OSError
        If a file cannot be opened.
    """
    record = read_saddle(saddle)
    if request is None:
        return task_of_study(read_study(back_or_fit), record)
    back = read_back(back_or_fit)
    inputs = StudyInputs(
        back_label=back.label,
        back_version=digest(back_or_fit),
        saddle_label=record.label,
        saddle_version=digest(saddle),
        criteria_label=StudyInputs().criteria_label
        if request.own_limits is None
        else request.own_limits.label,
    )
    return task_of(measured(back), record, request, inputs)


def planned(
    task: PlanTask, policy: Policy, wanted: Alteration | None = None, *, progress: Told = quiet
) -> Planned | Undetermined:
    """Seek a plan (or look at the one a person `wanted`), say how sure it is, and how new flock beds down.

    Raises
    ------
    InputProblemsError
        If back, saddle and load do not make a fit; every problem is listed.
    """
    own = task.request.own_limits
    criteria = DEFAULT_CRITERIA if own is None else own.criteria()
    stations = () if task.estimated is None else task.estimated.points.stations
    if wanted is None:
        plan = plan_alteration(
            task.fit,
            task.saddle.alterable,
            policy,
            horse=task.request.horse,
            criteria=criteria,
            stations=stations,
            inputs=task.inputs,
            before=task.before,
            progress=progress,
        )
    else:
        plan = hand_plan(
            task.fit,
            wanted,
            horse=task.request.horse,
            criteria=criteria,
            stations=stations,
            inputs=task.inputs,
            before=task.before,
        )
    if isinstance(plan, Undetermined):
        return plan
    if task.estimated is not None and task.request.draws:
        cloud = CloudSettings(draws=task.request.draws, seed=task.request.seed)
        plan = with_plan_confidence(
            plan, task.estimated, task.fit, criteria=criteria, cloud=cloud, progress=progress
        )
    told = tuple(dict.fromkeys((*plan.after.cautions, *task.of_the_back)))
    plan = replace(plan, after=replace(plan.after, cautions=told))
    bedding = bedding_of(
        plan.alteration, lambda change: try_alteration(task.fit, change, horse=task.request.horse)
    )
    return Planned(task=task, plan=plan, bedding=bedding, by_hand=wanted is not None)


def replica_of(
    task: PlanTask, alteration: Alteration, weight_kg: float = USUAL_WEIGHT_KG
) -> ReplicaCheck | Undetermined:
    """Return what the altered saddle, fresh from the bench, should do on the hard replica of this back."""
    bench = bench_alteration(replace(alteration, pad=None))
    return on_replica(altered_problem(replace(task.fit, pads=()), bench), weight_kg)


def arch_part(saddle: SaddleRecord, alteration: Alteration) -> ArchPart | None:
    """Return the front arch as found and as wanted, where it is to be set; None where it stays."""
    numbers = saddle.numbers
    if isinstance(numbers, CutBackNumbers):
        numbers = numbers.base
    if not alteration.arch_mm or not isinstance(numbers, PanelledNumbers):
        return None
    tree = numbers.tree
    return ArchPart(
        at_depth_mm=tree.depth_mm,
        found_mm=tree.width_mm,
        target_mm=tree.width_mm + alteration.arch_mm,
        found_angle_deg=tree.angle_deg,
        target_angle_deg=tree.angle_deg,
    )


def unsafe_of(lines: Sequence[str]) -> tuple[str, ...]:
    """Return unsafe things as they go on an order: trimmed, none twice."""
    return tuple(dict.fromkeys(line.strip() for line in lines if line.strip()))
