"""Running a fit check on recorded versions: computed outside any transaction, recorded as it came out."""

import uuid as uuids
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.models import BackVersion, Horse, SaddleVersion, Study, StudyVersion, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, own
from saddlebench.practice.services.limits import own_limits
from saddlebench.practice.services.measured_backs import errors_used
from saddlebench.practice.services.records import own_versions, record_run
from saddlebench.practice.services.visits import refuse_if_stopped

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import ErrorsUsed, FitStudy, Progress
    from saddlebench.engine.saddle.alterable import NotAlterable
    from saddlebench.exchange.changing import Change, Changed, OwnRange
    from saddlebench.exchange.job import StudyRequest
    from saddlebench.exchange.records import StudyDocument


class CannotBeJudgedError(SaddlebenchError):
    """The model does not cover this saddle; nothing is guessed."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rerun:
    """A recorded run made again."""

    document: Document
    is_same: bool
    """Whether every byte is as it was; a newer program may differ, and says so by its version."""


def refuse_stopped_visit(actor: Actor | None, horse: uuids.UUID, visit: uuids.UUID | None) -> None:
    """Refuse to ask for a fit check where a stop stands at the visit, or at the horse's last one.

    Raises
    ------
    StoppedError
        If a stop stands.
    NotFoundError
        If the practice has no such horse or visit.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    refuse_if_stopped(own(Visit, allowed, visit) if visit else None, own(Horse, allowed, horse), None)


def refuse_stopped_check(
    actor: Actor | None, *, back_version: uuids.UUID, saddle_version: uuids.UUID, visit: uuids.UUID | None
) -> None:
    """Refuse a fit check before it is computed, for what would refuse it when it is recorded.

    Raises
    ------
    StoppedError
        If a stop stands at its visit, or at the horse's last one where it is of none.
    NotFoundError
        If the practice has no such version or visit.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    back, saddle = own_versions(allowed, back_version, saddle_version)
    refuse_if_stopped(own(Visit, allowed, visit) if visit else None, back.back.horse, saddle.saddle)


def compute_check(
    actor: Actor | None,
    request: "StudyRequest",
    *,
    back_version: uuids.UUID,
    saddle_version: uuids.UUID,
    progress: "Progress | None" = None,
    first: "Callable[[FitStudy], None] | None" = None,
) -> Document:
    """Compute a fit check of two recorded versions; recording it is a second step.

    Parameters
    ----------
    actor : who asks
    request : what is asked
    back_version, saddle_version : what it is asked of
    progress : told how far it is
    first : given the check as the best estimate alone makes it, seconds before it is known how sure that is

    Raises
    ------
    CannotBeJudgedError
        If the model does not cover the saddle.
    InputProblemsError
        With everything that stops the records from being judged.
    NotFoundError
        If the practice has no such version.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    back, saddle = own_versions(allowed, back_version, saddle_version)
    if request.own_limits is None:
        request = replace(request, own_limits=own_limits(actor))
    return _computed(back, saddle, request, errors_used(allowed, back), progress, first)


def rerun_check(actor: Actor | None, run: StudyVersion, progress: "Progress | None" = None) -> Rerun:
    """Compute a recorded run again, on the versions it was run on and with what was asked then.

    Raises
    ------
    CannotBeJudgedError, InputProblemsError, NotFoundError
        As for computing it the first time.
    """
    # The engine and its records load numba: seconds that only this act should cost.
    from saddlebench.exchange.records import StudyDocument, parse_document  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    back, saddle = own_versions(allowed, run.back_version.uuid, run.saddle_version.uuid)
    then = parse_document(StudyDocument, run.document, run.study.label)
    document = _computed(back, saddle, request_of_run(then), then.inputs.own_errors, progress)
    return Rerun(document=document, is_same=document.sha256 == run.sha256)


def request_of_run(then: "StudyDocument") -> "StudyRequest":
    """Return what a recorded run was asked."""
    from saddlebench.engine.fit.loads import MORE_CASES  # noqa: PLC0415
    from saddlebench.exchange.job import StudyRequest  # noqa: PLC0415
    from saddlebench.exchange.limits import own_limits_of  # noqa: PLC0415

    shown = {step.case.name for step in then.states.steps}
    return StudyRequest(
        rider=then.rider,
        horse=then.horse,
        pads=then.pads,
        draws=then.tries,
        seed=then.seed,
        more_cases=tuple(case for case in MORE_CASES if case.name in shown),
        own_limits=own_limits_of(then.study()),
    )


def compute_changed(actor: Actor | None, study_uuid: uuids.UUID, number: int, change: "Change") -> "FitStudy":
    """Compute a run of a fit check with one thing changed, to be looked at and not recorded.

    Raises
    ------
    CannotBeJudgedError
        If the change cannot be computed on this saddle.
    InputProblemsError
        If the change is out of range, or does not make a check.
    NotFoundError
        If the practice has no such run.
    """
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.changing import changed_study, refuse_beyond  # noqa: PLC0415
    from saddlebench.exchange.records import (  # noqa: PLC0415
        BackDocument,
        SaddleDocument,
        StudyDocument,
        parse_document,
    )

    allowed = require(actor, Action.SEE_HORSES)
    run = run_of(allowed, study_uuid, number)
    back = parse_document(BackDocument, run.back_version.document, run.back_version.back.label).record()
    saddle = parse_document(SaddleDocument, run.saddle_version.document, run.study.label).record()
    then = parse_document(StudyDocument, run.document, run.study.label)
    request = request_of_run(then)
    refuse_beyond(saddle, saddle.pads if request.pads is None else request.pads, change)
    study = changed_study(measured(back, then.inputs.own_errors), saddle, request, change)
    if isinstance(study, Undetermined):
        raise CannotBeJudgedError(study.reason)
    return study


