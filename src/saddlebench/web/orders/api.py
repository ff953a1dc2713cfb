"""Work orders for other programs: written, moved on, what was done."""

import json
import uuid as uuids
from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any, TypeVar

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field, JsonValue

from saddlebench.practice.enums import Action
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.orders import OrderPage, OrderRow, list_orders, order_page
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import (
    NotMovedError,
    move_order,
    next_number,
    say_done,
    write_order,
)
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.interface import (
    ByToken,
    ConflictError,
    Given,
    LinkShape,
    ListShape,
    New,
    PageNumber,
    Shape,
    ShortText,
    actor_of,
    gives,
    is_there,
)
from saddlebench.web.base.report_choices import chosen_by_program
from saddlebench.web.orders.pages import order_pdf

router = Router(tags=["work orders"])
_Made = TypeVar("_Made")
Texts = Annotated[list[ShortText], Field(max_length=40)]
StateNumber = Annotated[int, Field(ge=0, le=2**31 - 1)]
Millimetres = Annotated[float, Field(ge=-60.0, le=60.0)]


class OrderRowShape(Shape):
    """A work order in a list."""

    uuid: uuids.UUID
    number: str
    label: str
    horse: LinkShape
    saddle: LinkShape
    plan: uuids.UUID
    step: OrderStep
    due_on: date | None
    late_days: int
    workshop: str
    made_at: datetime
    made_by: str
    state_number: int


class OrderListShape(ListShape):
    """A page of work orders."""

    rows: list[OrderRowShape]


class OrderPastShape(Shape):
    """One state of a work order."""

    number: int
    step: OrderStep
    at: datetime
    by: str
    said: str


class OrderShape(Shape):
    """A work order with its whole record, as the schema “work-order” describes it."""

    row: OrderRowShape
    record: dict[str, JsonValue]
    mended: list[str]
    checked_mm: list[float | None]
    history: list[OrderPastShape]
    may_go_to: list[OrderStep]


class NewOrder(New):
    """A work order to write from a plan; without a number it gets the next one."""

    plan: uuids.UUID
    number: Annotated[str, Field(max_length=40)] = ""
    due_on: date | None = None
    workshop: uuids.UUID | None = None
    workshop_name: ShortText = ""
    seat: ShortText = ""
    colour: ShortText = ""
    photos: Texts = Field(default_factory=list)
    unsafe: Texts = Field(default_factory=list)
    leave: Texts = Field(default_factory=list)
    price_limit: ShortText = ""
    loan: ShortText = ""
    notes: Annotated[str, Field(max_length=2000)] = ""


class OrderMove(Given):
    """Where an order is to go; `seen` is the state that this was decided on."""

    to: OrderStep
    seen: StateNumber
    said: Annotated[str, Field(max_length=500)] = ""
    checked_mm: Annotated[list[Millimetres | None], Field(max_length=40)] = Field(default_factory=list)


class OrderDone(Given):
    """What was done, in mm for each line of the order in its order; null where nothing is said yet."""

    done_mm: Annotated[list[Millimetres | None], Field(max_length=40)]
    found: Annotated[tuple[Annotated[str, Field(max_length=200)], ...], Field(max_length=40)] = ()
    """What the workshop found, in words for each line; left out: nothing new."""
    seen: StateNumber
    arch_mm: Annotated[float, Field(ge=50.0, le=600.0)] | None = None
    mended: Texts = Field(default_factory=list)
    said: Annotated[str, Field(max_length=500)] = ""


@router.get("orders", auth=ByToken(Action.SEE_SADDLES), response=OrderListShape)
def get_orders(
    request: HttpRequest,
    *,
    step: OrderStep | None = None,
    only_open: bool = False,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: PageNumber = 1,
) -> Listed[OrderRow]:
    """List work orders, those due first before the others; a workshop's member gets those for it."""
    return list_orders(
        actor_of(request), step=step, only_open=only_open, horse=horse, saddle=saddle, page=page
    )


@router.post("orders", auth=ByToken(Action.RECORD_STUDY), response={200: OrderShape, 201: OrderShape})
def write(request: HttpRequest, body: NewOrder) -> Status[dict[str, Any]]:
    """Write a work order from a plan."""
    actor, uuid = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: order_page(actor, uuid))
    load_engine()
    facts = OrderFacts(
        number=body.number or next_number(actor),
        due_on=body.due_on,
        workshop=body.workshop,
        workshop_name=body.workshop_name,
        seat=body.seat,
        colour=body.colour,
        photos=tuple(body.photos),
        unsafe=tuple(body.unsafe),
        leave=tuple(body.leave),
        price_limit=body.price_limit,
        loan=body.loan,
        notes=body.notes,
    )
    write_order(actor, body.plan, facts, uuid=uuid)
    return Status(200 if was_there else 201, _shown(order_page(actor, uuid)))


@router.get("orders/{uuid:uuid}", auth=ByToken(Action.SEE_SADDLES), response=OrderShape)
def get_order(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give a work order as it stands."""
    return _shown(order_page(actor_of(request), uuid))


@router.get(
    "orders/{uuid:uuid}/sheet.pdf", auth=ByToken(Action.SEE_SADDLES), openapi_extra=gives("application/pdf")
)
def get_sheet(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the sheet that the saddler works from; `language`, `lengths` and `paper` as its reader's."""
    actor = actor_of(request)
    made = order_pdf(actor, order_page(actor, uuid), chosen_by_program(request))
    return HttpResponse(made.plain(), content_type=made.content_type)


@router.post("orders/{uuid:uuid}/move", auth=ByToken(Action.EDIT_SADDLES), response=OrderShape)
def move(request: HttpRequest, uuid: uuids.UUID, body: OrderMove) -> dict[str, Any]:
    """Move a work order on; 409 where it may not go there, or not yet."""
    actor = actor_of(request)
    load_engine()
    _or_conflict(
        lambda: move_order(
            actor, uuid, body.to, seen=body.seen, said=body.said, checked_mm=tuple(body.checked_mm)
        )
    )
    return _shown(order_page(actor, uuid))


@router.post("orders/{uuid:uuid}/done", auth=ByToken(Action.EDIT_SADDLES), response=OrderShape)
def done(request: HttpRequest, uuid: uuids.UUID, body: OrderDone) -> dict[str, Any]:
    """Say what was done, place by place, while the order is in work."""
    actor = actor_of(request)
    load_engine()
    _or_conflict(
        lambda: say_done(
            actor,
            uuid,
            body.done_mm,
            found=body.found,
            seen=body.seen,
            arch_mm=body.arch_mm,
            mended=body.mended,
            said=body.said,
        )
    )
    return _shown(order_page(actor, uuid))


def _or_conflict(act: Callable[[], _Made]) -> _Made:
    try:
        return act()
    except NotMovedError as error:
        raise ConflictError(str(error), {}) from error


def _shown(page: OrderPage) -> dict[str, Any]:
    return {
        "row": page.row,
        "record": json.loads(page.document),
        "mended": list(page.mended),
        "checked_mm": list(page.checked_mm),
        "history": list(page.history),
        "may_go_to": list(page.may_go_to),
    }
