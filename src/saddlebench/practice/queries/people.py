"""Clients and members."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Prefetch, Q

from saddlebench.practice.catalogue import CLIENT_FIELDS, Value
from saddlebench.practice.enums import Action, Role
from saddlebench.practice.models import Client, Horse, Membership, Saddle
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import holding_terms, page_of
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import own

_LOOKED_IN = ("label", "organisation", "town", "postcode", "email", "phone", "phone_2")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientRow:
    """A client in a list."""

    uuid: uuids.UUID
    label: str
    town: str
    phone: str
    n_horses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientList:
    """A page of clients."""

    asked: str
    rows: tuple[ClientRow, ...]
    total: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientPage:
    """One client."""

    uuid: uuids.UUID
    label: str
    revision: int
    values: dict[str, Value]
    horses: tuple[Linked, ...]
    saddles: tuple[Linked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberRow:
    """A member of the practice."""

    uuid: uuids.UUID
    label: str
    email: str
    role: Role
    since: datetime


def find_clients(actor: Actor | None, text: str = "", *, page: int = 1) -> ClientList:
    """Find clients by any part of name, business, town, postcode, e-mail or telephone."""
    allowed = require(actor, Action.SEE_PEOPLE)
    everyone = Client.objects.of(allowed.practice_id).standing()
    rows = holding_terms(everyone, _LOOKED_IN, text)
    standing = Count("horses", filter=Q(horses__withdrawn_at=None))
    shown = page_of(rows.annotate(n_horses=standing).order_by("label", "id"), page)
    return ClientList(
        asked=text,
        rows=tuple(
            ClientRow(
                uuid=row.uuid,
                label=row.label,
                town=row.town,
                phone=row.phone,
                n_horses=getattr(row, "n_horses", 0),
            )
            for row in shown.rows
        ),
        total=shown.total,
        page=shown.page,
        pages=shown.pages,
    )


def client_page(actor: Actor | None, uuid: uuids.UUID) -> ClientPage:
    """Return one client's page.

    Raises
    ------
    NotFoundError
        If the practice has no such client.
    """
    allowed = require(actor, Action.SEE_PEOPLE)
    client = (
        Client.objects.filter(pk=own(Client, allowed, uuid).pk)
        .prefetch_related(Prefetch("horses", Horse.objects.standing().order_by("label")))
        .prefetch_related(Prefetch("saddles", Saddle.objects.standing().order_by("label")))
        .get()
    )
    return ClientPage(
        uuid=client.uuid,
        label=client.label,
        revision=client.revision,
        values={name: column_value(client, name) for name in CLIENT_FIELDS},
        horses=tuple(Linked(uuid=h.uuid, label=h.label) for h in client.horses.all()),
        saddles=tuple(Linked(uuid=s.uuid, label=s.label, detail=s.family) for s in client.saddles.all()),
    )


def members(actor: Actor | None) -> tuple[MemberRow, ...]:
    """Return the practice's members, owners first."""
    allowed = require(actor, Action.MANAGE_MEMBERS)
    rows = Membership.objects.filter(practice_id=allowed.practice_id, ended_at=None).select_related("user")
    order = list(Role)
    listed = [
        MemberRow(
            uuid=row.uuid,
            label=row.user.label,
            email=row.user.email,
            role=Role(row.role),
            since=row.made_at,
        )
        for row in rows
    ]
    return tuple(sorted(listed, key=lambda row: (order.index(row.role), row.label)))
