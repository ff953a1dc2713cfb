"""Asking for long work, stopping it, and asking for it again."""

import uuid as uuids
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, JobState
from saddlebench.practice.models import Job
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, SameMomentError
from saddlebench.practice.services.long_work import OVER, LongWork, StoppedOnRequestError, perform

_MOST_WAITING = 50
Arguments = Mapping[str, Value]


class TooMuchWaitingError(SaddlebenchError):
    """The worker has more to do than it takes on."""

    def __init__(self) -> None:
        super().__init__("Too many jobs are waiting already. Wait until some are done, then ask again.")


def ask_job(
    actor: Actor | None,
    work: LongWork,
    arguments: Arguments,
    *,
    action: Action,
    words: str,
    uuid: uuids.UUID | None = None,
    leads_to: str = "",
    back_to: str = "",
) -> uuids.UUID:
    """Keep what is asked for, queue it and return its name; asked again with one name, nothing happens.

    Parameters
    ----------
    work : what is to be done
    arguments : given to it by name; numbers, texts, lists and mappings of these
    action : what the actor must be allowed to do, now and when it is done
    words : what it is called on a page
    uuid : its name, chosen by the page that asks
    leads_to : address of what it will make
    back_to : address to go back to when it fails

    Raises
    ------
    TooMuchWaitingError
        If too much is waiting already.
    SameMomentError
        If the name is taken.
    """
    allowed = require(actor, action)
    chosen = uuid or uuids.uuid4()
    if not Job.objects.filter(practice_id=allowed.practice_id, uuid=chosen).exists():
        _refuse_too_much()
        asked: dict[str, Any] = {
            "action": action.value,
            "work": work.name,
            "arguments": dict(arguments),
            "words": words[:300],
            "leads_to": leads_to,
            "back_to": back_to,
        }
        try:
            with transaction.atomic():
                Job.objects.create(
                    uuid=chosen, practice_id=allowed.practice_id, **_asked_now(allowed), **asked
                )
                perform.enqueue(str(chosen))
        except IntegrityError as error:
            # The same form sent twice at one moment is one job; another practice's name is nobody's business.
            if not Job.objects.filter(practice_id=allowed.practice_id, uuid=chosen).exists():
                raise SameMomentError from error
    return chosen


def stop_job(actor: Actor | None, uuid: uuids.UUID) -> None:
    """Stop work: at once while it waits, at its next step while it runs; what is over stays as it is.

    Raises
    ------
    NotAllowedError
        If the actor could not have asked for it.
    NotFoundError
        If the practice has no such work.
    """
    job = _own(actor, uuid)
    now = timezone.now()
    said = str(StoppedOnRequestError())
    waiting = Job.objects.filter(pk=job.pk, state=JobState.WAITING.value)
    if not waiting.update(state=JobState.STOPPED.value, stop_asked_at=now, ended_at=now, said=said):
        Job.objects.filter(pk=job.pk, state=JobState.RUNNING.value).update(stop_asked_at=now)


def ask_job_again(actor: Actor | None, uuid: uuids.UUID) -> None:
    """Queue work again that was interrupted, stopped or failed; under its own name, so it records once.

    Raises
    ------
    NotAllowedError
        If the actor may not ask for it.
    NotFoundError
        If the practice has no such work.
    TooMuchWaitingError
        If too much is waiting already.
    """
    job = _own(actor, uuid)
    allowed = require(actor, Action(job.action))
    _refuse_too_much()
    ended = [state.value for state in OVER if state is not JobState.DONE]
    with transaction.atomic():
        if Job.objects.filter(pk=job.pk, state__in=ended).update(
            **_asked_now(allowed), done=0, of=0, doing="", so_far=[], said=""
        ):
            perform.enqueue(str(uuid))


def _asked_now(actor: Actor) -> dict[str, Any]:
    return {
        "asked_by_id": actor.user_id,
        "role": actor.role.value,
        "state": JobState.WAITING.value,
        "asked_at": timezone.now(),
        "started_at": None,
        "ended_at": None,
        "stop_asked_at": None,
    }


def _own(actor: Actor | None, uuid: uuids.UUID) -> Job:
    allowed = require(actor, Action.SEE_HORSES)
    job = Job.objects.filter(practice_id=allowed.practice_id, uuid=uuid).first()
    if job is None:
        raise NotFoundError("long work", uuid)
    require(actor, Action(job.action))
    return job


def _refuse_too_much() -> None:
    if Job.objects.filter(state=JobState.WAITING.value).count() >= _MOST_WAITING:
        raise TooMuchWaitingError