def change_ranges(
    actor: Actor | None, study_uuid: uuids.UUID, number: int
) -> "Mapping[Changed, OwnRange | NotAlterable]":
    """Return how far each thing may be changed on the saddle of a run, by the version it was run with.

    Raises
    ------
    NotFoundError
        If the practice has no such run.
    """
    from saddlebench.exchange.changing import Changed, own_range  # noqa: PLC0415
    from saddlebench.exchange.records import SaddleDocument, StudyDocument, parse_document  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    run = run_of(allowed, study_uuid, number)
    saddle = parse_document(SaddleDocument, run.saddle_version.document, run.study.label).record()
    pads = parse_document(StudyDocument, run.document, run.study.label).pads
    return {what: own_range(saddle, pads, what) for what in Changed}


def run_of(actor: Actor, study_uuid: uuids.UUID, number: int) -> StudyVersion:
    """Return one run of a check.

    Raises
    ------
    NotFoundError
        If the practice has no such check, or the check no such run.
    """
    runs = own(Study, actor, study_uuid).versions.filter(number=number)
    run = runs.select_related("study", "back_version__back", "saddle_version__saddle").first()
    if run is None:
        raise NotFoundError("run", number)
    return run


def run_again(
    actor: Actor | None, study_uuid: uuids.UUID, number: int, progress: "Progress | None" = None
) -> Rerun:
    """Compute one run of a fit check again, and tell whether every byte is as it was.

    Raises
    ------
    CannotBeJudgedError, InputProblemsError, NotFoundError
        As for computing it the first time; also if the practice has no such run.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    return rerun_check(actor, run_of(allowed, study_uuid, number), progress)


def run_on_current(
    actor: Actor | None, study_uuid: uuids.UUID, *, why: str = "", progress: "Progress | None" = None
) -> StudyVersion | None:
    """Run a check on its back and saddle as they are now, asked as before, and record it as a further run.

    It goes by the limits of its last run and by the errors that are in use today.

    Parameters
    ----------
    why : what is new; empty: that the versions are
    progress : told how far it is

    Returns
    -------
    The run; None where its last one was on these versions.

    Raises
    ------
    StoppedError
        If a stop stands at the visit.
    CannotBeJudgedError, InputProblemsError, NotFoundError
        As for computing it the first time.
    """
    from saddlebench.exchange.records import StudyDocument, parse_document  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    study = own(Study, allowed, study_uuid)
    last = study.current
    if last is None:
        raise NotFoundError("run", study_uuid)
    run = run_of(allowed, study_uuid, last.number)
    refuse_if_stopped(study.visit, study.horse, study.saddle)
    back, saddle = run.back_version.back.current, run.saddle_version.saddle.current
    if back is None or saddle is None:
        raise NotFoundError("version of a record", study_uuid)
    if (back.pk, saddle.pk) == (run.back_version.pk, run.saddle_version.pk):
        return None
    then = parse_document(StudyDocument, run.document, study.label)
    document = _computed(back, saddle, request_of_run(then), errors_used(allowed, back), progress)
    return record_run(
        actor,
        study_uuid,
        document,
        back_version=back.uuid,
        saddle_version=saddle.uuid,
        why=why or f"back version {back.number}, saddle version {saddle.number}",
        seen=last.number,
    ).version


def _computed(
    back: BackVersion,
    saddle: SaddleVersion,
    request: "StudyRequest",
    own_errors: "ErrorsUsed | None",
    progress: "Progress | None",
    first: "Callable[[FitStudy], None] | None" = None,
) -> Document:
    # The engine and its records load numba: seconds that only this act should cost.
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.engine.fit.study import StudyInputs  # noqa: PLC0415
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415
    from saddlebench.exchange.job import quiet, study_of  # noqa: PLC0415
    from saddlebench.exchange.records import (  # noqa: PLC0415
        BackDocument,
        SaddleDocument,
        parse_document,
    )

    back_record = parse_document(BackDocument, back.document, back.back.label).record()
    saddle_record = parse_document(SaddleDocument, saddle.document, saddle.saddle.label).record()
    surface = measured(back_record, own_errors)
    if first and request.draws:
        estimate = study_of(surface, saddle_record, replace(request, draws=0))
        if not isinstance(estimate, Undetermined):
            first(estimate)
    study = study_of(
        surface,
        saddle_record,
        request,
        inputs=StudyInputs(
            back_label=back_record.label,
            back_version=back.sha256,
            saddle_label=saddle_record.label,
            saddle_version=saddle.sha256,
            own_errors=own_errors,
        ),
        progress=progress or quiet,
    )
    if isinstance(study, Undetermined):
        raise CannotBeJudgedError(study.reason)
    return _written(study)


def _written(study: "FitStudy") -> Document:
    from saddlebench.exchange.records import StudyDocument, as_json  # noqa: PLC0415

    return Document(text=as_json(StudyDocument.of(study)))
