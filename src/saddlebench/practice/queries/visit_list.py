"""Visits in a list: those under way first, wherever they were begun."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date

from saddlebench.practice.enums import Action, VisitState
from saddlebench.practice.models import Visit
from saddlebench.practice.queries.pages import page_of
from saddlebench.practice.rules import Actor, may, require

_MOST_OPEN = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow:
    """A visit in a list."""

    uuid: uuids.UUID
    day: date
    horse: str
    place: str
    purpose: str
    state: VisitState
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitList:
    """The visits under way or planned, and a page of those finished."""

    under_way: tuple[VisitRow, ...]
    planned: tuple[VisitRow, ...]
    finished: tuple[VisitRow, ...]
    asked: str
    total: int
    page: int
    pages: int


def visit_list(actor: Actor | None, *, page: int = 1) -> VisitList:
    """Return a practice's visits: under way and planned ones whole, finished ones by the page."""
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    rows = Visit.objects.of(allowed.practice_id).standing().select_related("horse", "yard", "made_by")
    finished = page_of(rows.filter(state=VisitState.FINISHED.value).order_by("-date", "-id"), page)
    under_way = rows.filter(state=VisitState.OPEN.value).order_by("-date", "-id")[:_MOST_OPEN]
    planned = rows.filter(state=VisitState.PLANNED.value).order_by("date", "starts_at", "id")[:_MOST_OPEN]
    return VisitList(
        under_way=tuple(_row(one, people=people) for one in under_way),
        planned=tuple(_row(one, people=people) for one in planned),
        finished=tuple(_row(one, people=people) for one in finished.rows),
        asked="",
        total=finished.total,
        page=finished.page,
        pages=finished.pages,
    )


def _row(visit: Visit, *, people: bool) -> VisitRow:
    return VisitRow(
        uuid=visit.uuid,
        day=visit.date,
        horse=visit.horse.label if visit.horse else visit.label,
        place=visit.yard.label if people and visit.yard else "",
        purpose=visit.purpose,
        state=VisitState(visit.state),
        by=visit.made_by.label,
    )
