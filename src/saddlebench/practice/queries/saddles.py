"""Saddles: clients' and stock."""

import uuid as uuids
from dataclasses import dataclass

from django.db.models import Prefetch

from saddlebench.practice.catalogue import SADDLE_FIELDS, Value
from saddlebench.practice.enums import Action, Holding
from saddlebench.practice.models import Horse, Saddle, Study
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import holding_terms, page_of
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import own

_LOOKED_IN = ("label", "maker", "serial", "family", "colour", "where_kept")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleRow:
    """A saddle in a list."""

    uuid: uuids.UUID
    label: str
    holding: Holding
    family: str
    seat_size_in: float | None
    serial: str
    client: str
    is_measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleList:
    """A page of saddles."""

    asked: str
    rows: tuple[SaddleRow, ...]
    total: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddlePage:
    """One saddle."""

    uuid: uuids.UUID
    label: str
    revision: int
    holding: Holding
    values: dict[str, Value]
    client: Linked | None
    horses: tuple[Linked, ...]
    studies: tuple[Linked, ...]
    n_versions: int
    current_number: int | None


def find_saddles(
    actor: Actor | None, text: str = "", *, holding: Holding | None = None, page: int = 1
) -> SaddleList:
    """Find saddles by any part of name, maker, serial, family, colour or place; all, clients' or stock."""
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    standing = Saddle.objects.of(allowed.practice_id).standing().select_related("client")
    if holding is not None:
        standing = standing.filter(holding=holding.value)
    rows = holding_terms(standing, (*_LOOKED_IN, "client__label") if people else _LOOKED_IN, text)
    shown = page_of(rows.order_by("label", "id"), page)
    return SaddleList(
        asked=text,
        rows=tuple(
            SaddleRow(
                uuid=row.uuid,
                label=row.label,
                holding=Holding(row.holding),
                family=row.family,
                seat_size_in=row.seat_size_in,
                serial=row.serial,
                client=row.client.label if people and row.client else "",
                is_measured=row.current_id is not None,
            )
            for row in shown.rows
        ),
        total=shown.total,
        page=shown.page,
        pages=shown.pages,
    )


def saddle_page(actor: Actor | None, uuid: uuids.UUID) -> SaddlePage:
    """Return one saddle's page.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    saddle = (
        Saddle.objects.filter(pk=own(Saddle, allowed, uuid).pk)
        .select_related("client", "current")
        .prefetch_related(Prefetch("horses", Horse.objects.standing().order_by("label")))
        .prefetch_related(Prefetch("studies", Study.objects.standing().order_by("-made_at", "-id")))
        .get()
    )
    client = saddle.client if people else None
    return SaddlePage(
        uuid=saddle.uuid,
        label=saddle.label,
        revision=saddle.revision,
        holding=Holding(saddle.holding),
        values={name: column_value(saddle, name) for name in SADDLE_FIELDS},
        client=Linked(uuid=client.uuid, label=client.label) if client else None,
        horses=tuple(Linked(uuid=h.uuid, label=h.label) for h in saddle.horses.all()),
        studies=tuple(Linked(uuid=s.uuid, label=s.label, day=s.made_at.date()) for s in saddle.studies.all()),
        n_versions=saddle.versions.count(),
        current_number=saddle.current.number if saddle.current else None,
    )
