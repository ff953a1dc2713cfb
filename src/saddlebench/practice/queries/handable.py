"""What can be handed over of a horse or a saddle."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date
from typing import Any

from saddlebench.practice.enums import Action, ChoiceKind, ComparisonKind, Subject, VisitState
from saddlebench.practice.models import (
    Back,
    Choice,
    Comparison,
    Horse,
    Photo,
    Plan,
    Saddle,
    Study,
    Visit,
    WorkOrder,
)
from saddlebench.practice.orders import NOT_SENT
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.photos import PhotoShown, shown_photo
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own

_MOST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Handable:
    """What can be handed over from a horse's or a saddle's page."""

    uuid: uuids.UUID
    label: str
    subject: Subject
    backs: tuple[Linked, ...]
    studies: tuple[Linked, ...]
    saddles: tuple[Linked, ...]
    plans: tuple[Linked, ...]
    orders: tuple[Linked, ...]
    """Those that were sent."""
    visits: tuple[Linked, ...]
    changes: tuple[Linked, ...]
    shortlists: tuple[Linked, ...]
    photos: tuple[PhotoShown, ...]
    """Films too."""


def handable_of_horse(actor: Actor | None, uuid: uuids.UUID) -> Handable:
    """Return what can be handed over of a horse.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.EXPORT)
    horse = own(Horse, allowed, uuid)
    backs = Back.objects.filter(horse=horse, withdrawn_at=None, current__isnull=False)
    studies = Study.objects.filter(horse=horse, withdrawn_at=None, current__isnull=False)
    saddles = Saddle.objects.filter(horses=horse, withdrawn_at=None)
    photos = Photo.objects.filter(horse=horse, withdrawn_at=None)
    visits = Visit.objects.standing().filter(horse=horse).exclude(state=VisitState.PLANNED.value)
    return Handable(
        uuid=horse.uuid,
        label=horse.label,
        subject=Subject.HORSE,
        backs=tuple(_linked(one, one.measured_on) for one in backs.order_by("-measured_on", "-id")[:_MOST]),
        studies=tuple(_linked(one, one.made_at.date()) for one in studies.order_by("-made_at")[:_MOST]),
        saddles=tuple(_linked(one) for one in saddles.order_by("label", "id")[:_MOST]),
        plans=_plans(Plan.objects.filter(horse=horse)),
        orders=_orders(WorkOrder.objects.filter(horse=horse)),
        visits=tuple(
            Linked(uuid=one.uuid, label=one.label, day=one.date, detail=one.purpose)
            for one in visits.order_by("-date", "-id")[:_MOST]
        ),
        changes=_changes(horse),
        shortlists=_shortlists(horse),
        photos=_photos(photos),
    )


def handable_of_saddle(actor: Actor | None, uuid: uuids.UUID) -> Handable:
    """Return what can be handed over of a saddle.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.EXPORT)
    saddle = own(Saddle, allowed, uuid)
    studies = Study.objects.filter(saddle=saddle, withdrawn_at=None, current__isnull=False)
    photos = Photo.objects.filter(saddle=saddle, withdrawn_at=None)
    return Handable(
        uuid=saddle.uuid,
        label=saddle.label,
        subject=Subject.SADDLE,
        backs=(),
        studies=tuple(_linked(one, one.made_at.date()) for one in studies.order_by("-made_at")[:_MOST]),
        saddles=(_linked(saddle),),
        plans=_plans(Plan.objects.filter(saddle=saddle)),
        orders=_orders(WorkOrder.objects.filter(saddle=saddle)),
        visits=(),
        changes=(),
        shortlists=(),
        photos=_photos(photos),
    )


def _plans(rows: Any) -> tuple[Linked, ...]:
    standing = rows.filter(withdrawn_at=None, study__withdrawn_at=None, horse__withdrawn_at=None)
    return tuple(_linked(one, one.made_at.date()) for one in standing.order_by("-made_at", "-id")[:_MOST])


def _changes(horse: Horse) -> tuple[Linked, ...]:
    """Return a horse's change studies whose backs all stand, the newest first."""
    rows = Comparison.objects.filter(horse=horse, kind=ComparisonKind.CHANGE.value).defer("document")
    found = list(rows.order_by("-id")[:_MOST])
    named = {uuids.UUID(one["back"]) for row in found for one in row.made_of["backs"]}
    standing = set(Back.objects.standing().filter(uuid__in=named).values_list("uuid", flat=True))
    return tuple(
        Linked(uuid=row.uuid, label=row.label, day=row.made_at.date())
        for row in found
        if {uuids.UUID(one["back"]) for one in row.made_of["backs"]} <= standing
    )


def _shortlists(horse: Horse) -> tuple[Linked, ...]:
    rows = Choice.objects.standing().filter(horse=horse, kind=ChoiceKind.SHORTLIST.value).defer("document")
    return tuple(
        Linked(uuid=row.uuid, label=row.label, day=row.made_at.date()) for row in rows.order_by("-id")[:_MOST]
    )


def _orders(rows: Any) -> tuple[Linked, ...]:
    sent = rows.filter(withdrawn_at=None, horse__withdrawn_at=None).exclude(step__in=NOT_SENT)
    return tuple(
        Linked(uuid=one.uuid, label=one.label, day=one.due_on, detail=one.step)
        for one in sent.order_by("-made_at", "-id")[:_MOST]
    )


def _linked(row: Back | Study | Saddle | Plan, day: date | None = None) -> Linked:
    return Linked(uuid=row.uuid, label=row.label, day=day)


def _photos(rows: Any) -> tuple[PhotoShown, ...]:
    found = rows.select_related("visit", "horse", "saddle", "made_by").order_by("-made_at", "-id")[:_MOST]
    return tuple(shown_photo(one, people=False) for one in found)
