"""Long work as a page shows it."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from saddlebench.practice.enums import Action, JobState
from saddlebench.practice.models import Job
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.long_work import OVER, SoFar

_MOST_LISTED = 50
_LATELY = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """One piece of long work."""

    uuid: uuids.UUID
    words: str
    state: JobState
    done: int
    of: int
    doing: str
    so_far: tuple[SoFar, ...]
    leads_to: str
    back_to: str
    said: str
    asked_by: str
    asked_at: datetime
    ended_at: datetime | None
    is_stopping: bool
    may_change: bool
    """Whether the reader may stop it, or ask for it again."""

    @property
    def is_over(self) -> bool:
        """Whether nothing more happens by itself."""
        return self.state in OVER

    @property
    def goes_on(self) -> bool:
        """Whether what it made is shown next; what there is to say is read before one goes on."""
        return self.state is JobState.DONE and bool(self.leads_to) and not self.said

    @property
    def can_be_asked_again(self) -> bool:
        """Whether it ended without making what was asked for."""
        return self.is_over and self.state is not JobState.DONE


def job_page(actor: Actor | None, uuid: uuids.UUID) -> JobPage:
    """Return one piece of long work of the actor's practice.

    Raises
    ------
    NotFoundError
        If the practice has none of that name, or not any more.
    """
    allowed = require(actor, Action.SEE_HORSES)
    row = Job.objects.filter(practice_id=allowed.practice_id, uuid=uuid).select_related("asked_by").first()
    if row is None:
        raise NotFoundError("long work", uuid)
    return _page(allowed, row)


def jobs_page(actor: Actor | None) -> tuple[JobPage, ...]:
    """Return the practice's latest long work, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Job.objects.filter(practice_id=allowed.practice_id).select_related("asked_by")
    return tuple(_page(allowed, row) for row in rows.order_by("-asked_at", "-id")[:_MOST_LISTED])


def interrupted_jobs(actor: Actor | None) -> tuple[JobPage, ...]:
    """Return what was interrupted lately and nobody asked for again, where the actor may ask."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Job.objects.filter(
        practice_id=allowed.practice_id,
        state=JobState.INTERRUPTED.value,
        ended_at__gte=timezone.now() - _LATELY,
    ).select_related("asked_by")
    return tuple(one for one in (_page(allowed, row) for row in rows.order_by("id")) if one.may_change)


def _page(actor: Actor, row: Job) -> JobPage:
    return JobPage(
        uuid=row.uuid,
        words=row.words,
        state=JobState(row.state),
        done=row.done,
        of=row.of,
        doing=row.doing,
        so_far=tuple(SoFar(**one) for one in row.so_far),
        leads_to=row.leads_to,
        back_to=row.back_to,
        said=row.said,
        asked_by=row.asked_by.label,
        asked_at=row.asked_at,
        ended_at=row.ended_at,
        is_stopping=row.stop_asked_at is not None,
        may_change=may(actor, Action(row.action), actor.practice_id),
    )
