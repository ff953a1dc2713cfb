"""Horses, and everything that happened to one."""

import uuid as uuids
from dataclasses import asdict

from django.http import HttpRequest
from ninja import Router, Status

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.horses import HorseList, HorsePage
from saddlebench.practice.queries.pages import PAGE_ROWS
from saddlebench.web.api.shapes import EventShape, HorseListShape, HorseShape, HorseValues, TimelineShape
from saddlebench.web.base.interface import (
    ByToken,
    Change,
    New,
    PageNumber,
    Searched,
    actor_of,
    change,
    is_there,
    made,
)

router = Router(tags=["horses"])


class NewHorse(New):
    """A horse to take on; `client` and `yard` by uuid."""

    values: HorseValues


class HorseChange(Change):
    """Values to enter of a horse."""

    values: HorseValues


@router.get("horses", auth=ByToken(Action.SEE_HORSES), response=HorseListShape)
def list_horses(request: HttpRequest, q: Searched = "", page: PageNumber = 1) -> HorseList:
    """Find horses by any part of anything, in any order."""
    return queries.find_horses(actor_of(request), q, page=page)


@router.post("horses", auth=ByToken(Action.EDIT_HORSES), response={200: HorseShape, 201: HorseShape})
def take_on_horse(request: HttpRequest, body: NewHorse) -> Status[HorsePage]:
    """Take on a horse."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: queries.horse_page(actor, chosen))
    services.take_on_horse(actor, body.values, chosen)
    return made(queries.horse_page(actor, chosen), was_there=was_there)


@router.get("horses/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=HorseShape)
def get_horse(request: HttpRequest, uuid: uuids.UUID) -> HorsePage:
    """Give a horse with what leads from it."""
    return queries.horse_page(actor_of(request), uuid)


@router.patch("horses/{uuid:uuid}", auth=ByToken(Action.EDIT_HORSES), response=HorseShape)
def change_horse(request: HttpRequest, uuid: uuids.UUID, body: HorseChange) -> HorsePage:
    """Enter values of a horse."""
    change(request, Subject.HORSE, uuid, body, body.values)
    return queries.horse_page(actor_of(request), uuid)


@router.get("horses/{uuid:uuid}/timeline", auth=ByToken(Action.SEE_HORSES), response=TimelineShape)
def timeline(request: HttpRequest, uuid: uuids.UUID, page: PageNumber = 1) -> TimelineShape:
    """Give a horse's visits, photos, and every version of its backs, saddles and fit checks, by the page."""
    found = queries.timeline(actor_of(request), uuid)
    pages = max(1, -(-len(found.events) // PAGE_ROWS))
    at = min(page, pages)
    rows = found.events[(at - 1) * PAGE_ROWS : at * PAGE_ROWS]
    return TimelineShape(
        horse=found.horse,
        rows=[EventShape(**asdict(one)) for one in rows],
        total=len(found.events),
        page=at,
        pages=pages,
    )
