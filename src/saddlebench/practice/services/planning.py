"""Seeking an alteration plan for a recorded fit check, or looking at one set by hand; recorded elsewhere."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Study, StudyVersion
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.checking import CannotBeJudgedError, request_of_run, run_of
from saddlebench.practice.services.deeds import own
from saddlebench.practice.services.visits import refuse_if_stopped

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration, AlterationPlan, Policy
    from saddlebench.engine.fit.study import FitStudy, Progress
    from saddlebench.engine.saddle.record import SaddleRecord
    from saddlebench.exchange.planning import PlanTask
    from saddlebench.exchange.records import PlanDocument


def refuse_stopped_plan(actor: Actor | None, study_uuid: uuids.UUID) -> None:
    """Refuse to plan where a stop stands at the check's visit, or at the horse's last one.

    Raises
    ------
    StoppedError
        If a stop stands.
    NotFoundError
        If the practice has no such fit check.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    study = own(Study, allowed, study_uuid)
    refuse_if_stopped(study.visit, study.horse, study.saddle)


def compute_plan(
    actor: Actor | None,
    study_uuid: uuids.UUID,
    number: int,
    policy: "Policy",
    wanted: "Alteration | None" = None,
    progress: "Progress | None" = None,
) -> "PlanDocument":
    """Seek a plan for a run of a fit check (or look at the one that is `wanted`), with how sure it is.

    Raises
    ------
    CannotBeJudgedError
        If nothing can be planned for this saddle.
    InputProblemsError
        With everything that stops the records from being judged.
    NotFoundError
        If the practice has no such run.
    """
    # The engine and its records load numba: seconds that only this act should cost.
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.job import quiet  # noqa: PLC0415
    from saddlebench.exchange.planning import planned, task_of  # noqa: PLC0415
    from saddlebench.exchange.records import (  # noqa: PLC0415
        BackDocument,
        PlanDocument,
        StudyDocument,
        parse_document,
    )

    allowed = require(actor, Action.RECORD_STUDY)
    run = run_of(allowed, study_uuid, number)
    then = parse_document(StudyDocument, run.document, run.study.label)
    back = parse_document(BackDocument, run.back_version.document, run.back_version.back.label).record()
    before = then.study()
    task = task_of(
        measured(back, before.inputs.own_errors), _saddle_of(run), request_of_run(then), before.inputs
    )
    if isinstance(task, Undetermined):
        raise CannotBeJudgedError(task.reason)
    made = planned(replace(task, before=before), policy, wanted, progress=progress or quiet)
    if isinstance(made, Undetermined):
        raise CannotBeJudgedError(made.reason)
    return PlanDocument.of(made.plan, made.bedding, by_hand=made.by_hand)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtHand:
    """A run of a fit check with its saddle's record, ready to be tried by hand."""

    study: "FitStudy"
    record: "SaddleRecord"
    task: "PlanTask"


def at_hand(actor: Actor | None, study_uuid: uuids.UUID, number: int, study: "FitStudy") -> AtHand:
    """Return what trying by hand needs; `study` is the run's own result, read already.

    Raises
    ------
    NotFoundError
        If the practice has no such run.
    """
    from saddlebench.exchange.limits import own_limits_of  # noqa: PLC0415
    from saddlebench.exchange.planning import task_of_study  # noqa: PLC0415

    run = run_of(require(actor, Action.SEE_HORSES), study_uuid, number)
    record = _saddle_of(run)
    task = task_of_study(study, record)
    task = replace(task, request=replace(task.request, own_limits=own_limits_of(study)))
    return AtHand(study=study, record=record, task=task)


def try_by_hand(held: AtHand, wanted: "Alteration") -> "AlterationPlan":
    """Look at an alteration set by hand, at once: by the best estimate, without how sure that is.

    Raises
    ------
    CannotBeJudgedError
        If the saddle is not one that the model covers.
    InputProblemsError
        If the alteration does not make a fit.
    """
    from saddlebench.engine.alter import hand_plan  # noqa: PLC0415
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA  # noqa: PLC0415

    own_limits = held.task.request.own_limits
    plan = hand_plan(
        held.task.fit,
        wanted,
        horse=held.task.request.horse,
        criteria=DEFAULT_CRITERIA if own_limits is None else own_limits.criteria(),
        inputs=held.task.inputs,
        before=held.study,
    )
    if isinstance(plan, Undetermined):
        raise CannotBeJudgedError(plan.reason)
    return plan


def plain_alteration(wanted: "Alteration") -> dict[str, Any]:
    """Return an alteration in plain values, as it waits in the queue."""
    from pydantic import TypeAdapter  # noqa: PLC0415

    from saddlebench.engine.alter import Alteration  # noqa: PLC0415

    held: dict[str, Any] = TypeAdapter(Alteration).dump_python(wanted, mode="json")
    return held


def alteration_of_plain(held: Mapping[str, Any]) -> "Alteration":
    """Return the alteration of plain values."""
    from pydantic import TypeAdapter  # noqa: PLC0415

    from saddlebench.engine.alter import Alteration  # noqa: PLC0415

    return TypeAdapter(Alteration).validate_python(held)


def _saddle_of(run: StudyVersion) -> "SaddleRecord":
    from saddlebench.exchange.records import SaddleDocument, parse_document  # noqa: PLC0415

    return parse_document(SaddleDocument, run.saddle_version.document, run.study.saddle.label).record()
