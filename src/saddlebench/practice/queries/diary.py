"""What is planned, and who is due."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from saddlebench.practice.enums import Action, VisitState
from saddlebench.practice.models import Recheck, Visit
from saddlebench.practice.rules import Actor, may, require

_MOST_OVERDUE = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry:
    """A visit that is planned or under way, or a re-check that is due."""

    uuid: uuids.UUID
    is_recheck: bool
    day: date
    """The visit's day; of a re-check the last day it is due."""
    due_from: date | None
    starts_at: datetime | None
    """With its own zone; None where no hour is set."""
    horse: str
    horse_uuid: uuids.UUID | None
    place: str
    client: str
    reason: str
    made_at: datetime
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Diary:
    """The days asked for, in order; those overdue before them."""

    first: date
    last: date
    overdue: tuple[DiaryEntry, ...]
    """The latest of them; `n_overdue` counts all."""
    n_overdue: int
    entries: tuple[DiaryEntry, ...]


def diary(actor: Actor | None, first: date, last: date) -> Diary:
    """Return visits planned or under way and re-checks due from one day to another, both included."""
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    visits = (
        Visit.objects.of(allowed.practice_id)
        .standing()
        .filter(date__range=(first, last))
        .exclude(state=VisitState.FINISHED.value)
        .select_related("horse__client", "yard")
    )
    rechecks = (
        Recheck.objects.of(allowed.practice_id)
        .standing()
        .filter(done_visit=None, horse__withdrawn_at=None, due_from__lte=last)
        .select_related("horse__client", "horse__yard")
    )
    late = rechecks.filter(due_by__lt=first)
    entries = [_visit(visit, people=people) for visit in visits]
    entries += [_recheck(recheck, people=people) for recheck in rechecks.filter(due_by__gte=first)]
    latest = late.order_by("-due_by", "-id")[:_MOST_OVERDUE]
    overdue = [_recheck(recheck, people=people) for recheck in latest]
    return Diary(
        first=first,
        last=last,
        overdue=tuple(sorted(overdue, key=lambda e: (e.day, e.horse))),
        n_overdue=late.count(),
        entries=tuple(
            sorted(
                entries,
                key=lambda e: (
                    e.day,
                    e.starts_at.time() if e.starts_at else time.min,
                    e.horse,
                ),
            )
        ),
    )


def _visit(visit: Visit, *, people: bool) -> DiaryEntry:
    horse = visit.horse
    hour = visit.starts_at
    return DiaryEntry(
        uuid=visit.uuid,
        is_recheck=False,
        day=visit.date,
        due_from=None,
        starts_at=datetime.combine(visit.date, hour, ZoneInfo(visit.zone)) if hour else None,
        horse=horse.label if horse else visit.label,
        horse_uuid=horse.uuid if horse else None,
        place=visit.yard.label if people and visit.yard else "",
        client=horse.client.label if people and horse and horse.client else "",
        reason=visit.purpose,
        made_at=visit.made_at,
        revision=visit.revision,
    )


def _recheck(recheck: Recheck, *, people: bool) -> DiaryEntry:
    horse = recheck.horse
    return DiaryEntry(
        uuid=recheck.uuid,
        is_recheck=True,
        day=recheck.due_by,
        due_from=recheck.due_from,
        starts_at=None,
        horse=horse.label,
        horse_uuid=horse.uuid,
        place=horse.yard.label if people and horse.yard else "",
        client=horse.client.label if people and horse.client else "",
        reason=recheck.reason,
        made_at=recheck.made_at,
        revision=recheck.revision,
    )
