"""Recording backs, saddles and fit checks: every version stays, one is current, nobody's is overwritten."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from saddlebench import __version__
from saddlebench.engine.errors import input_problem
from saddlebench.practice.documents import Document, check_record
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import (
    Back,
    BackVersion,
    Horse,
    Saddle,
    SaddleVersion,
    Study,
    StudyVersion,
    Visit,
)
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, NotFoundError, deed, own
from saddlebench.practice.services.numbers import queue_numbers
from saddlebench.practice.services.visits import refuse_if_stopped

_Version = TypeVar("_Version", BackVersion, SaddleVersion, StudyVersion)
_LONGEST_WHY = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded(Generic[_Version]):
    """A version that was recorded. Not current where another came since the one that was seen."""

    version: _Version
    is_current: bool
    current: _Version
    """What is current now: the version itself, or the other one to compare it with."""


def _facts(done: Deed, document: Document, schema_id: str, number: int, why: str) -> dict[str, object]:
    return {
        "made_at": done.audit.made_at,
        "made_by_id": done.actor.user_id,
        "number": number,
        "schema_id": schema_id,
        "document": document.text,
        "sha256": document.sha256,
        "why": why,
        "engine_version": __version__,
    }


def _check_why(why: str) -> str:
    words = why.strip()
    if len(words) > _LONGEST_WHY:
        msg = f"a reason has at most {_LONGEST_WHY} characters"
        raise input_problem(msg, "Shorten it.")
    return words


def _next_number(versions: object) -> int:
    last = versions.order_by("-number").first()  # type: ignore[attr-defined]
    return 1 if last is None else int(last.number) + 1


def _place(
    record: Back | Saddle | Study, version: _Version, current: _Version | None, seen: int
) -> Recorded[_Version]:
    """Make a version current, unless another one came since the one that was seen."""
    if current is not None and current.number != seen:
        return Recorded(version=version, is_current=False, current=current)
    record.current = version
    record.revision += 1
    record.save(update_fields=["current", "revision"])
    return Recorded(version=version, is_current=True, current=version)


def record_back(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    document: Document,
    *,
    measured_on: date,
    label: str = "",
    visit_uuid: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> Recorded[BackVersion]:
    """Record a horse's back; sending it again with the same uuid returns what was recorded.

    Raises
    ------
    InputProblemsError
        If the document cannot be what it claims to be.
    """
    allowed = require(actor, Action.RECORD_BACK)
    schema_id = check_record(document, Subject.BACK)
    chosen = uuid or uuids.uuid4()
    there = Back.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None and there.current is not None:
        return Recorded(version=there.current, is_current=True, current=there.current)
    with deed(actor, Action.RECORD_BACK, "record_back", Subject.BACK, chosen) as done:
        back = Back.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=label.strip()[:200] or measured_on.isoformat(),
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=own(Horse, allowed, horse_uuid),
            visit=own(Visit, allowed, visit_uuid) if visit_uuid else None,
            measured_on=measured_on,
        )
        version = BackVersion.objects.create(back=back, **_facts(done, document, schema_id, 1, ""))
        queue_numbers([version])
        return _place(back, version, None, 0)


def correct_back(
    actor: Actor | None, back_uuid: uuids.UUID, document: Document, *, why: str, seen: int
) -> Recorded[BackVersion]:
    """Record a corrected version of a back; the earlier ones stay as they were.

    Raises
    ------
    InputProblemsError
        If the document cannot be what it claims to be.
    """
    allowed = require(actor, Action.RECORD_BACK)
    schema_id = check_record(document, Subject.BACK)
    with deed(actor, Action.RECORD_BACK, "correct_back", Subject.BACK, back_uuid) as done:
        back = own(Back, allowed, back_uuid, locked=True)
        number = _next_number(back.versions)
        version = BackVersion.objects.create(
            back=back, **_facts(done, document, schema_id, number, _check_why(why))
        )
        queue_numbers([version])
        return _place(back, version, back.current, seen)


def record_saddle(
    actor: Actor | None, saddle_uuid: uuids.UUID, document: Document, *, why: str = "", seen: int = 0
) -> Recorded[SaddleVersion]:
    """Record a saddle as measured: the first time, or again after it was altered or read better.

    Raises
    ------
    InputProblemsError
        If the document cannot be what it claims to be.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    schema_id = check_record(document, Subject.SADDLE)
    with deed(actor, Action.RECORD_SADDLE, "record_saddle", Subject.SADDLE, saddle_uuid) as done:
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        number = _next_number(saddle.versions)
        version = SaddleVersion.objects.create(
            saddle=saddle, **_facts(done, document, schema_id, number, _check_why(why))
        )
        return _place(saddle, version, saddle.current, seen)


