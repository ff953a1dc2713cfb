"""Saddles: clients' and in stock, on which horses, and as measured."""

import uuid as uuids
from typing import Annotated

from django.http import HttpRequest
from ninja import Router, Status
from pydantic import Field

from saddlebench.practice import queries, services
from saddlebench.practice.documents import LARGEST_BYTES
from saddlebench.practice.enums import Action, Holding, Subject
from saddlebench.practice.queries.saddles import SaddleList, SaddlePage
from saddlebench.web.api.documents import WRITTEN, read_document, recorded
from saddlebench.web.api.shapes import SaddleListShape, SaddleShape, SaddleValues, VersionShape
from saddlebench.web.base.interface import (
    ByToken,
    Change,
    Given,
    New,
    PageNumber,
    Revision,
    Searched,
    ShortText,
    actor_of,
    body_of,
    change,
    is_there,
    made,
    takes,
)

router = Router(tags=["saddles"])


class NewSaddle(New):
    """A saddle to take on: a client's, or into stock."""

    values: SaddleValues
    holding: Holding = Holding.CLIENT


class SaddleChange(Change):
    """Values to enter of a saddle."""

    values: SaddleValues


class UsedOn(Given):
    """The horses that a saddle is used on; those not named are no longer."""

    horses: Annotated[list[uuids.UUID], Field(max_length=200)]


class Sold(Given):
    """To whom a saddle goes."""

    client: uuids.UUID


@router.get("saddles", auth=ByToken(Action.SEE_SADDLES), response=SaddleListShape)
def list_saddles(
    request: HttpRequest, q: Searched = "", holding: Holding | None = None, page: PageNumber = 1
) -> SaddleList:
    """Find saddles by any part of name, maker, serial, family, colour or place."""
    return queries.find_saddles(actor_of(request), q, holding=holding, page=page)


@router.post("saddles", auth=ByToken(Action.EDIT_SADDLES), response={200: SaddleShape, 201: SaddleShape})
def take_on_saddle(request: HttpRequest, body: NewSaddle) -> Status[SaddlePage]:
    """Take on a saddle."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: queries.saddle_page(actor, chosen))
    services.take_on_saddle(actor, body.values, chosen, holding=body.holding)
    return made(queries.saddle_page(actor, chosen), was_there=was_there)


@router.get("saddles/{uuid:uuid}", auth=ByToken(Action.SEE_SADDLES), response=SaddleShape)
def get_saddle(request: HttpRequest, uuid: uuids.UUID) -> SaddlePage:
    """Give a saddle."""
    return queries.saddle_page(actor_of(request), uuid)


@router.patch("saddles/{uuid:uuid}", auth=ByToken(Action.EDIT_SADDLES), response=SaddleShape)
def change_saddle(request: HttpRequest, uuid: uuids.UUID, body: SaddleChange) -> SaddlePage:
    """Enter values of a saddle."""
    change(request, Subject.SADDLE, uuid, body, body.values)
    return queries.saddle_page(actor_of(request), uuid)


@router.put("saddles/{uuid:uuid}/horses", auth=ByToken(Action.EDIT_HORSES), response=SaddleShape)
def use_saddle_on(request: HttpRequest, uuid: uuids.UUID, body: UsedOn) -> SaddlePage:
    """Say which horses a saddle is used on."""
    services.use_saddle_on(actor_of(request), uuid, body.horses)
    return queries.saddle_page(actor_of(request), uuid)


@router.post("saddles/{uuid:uuid}/to-stock", auth=ByToken(Action.EDIT_SADDLES), response=SaddleShape)
def move_to_stock(request: HttpRequest, uuid: uuids.UUID) -> SaddlePage:
    """Take a client's saddle into stock."""
    services.move_to_stock(actor_of(request), uuid)
    return queries.saddle_page(actor_of(request), uuid)


@router.post("saddles/{uuid:uuid}/sell", auth=ByToken(Action.EDIT_PEOPLE), response=SaddleShape)
def sell_from_stock(request: HttpRequest, uuid: uuids.UUID, body: Sold) -> SaddlePage:
    """Give a saddle in stock to a client."""
    services.sell_from_stock(actor_of(request), uuid, body.client)
    return queries.saddle_page(actor_of(request), uuid)


@router.post(
    "saddles/{uuid:uuid}/record",
    auth=ByToken(Action.RECORD_SADDLE),
    response={200: VersionShape, 201: VersionShape},
    openapi_extra=takes(
        "application/json", {"$ref": "#/components/schemas/SaddleRecord"}, f"A saddle record. {WRITTEN}"
    ),
)
def record_saddle(
    request: HttpRequest, uuid: uuids.UUID, seen: Revision = 0, why: ShortText = ""
) -> Status[object]:
    """Record a saddle as measured. `seen` is the version that was current when it was; 0 where none was."""
    actor = actor_of(request)
    document = read_document(body_of(request, LARGEST_BYTES), Subject.SADDLE)
    return recorded(
        actor,
        Subject.SADDLE,
        uuid,
        document,
        lambda: services.record_saddle(actor, uuid, document, why=why, seen=seen),
    )
