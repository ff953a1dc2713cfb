"""Backs, fit checks, visits and photos by the page: all of a practice's, or those of one record."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, TypeVar

from saddlebench.practice.enums import Action, VisitState
from saddlebench.practice.models import Back, Photo, Study, Visit
from saddlebench.practice.models.base import Kept
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import Slice, page_of
from saddlebench.practice.queries.photos import PhotoShown, shown_photo
from saddlebench.practice.rules import Actor, may, require

_Row = TypeVar("_Row")
_Kept = TypeVar("_Kept", bound=Kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed(Generic[_Row]):
    """A page of rows."""

    rows: tuple[_Row, ...]
    total: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BackRow:
    """A back in a list."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    visit: uuids.UUID | None
    measured_on: date
    number: int | None
    """Of the current version."""
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRow:
    """A fit check in a list."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    saddle: Linked
    visit: uuids.UUID | None
    made_at: datetime
    number: int | None
    """Of the current run."""
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitListed:
    """A visit in a list."""

    uuid: uuids.UUID
    day: date
    horse: Linked | None
    label: str
    place: str
    """Empty for those who may not see people."""
    purpose: str
    state: VisitState
    by: str
    revision: int


def list_backs(actor: Actor | None, *, horse: uuids.UUID | None = None, page: int = 1) -> Listed[BackRow]:
    """Return the recorded backs of a practice or one of its horses, those measured last first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Back.objects.of(allowed.practice_id).standing().select_related("horse", "visit", "current")
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    shown = page_of(rows.defer("current__document").order_by("-measured_on", "-id"), page)
    return _listed(
        shown,
        tuple(
            BackRow(
                uuid=row.uuid,
                label=row.label,
                horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
                visit=row.visit.uuid if row.visit else None,
                measured_on=row.measured_on,
                number=row.current.number if row.current else None,
                sha256=row.current.sha256 if row.current else "",
            )
            for row in shown.rows
        ),
    )


def list_studies(
    actor: Actor | None,
    *,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: int = 1,
) -> Listed[StudyRow]:
    """Return the fit checks of a practice, a horse or a saddle, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Study.objects.of(allowed.practice_id).standing()
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    if saddle is not None:
        rows = rows.filter(saddle__uuid=saddle)
    linked = rows.select_related("horse", "saddle", "visit", "current").defer("current__document")
    shown = page_of(linked.order_by("-made_at", "-id"), page)
    return _listed(
        shown,
        tuple(
            StudyRow(
                uuid=row.uuid,
                label=row.label,
                horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
                saddle=Linked(uuid=row.saddle.uuid, label=row.saddle.label),
                visit=row.visit.uuid if row.visit else None,
                made_at=row.made_at,
                number=row.current.number if row.current else None,
                sha256=row.current.sha256 if row.current else "",
            )
            for row in shown.rows
        ),
    )


def list_visits(
    actor: Actor | None,
    *,
    horse: uuids.UUID | None = None,
    state: VisitState | None = None,
    page: int = 1,
) -> Listed[VisitListed]:
    """Return the visits of a practice or to one of its horses, the latest first."""
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    rows = Visit.objects.of(allowed.practice_id).standing().select_related("horse", "yard", "made_by")
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    if state is not None:
        rows = rows.filter(state=state.value)
    shown = page_of(rows.order_by("-date", "-id"), page)
    return _listed(
        shown,
        tuple(
            VisitListed(
                uuid=row.uuid,
                day=row.date,
                horse=Linked(uuid=row.horse.uuid, label=row.horse.label) if row.horse else None,
                label=row.label,
                place=row.yard.label if people and row.yard else "",
                purpose=row.purpose,
                state=VisitState(row.state),
                by=row.made_by.label,
                revision=row.revision,
            )
            for row in shown.rows
        ),
    )


def list_photos(
    actor: Actor | None,
    *,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: int = 1,
) -> Listed[PhotoShown]:
    """Return the photos of a practice, a visit, a horse or a saddle, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    rows = Photo.objects.of(allowed.practice_id).standing()
    for name, uuid in (("visit", visit), ("horse", horse), ("saddle", saddle)):
        if uuid is not None:
            rows = rows.filter(**{f"{name}__uuid": uuid})
    linked = rows.select_related("visit", "horse", "saddle", "made_by").order_by("-made_at", "-id")
    shown = page_of(linked, page)
    return _listed(shown, tuple(shown_photo(row, people=people) for row in shown.rows))


def _listed(shown: Slice[_Kept], rows: tuple[_Row, ...]) -> Listed[_Row]:
    return Listed(rows=rows, total=shown.total, page=shown.page, pages=shown.pages)