def own_versions(
    actor: Actor, back_uuid: uuids.UUID, saddle_uuid: uuids.UUID
) -> tuple[BackVersion, SaddleVersion]:
    """Return two versions of the actor's practice.

    Raises
    ------
    NotFoundError
        If the practice has no such version.
    """
    backs = BackVersion.objects.filter(uuid=back_uuid, back__practice_id=actor.practice_id)
    saddles = SaddleVersion.objects.filter(uuid=saddle_uuid, saddle__practice_id=actor.practice_id)
    back = backs.select_related("back__horse").first()
    saddle = saddles.select_related("saddle").first()
    if back is None:
        raise NotFoundError("version of a back record", back_uuid)
    if saddle is None:
        raise NotFoundError("version of a saddle record", saddle_uuid)
    return back, saddle


def record_study(
    actor: Actor | None,
    document: Document,
    *,
    back_version: uuids.UUID,
    saddle_version: uuids.UUID,
    label: str = "",
    visit_uuid: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> Recorded[StudyVersion]:
    """Record a fit check, with the versions it was run on; refused at a visit that was stopped.

    Raises
    ------
    StoppedError
        If a stop stands at the visit.
    InputProblemsError
        If the document cannot be what it claims to be.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    schema_id = check_record(document, Subject.STUDY)
    chosen = uuid or uuids.uuid4()
    there = Study.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None and there.current is not None:
        return Recorded(version=there.current, is_current=True, current=there.current)
    with deed(actor, Action.RECORD_STUDY, "record_study", Subject.STUDY, chosen) as done:
        back, saddle = own_versions(allowed, back_version, saddle_version)
        visit = own(Visit, allowed, visit_uuid) if visit_uuid else None
        refuse_if_stopped(visit, back.back.horse, saddle.saddle)
        study = Study.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=label.strip()[:200] or f"{saddle.saddle.label}, {back.back.label}"[:200],
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse_id=back.back.horse_id,
            saddle=saddle.saddle,
            visit=visit,
        )
        version = StudyVersion.objects.create(
            study=study, back_version=back, saddle_version=saddle, **_facts(done, document, schema_id, 1, "")
        )
        return _place(study, version, None, 0)


def record_run(
    actor: Actor | None,
    study_uuid: uuids.UUID,
    document: Document,
    *,
    back_version: uuids.UUID,
    saddle_version: uuids.UUID,
    why: str,
    seen: int,
) -> Recorded[StudyVersion]:
    """Record a further run of a fit check: on newer versions, with another pad, or by a newer program.

    Raises
    ------
    StoppedError
        If a stop stands at the visit.
    InputProblemsError
        If the versions are of another horse or saddle than the fit check, or the document is none.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    schema_id = check_record(document, Subject.STUDY)
    with deed(actor, Action.RECORD_STUDY, "record_run", Subject.STUDY, study_uuid) as done:
        study = own(Study, allowed, study_uuid, locked=True)
        back, saddle = own_versions(allowed, back_version, saddle_version)
        refuse_if_stopped(study.visit, study.horse, study.saddle)
        if back.back.horse_id != study.horse_id or saddle.saddle_id != study.saddle_id:
            raise input_problem("this is another horse or saddle", "Make a new fit check for it.")
        facts = _facts(done, document, schema_id, _next_number(study.versions), _check_why(why))
        version = StudyVersion.objects.create(study=study, back_version=back, saddle_version=saddle, **facts)
        return _place(study, version, study.current, seen)


def choose_version(
    actor: Actor | None, subject: Subject, uuid: uuids.UUID, number: int
) -> Back | Saddle | Study:
    """Make another version the current one: after two people recorded at once, or to go back.

    Raises
    ------
    NotFoundError
        If there is no such version.
    """
    kinds: dict[Subject, tuple[type[Back] | type[Saddle] | type[Study], Action]] = {
        Subject.BACK: (Back, Action.RECORD_BACK),
        Subject.SADDLE: (Saddle, Action.RECORD_SADDLE),
        Subject.STUDY: (Study, Action.RECORD_STUDY),
    }
    model, action = kinds[subject]
    allowed = require(actor, action)
    with deed(actor, action, "choose_version", subject, uuid):
        record = own(model, allowed, uuid, locked=True)
        version = record.versions.filter(number=number).first()
        if version is None:
            raise NotFoundError("version", number)
        record.current = version
        record.revision += 1
        record.save(update_fields=["current", "revision"])
        return record
