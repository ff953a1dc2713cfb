"""People and places: clients, yards, and erasing a person."""

import uuid as uuids
from pathlib import Path
from typing import Annotated

from django.conf import settings
from django.http import HttpRequest
from ninja import Router, Status
from pydantic import Field

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.people import ClientList, ClientPage
from saddlebench.practice.queries.yards import YardList, YardPage, find_yards, yard_page
from saddlebench.practice.services import Erasure
from saddlebench.web.api.shapes import (
    ClientListShape,
    ClientShape,
    ClientValues,
    YardListShape,
    YardShape,
    YardValues,
)
from saddlebench.web.base.interface import (
    ByToken,
    Change,
    Given,
    New,
    PageNumber,
    Searched,
    Shape,
    actor_of,
    change,
    is_there,
    made,
)

router = Router(tags=["people"])


class NewClient(New):
    """A client to take on."""

    values: ClientValues


class ClientChange(Change):
    """Values to enter of a client."""

    values: ClientValues


class NewYard(New):
    """A yard to take on."""

    values: YardValues


class YardChange(Change):
    """Values to enter of a yard."""

    values: YardValues


class Erase(Given):
    """The person's whole name, to be sure."""

    name: Annotated[str, Field(max_length=400)]


class ErasedShape(Shape):
    """The receipt of an erasure: how much was erased, and no name."""

    receipt: uuids.UUID
    counts: dict[str, int]


@router.get("clients", auth=ByToken(Action.SEE_PEOPLE), response=ClientListShape)
def list_clients(request: HttpRequest, q: Searched = "", page: PageNumber = 1) -> ClientList:
    """Find clients by any part of name, business, town, postcode, e-mail or telephone."""
    return queries.find_clients(actor_of(request), q, page=page)


@router.post("clients", auth=ByToken(Action.EDIT_PEOPLE), response={200: ClientShape, 201: ClientShape})
def take_on_client(request: HttpRequest, body: NewClient) -> Status[ClientPage]:
    """Take on a client."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: queries.client_page(actor, chosen))
    services.take_on_client(actor, body.values, chosen)
    return made(queries.client_page(actor, chosen), was_there=was_there)


@router.get("clients/{uuid:uuid}", auth=ByToken(Action.SEE_PEOPLE), response=ClientShape)
def get_client(request: HttpRequest, uuid: uuids.UUID) -> ClientPage:
    """Give a client with horses and saddles."""
    return queries.client_page(actor_of(request), uuid)


@router.patch("clients/{uuid:uuid}", auth=ByToken(Action.EDIT_PEOPLE), response=ClientShape)
def change_client(request: HttpRequest, uuid: uuids.UUID, body: ClientChange) -> ClientPage:
    """Enter values of a client."""
    change(request, Subject.CLIENT, uuid, body, body.values)
    return queries.client_page(actor_of(request), uuid)


@router.post("clients/{uuid:uuid}/erase", auth=ByToken(Action.ERASE), response=ErasedShape)
def erase_client(request: HttpRequest, uuid: uuids.UUID, body: Erase) -> ErasedShape:
    """Erase a person with everything that is theirs. There is no way back; withdrawing has one."""
    actor = actor_of(request)
    if body.name.strip() != queries.client_page(actor, uuid).label:
        cure = "Write the name as it stands in the record. Nothing was erased."
        raise input_problem("the name is not the same", cure, Where(field="name"))
    erasure: Erasure = services.erase_person(actor, uuid, Path(settings.SADDLEBENCH_HOME))
    return ErasedShape(receipt=erasure.receipt.uuid, counts=erasure.receipt.counts)


@router.get("yards", auth=ByToken(Action.SEE_PEOPLE), response=YardListShape)
def list_yards(request: HttpRequest, q: Searched = "", page: PageNumber = 1) -> YardList:
    """Find yards by any part of name, street, town or postcode."""
    return find_yards(actor_of(request), q, page=page)


@router.post("yards", auth=ByToken(Action.EDIT_PEOPLE), response={200: YardShape, 201: YardShape})
def take_on_yard(request: HttpRequest, body: NewYard) -> Status[YardPage]:
    """Take on a yard."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: yard_page(actor, chosen))
    services.take_on_yard(actor, body.values, chosen)
    return made(yard_page(actor, chosen), was_there=was_there)


@router.get("yards/{uuid:uuid}", auth=ByToken(Action.SEE_PEOPLE), response=YardShape)
def get_yard(request: HttpRequest, uuid: uuids.UUID) -> YardPage:
    """Give a yard with its horses."""
    return yard_page(actor_of(request), uuid)


@router.patch("yards/{uuid:uuid}", auth=ByToken(Action.EDIT_PEOPLE), response=YardShape)
def change_yard(request: HttpRequest, uuid: uuids.UUID, body: YardChange) -> YardPage:
    """Enter values of a yard."""
    change(request, Subject.YARD, uuid, body, body.values)
    return yard_page(actor_of(request), uuid)
