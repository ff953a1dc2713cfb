"""Withdrawing and putting back, and who entered what when."""

import uuid as uuids
from datetime import datetime
from enum import StrEnum

from django.http import HttpRequest
from ninja import Router

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.entries import EntryRow
from saddlebench.practice.queries.withdrawn import WithdrawnRow, withdrawn
from saddlebench.web.api.shapes import EntryShape
from saddlebench.web.base.interface import ByToken, Shape, ShortText, actor_of

router = Router(tags=["withdrawing"])


class Kept(StrEnum):
    """The kinds of record that can be withdrawn."""

    CLIENTS = "clients"
    YARDS = "yards"
    HORSES = "horses"
    SADDLES = "saddles"
    VISITS = "visits"
    PHOTOS = "photos"
    BACKS = "backs"
    STUDIES = "studies"
    RECHECKS = "rechecks"
    CAPTURES = "captures"
    INSTRUMENTS = "instruments"
    PLANS = "plans"
    ORDERS = "orders"
    CHOICES = "choices"


SUBJECTS: dict[Kept, Subject] = {
    Kept.CLIENTS: Subject.CLIENT,
    Kept.YARDS: Subject.YARD,
    Kept.HORSES: Subject.HORSE,
    Kept.SADDLES: Subject.SADDLE,
    Kept.VISITS: Subject.VISIT,
    Kept.PHOTOS: Subject.PHOTO,
    Kept.BACKS: Subject.BACK,
    Kept.STUDIES: Subject.STUDY,
    Kept.RECHECKS: Subject.RECHECK,
    Kept.CAPTURES: Subject.CAPTURE,
    Kept.INSTRUMENTS: Subject.INSTRUMENT,
    Kept.PLANS: Subject.PLAN,
    Kept.ORDERS: Subject.ORDER,
    Kept.CHOICES: Subject.CHOICE,
}


class StandingShape(Shape):
    """A record, and whether it stands."""

    uuid: uuids.UUID
    label: str
    withdrawn_at: datetime | None


class WithdrawnShape(Shape):
    """A withdrawn record."""

    subject: Subject
    uuid: uuids.UUID
    label: str
    at: datetime
    by: str


@router.get("withdrawn", auth=ByToken(Action.SEE_HORSES), response=list[WithdrawnShape])
def get_withdrawn(request: HttpRequest) -> list[WithdrawnRow]:
    """List the hundred records that were withdrawn last."""
    return list(withdrawn(actor_of(request)))


@router.post("{kind}/{uuid:uuid}/withdraw", auth=ByToken(Action.WITHDRAW), response=StandingShape)
def withdraw(request: HttpRequest, kind: Kept, uuid: uuids.UUID) -> object:
    """Withdraw a record: out of every list, and nothing of it lost."""
    return services.withdraw(actor_of(request), SUBJECTS[kind], uuid)


@router.post("{kind}/{uuid:uuid}/put-back", auth=ByToken(Action.WITHDRAW), response=StandingShape)
def put_back(request: HttpRequest, kind: Kept, uuid: uuids.UUID) -> object:
    """Put a withdrawn record back."""
    return services.put_back(actor_of(request), SUBJECTS[kind], uuid)


@router.get("entries/{uuid:uuid}", auth=ByToken(Action.SEE_ENTRIES), response=list[EntryShape])
def get_entries(request: HttpRequest, uuid: uuids.UUID, field: ShortText = "") -> list[EntryRow]:
    """List the last five hundred entries into a record or one of its fields, the newest first."""
    return list(queries.entries_of(actor_of(request), uuid, field=field))
