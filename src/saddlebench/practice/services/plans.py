"""Recording plans and choices: written once under the name of the work that made them."""

import json
import uuid as uuids
from collections.abc import Mapping
from math import isfinite
from typing import Any

from saddlebench import __version__
from saddlebench.practice.documents import Document, check_document, check_record
from saddlebench.practice.enums import Action, ChoiceKind, Subject
from saddlebench.practice.models import Choice, Horse, Plan, Saddle, Study
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own
from saddlebench.practice.services.visits import refuse_if_stopped


def record_plan(
    actor: Actor | None,
    document: Document,
    *,
    study_uuid: uuids.UUID,
    number: int,
    uuid: uuids.UUID | None = None,
) -> Plan:
    """Record a plan for a run of a fit check; recorded twice under one uuid it is recorded once.

    Parameters
    ----------
    document : an alteration plan
    study_uuid, number : the run that it was made from
    uuid : its name; that of the work that made it

    Raises
    ------
    StoppedError
        If a stop stands.
    InputProblemsError
        If the document is none.
    NotFoundError
        If the practice has no such run.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    schema_id = check_record(document, Subject.PLAN)
    chosen = uuid or uuids.uuid4()
    there = Plan.objects.filter(practice_id=allowed.practice_id, uuid=chosen).first()
    if there is not None:
        return there
    told = _told_of(document)
    with deed(actor, Action.RECORD_STUDY, "record_plan", Subject.PLAN, chosen) as done:
        study = own(Study, allowed, study_uuid)
        if not study.versions.filter(number=number).exists():
            raise NotFoundError("run", number)
        refuse_if_stopped(study.visit, study.horse, study.saddle)
        return Plan.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=study.horse,
            saddle=study.saddle,
            study=study,
            run=number,
            label=study.label,
            told=told,
            schema_id=schema_id,
            document=document.text,
            sha256=document.sha256,
            engine_version=__version__,
        )


def _told_of(document: Document) -> dict[str, Any]:
    """Return a plan in short, as lists show it."""
    # The engine's types load numba: seconds that only this act should cost.
    from saddlebench.engine.alter import Turn  # noqa: PLC0415
    from saddlebench.exchange.records import PlanDocument, parse_document  # noqa: PLC0415

    held = parse_document(PlanDocument, document.text, "alteration plan")
    changes = held.found()
    misfit = (held.misfit_before, held.misfit_after)
    return {
        "aim": held.policy.aim.value,
        "by_hand": held.by_hand,
        "nothing": held.alteration.is_nothing,
        "better": sum(one.turn is Turn.BETTER for one in changes),
        "worse": sum(one.turn is Turn.WORSE for one in changes),
        "still_off": sum(one.is_still_off for one in changes),
        "uneven_percent": [round(100.0 * one**0.5, 1) if isfinite(one) else None for one in misfit],
        "moved_mm": round(held.alteration.moved_mm, 1),
    }


def record_choice(
    actor: Actor | None,
    kind: ChoiceKind,
    found: Mapping[str, Any],
    *,
    label: str,
    asked: Mapping[str, Any],
    horse_uuid: uuids.UUID | None = None,
    saddle_uuid: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> Choice:
    """Record what was chosen from the stock; recorded twice under one uuid it is recorded once.

    Raises
    ------
    NotFoundError
        If the practice has no such horse or saddle.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    chosen = uuid or uuids.uuid4()
    there = Choice.objects.filter(practice_id=allowed.practice_id, uuid=chosen).first()
    if there is not None:
        return there
    document = Document(text=json.dumps(found, ensure_ascii=False, allow_nan=False))
    check_document(document)
    with deed(actor, Action.RECORD_STUDY, "record_choice", Subject.CHOICE, chosen) as done:
        return Choice.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            kind=kind.value,
            horse=own(Horse, allowed, horse_uuid) if horse_uuid else None,
            saddle=own(Saddle, allowed, saddle_uuid) if saddle_uuid else None,
            label=label[:200],
            asked=dict(asked),
            document=document.text,
            sha256=document.sha256,
            engine_version=__version__,
        )
