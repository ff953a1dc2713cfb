"""Yards."""

import uuid as uuids
from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q

from saddlebench.practice.catalogue import YARD_FIELDS, Value
from saddlebench.practice.enums import Action
from saddlebench.practice.models import Horse, Yard
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import page_of
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import own

_MOST_TERMS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class YardRow:
    """A yard in a list."""

    uuid: uuids.UUID
    label: str
    town: str
    n_horses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class YardList:
    """A page of yards."""

    asked: str
    rows: tuple[YardRow, ...]
    total: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class YardPage:
    """One yard."""

    uuid: uuids.UUID
    label: str
    revision: int
    values: dict[str, Value]
    horses: tuple[Linked, ...]


def find_yards(actor: Actor | None, text: str = "", *, page: int = 1) -> YardList:
    """Find yards by any part of name, street, town or postcode."""
    allowed = require(actor, Action.SEE_PEOPLE)
    rows = Yard.objects.of(allowed.practice_id).standing()
    for term in text.split()[:_MOST_TERMS]:
        found = Q()
        for part in ("label", "street", "town", "postcode"):
            found |= Q(**{f"{part}__icontains": term})
        rows = rows.filter(found)
    standing = Count("horses", filter=Q(horses__withdrawn_at=None))
    shown = page_of(rows.annotate(n_horses=standing).order_by("label", "id"), page)
    return YardList(
        asked=text,
        rows=tuple(
            YardRow(uuid=row.uuid, label=row.label, town=row.town, n_horses=getattr(row, "n_horses", 0))
            for row in shown.rows
        ),
        total=shown.total,
        page=shown.page,
        pages=shown.pages,
    )


def yard_page(actor: Actor | None, uuid: uuids.UUID) -> YardPage:
    """Return one yard's page.

    Raises
    ------
    NotFoundError
        If the practice has no such yard.
    """
    allowed = require(actor, Action.SEE_PEOPLE)
    yard = (
        Yard.objects.filter(pk=own(Yard, allowed, uuid).pk)
        .prefetch_related(Prefetch("horses", Horse.objects.standing().order_by("label")))
        .get()
    )
    return YardPage(
        uuid=yard.uuid,
        label=yard.label,
        revision=yard.revision,
        values={name: column_value(yard, name) for name in YARD_FIELDS},
        horses=tuple(Linked(uuid=h.uuid, label=h.label) for h in yard.horses.all()),
    )
