"""What is planned, and who is due."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from saddlebench.practice.enums import Action, DiaryKind, VisitState
from saddlebench.practice.models import Recheck, Visit
from saddlebench.practice.queries.orders import order_days
from saddlebench.practice.queries.stock import trial_ends
from saddlebench.practice.rules import Actor, may, require

_MOST_OVERDUE = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry:
    """A visit planned or under way, a re-check that is due, a work order's day, or the end of a trial."""

    uuid: uuids.UUID
    """Of the visit, the re-check, the order, or the saddle on trial."""
    kind: DiaryKind
    day: date
    """The visit's day; of a re-check the last day it is due; when an order is due, a saddle to be back."""
    due_from: date | None
    starts_at: datetime | None
    """With its own zone; None where no hour is set."""
    label: str
    """What it is about: the horse's name, the order's, or the saddle's."""
    horse: str
    """Empty for a trial, and where no horse is said yet."""
    horse_uuid: uuids.UUID | None
    place: str
    client: str
    reason: str
    """Purpose of a visit, reason of a re-check, step of an order; empty for a trial."""
    made_at: datetime
    revision: int

    @property
    def is_recheck(self) -> bool:
        """Whether a horse is to be seen again."""
        return self.kind is DiaryKind.RECHECK


@dataclass(frozen=True, slots=True, kw_only=True)
class Diary:
    """The days asked for, in order; those overdue before them."""

    first: date
    last: date
    overdue: tuple[DiaryEntry, ...]
    """The latest of them; `n_overdue` counts all."""
    n_overdue: int
    entries: tuple[DiaryEntry, ...]


def diary(actor: Actor | None, first: date, last: date, *, shop: bool = True) -> Diary:
    """Return what is planned or due from one day to another, both included.

    Parameters
    ----------
    shop : with the days of work orders and the ends of trials
    """
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
    days = _shop_days(allowed, last) if shop else []
    entries += [one for one in days if one.day >= first]
    overdue += [one for one in days if one.day < first]
    return Diary(
        first=first,
        last=last,
        overdue=tuple(sorted(overdue, key=lambda e: (e.day, e.label))),
        n_overdue=late.count() + sum(one.day < first for one in days),
        entries=tuple(
            sorted(
                entries,
                key=lambda e: (
                    e.day,
                    e.starts_at.time() if e.starts_at else time.min,
                    e.label,
                ),
            )
        ),
    )


def _visit(visit: Visit, *, people: bool) -> DiaryEntry:
    horse = visit.horse
    hour = visit.starts_at
    return DiaryEntry(
        uuid=visit.uuid,
        kind=DiaryKind.VISIT,
        day=visit.date,
        due_from=None,
        starts_at=datetime.combine(visit.date, hour, ZoneInfo(visit.zone)) if hour else None,
        label=horse.label if horse else visit.label,
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
        kind=DiaryKind.RECHECK,
        day=recheck.due_by,
        due_from=recheck.due_from,
        starts_at=None,
        label=horse.label,
        horse=horse.label,
        horse_uuid=horse.uuid,
        place=horse.yard.label if people and horse.yard else "",
        client=horse.client.label if people and horse.client else "",
        reason=recheck.reason,
        made_at=recheck.made_at,
        revision=recheck.revision,
    )


def _shop_days(actor: Actor, last: date) -> list[DiaryEntry]:
    """Return the days of open work orders and of trials, late ones included."""
    orders = [
        DiaryEntry(
            uuid=one.uuid,
            kind=DiaryKind.ORDER,
            day=one.due_on,
            due_from=None,
            starts_at=None,
            label=one.label,
            horse=one.horse.label,
            horse_uuid=one.horse.uuid,
            place=one.workshop,
            client="",
            reason=one.step.value,
            made_at=one.made_at,
            revision=one.state_number,
        )
        for one in order_days(actor, last)
        if one.due_on
    ]
    trials = [
        DiaryEntry(
            uuid=one.row.uuid,
            kind=DiaryKind.TRIAL,
            day=one.until,
            due_from=None,
            starts_at=None,
            label=one.row.label,
            horse="",
            horse_uuid=None,
            place=one.row.item.place,
            client=one.row.item.on_trial_with if one.is_named else "",
            reason="",
            made_at=one.since,
            revision=one.row.state_number,
        )
        for one in trial_ends(actor, last)
    ]
    return [*orders, *trials]
