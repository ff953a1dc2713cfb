"""Horses: found by any part of anything, and one horse's page."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Prefetch, Q

from saddlebench.practice.catalogue import HORSE_FIELDS, Value
from saddlebench.practice.enums import Action
from saddlebench.practice.estimates import height_as_hands
from saddlebench.practice.models import Back, Horse, Photo, Recheck, Saddle, Study, Visit
from saddlebench.practice.queries.pages import page_of, terms_of
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import own

_SHOWN = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseRow:
    """A horse in a list."""

    uuid: uuids.UUID
    label: str
    client: str
    yard: str
    born_in: int | None
    height_cm: float | None
    height_hands: str
    last_visit: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseList:
    """A page of horses."""

    asked: str
    rows: tuple[HorseRow, ...]
    total: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Linked:
    """A record that a page leads to."""

    uuid: uuids.UUID
    label: str
    day: date | None = None
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HorsePage:
    """One horse."""

    uuid: uuids.UUID
    label: str
    revision: int
    values: dict[str, Value]
    height_hands: str
    client: Linked | None
    yard: Linked | None
    saddles: tuple[Linked, ...]
    visits: tuple[Linked, ...]
    backs: tuple[Linked, ...]
    studies: tuple[Linked, ...]
    rechecks: tuple[Linked, ...]
    n_photos: int


def find_horses(actor: Actor | None, text: str = "", *, page: int = 1) -> HorseList:
    """Find horses by any part of anything: every word must occur, in any order, case and accent aside.

    People's and yards' names count only for those who may see people.
    """
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    rows = Horse.objects.of(allowed.practice_id).standing()
    for term in terms_of(text):
        found = Q(found_by__contains=term)
        rows = rows.filter(found | Q(found_by_people__contains=term) if people else found)
    shown = page_of(rows.select_related("client", "yard").order_by("label", "id"), page)
    last_visits = _last_visits(shown.rows)
    return HorseList(
        asked=text,
        rows=tuple(_row(horse, last_visits.get(horse.pk), people=people) for horse in shown.rows),
        total=shown.total,
        page=shown.page,
        pages=shown.pages,
    )


def _last_visits(horses: Sequence[Horse]) -> dict[int, date]:
    """Return the last visit of the horses shown, not of all that were found: that took most of the time."""
    visits = Visit.objects.standing().filter(horse__in=[horse.pk for horse in horses])
    return dict(visits.values_list("horse").annotate(Max("date")))


def _row(horse: Horse, last_visit: date | None, *, people: bool) -> HorseRow:
    return HorseRow(
        uuid=horse.uuid,
        label=horse.label,
        client=horse.client.label if people and horse.client else "",
        yard=horse.yard.label if people and horse.yard else "",
        born_in=horse.born_in,
        height_cm=horse.height_cm,
        height_hands=height_as_hands(horse.height_cm) if horse.height_cm else "",
        last_visit=last_visit,
    )


def horse_page(actor: Actor | None, uuid: uuids.UUID) -> HorsePage:
    """Return one horse's page.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    horse = (
        Horse.objects.filter(pk=own(Horse, allowed, uuid).pk)
        .select_related("client", "yard")
        .prefetch_related(Prefetch("saddles", Saddle.objects.standing().order_by("label")))
        .prefetch_related(Prefetch("visits", Visit.objects.standing().order_by("-date", "-id")))
        .prefetch_related(Prefetch("backs", Back.objects.standing().order_by("-measured_on", "-id")))
        .prefetch_related(Prefetch("studies", Study.objects.standing().order_by("-made_at", "-id")))
        .prefetch_related(
            Prefetch("rechecks", Recheck.objects.standing().filter(done_visit=None).order_by("due_by"))
        )
        .get()
    )
    hidden = set() if people else {"rider", "note"}
    return HorsePage(
        uuid=horse.uuid,
        label=horse.label,
        revision=horse.revision,
        values={name: column_value(horse, name) for name in HORSE_FIELDS if name not in hidden},
        height_hands=height_as_hands(horse.height_cm) if horse.height_cm else "",
        client=Linked(uuid=horse.client.uuid, label=horse.client.label) if people and horse.client else None,
        yard=Linked(uuid=horse.yard.uuid, label=horse.yard.label) if people and horse.yard else None,
        saddles=tuple(Linked(uuid=s.uuid, label=s.label, detail=s.family) for s in horse.saddles.all()),
        visits=tuple(
            Linked(uuid=v.uuid, label=v.label, day=v.date, detail=v.purpose)
            for v in list(horse.visits.all())[:_SHOWN]
        ),
        backs=tuple(Linked(uuid=b.uuid, label=b.label, day=b.measured_on) for b in horse.backs.all()),
        studies=tuple(Linked(uuid=s.uuid, label=s.label, day=s.made_at.date()) for s in horse.studies.all()),
        rechecks=tuple(
            Linked(uuid=r.uuid, label=r.label, day=r.due_by, detail=r.reason) for r in horse.rechecks.all()
        ),
        n_photos=Photo.objects.standing().filter(horse=horse).count(),
    )
