"""The stock and choices from it for other programs."""

import uuid as uuids
from datetime import date, datetime
from typing import Annotated, Any

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field, JsonValue, WithJsonSchema

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice.catalogue import Value, read_all
from saddlebench.practice.enums import Action, ChoiceKind
from saddlebench.practice.queries import saddle_page
from saddlebench.practice.queries.choices import ChoiceRow, choice_page, list_choices
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.queries.stock import StockRow, export_stock, stock_row, stock_rows
from saddlebench.practice.queries.studies import check_choices
from saddlebench.practice.services import StockFacts, StockImported, import_stock, set_stock
from saddlebench.practice.services.checking import refuse_stopped_visit
from saddlebench.web.base.interface import (
    ByToken,
    Given,
    LinkShape,
    ListShape,
    PageNumber,
    Searched,
    Shape,
    ShortText,
    actor_of,
    body_of,
    gives,
    takes,
    values_schema,
)
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.stock.asking import FIELDS
from saddlebench.web.stock.crossing import LARGEST_TABLE
from saddlebench.web.stock.ordered import order_picture_of
from saddlebench.web.stock.work import ask_season, ask_shortlist, ask_takers

router = Router(tags=["stock"])
ShortlistValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(FIELDS))]
CSV = "text/csv"


class StockRowShape(Shape):
    """A saddle in stock as it stands; people are named to those who may see people."""

    uuid: uuids.UUID
    label: str
    is_measured: bool
    state_number: int
    number: str
    where: Whereabouts
    place: str
    seat_in: float | None
    flap: str
    flap_mm: float | None
    discipline: str
    condition: str
    price: float | None
    currency: str
    reserved_for: str
    on_trial_with: str
    on_trial_until: date | None
    is_free: bool


class StockSaid(Given):
    """How a saddle in stock stands from now on: all of it; `seen` is the state that this was decided on."""

    seen: Annotated[int, Field(ge=0, le=2**31 - 1)]
    number: Annotated[str, Field(max_length=40)]
    where: Whereabouts = Whereabouts.RACK
    place: ShortText = ""
    flap: ShortText = ""
    flap_mm: Annotated[float, Field(ge=150.0, le=700.0)] | None = None
    discipline: ShortText = ""
    condition: ShortText = ""
    price: Annotated[float, Field(ge=0.0, le=1_000_000.0)] | None = None
    currency: Annotated[str, Field(max_length=3)] = ""
    reserved_for: uuids.UUID | None = None
    on_trial_with: uuids.UUID | None = None
    on_trial_until: date | None = None


class StockImportedShape(Shape):
    """What a table that was brought in did."""

    taken_on: int
    changed: int
    as_before: int


class ChoiceRowShape(Shape):
    """A choice from the stock in a list."""

    uuid: uuids.UUID
    kind: ChoiceKind
    label: str
    horse: LinkShape | None
    saddle: LinkShape | None
    made_at: datetime
    made_by: str
    asked: dict[str, JsonValue]
    sha256: str
    engine_version: str


class ChoiceListShape(ListShape):
    """A page of choices."""

    rows: list[ChoiceRowShape]


class ChoiceShape(Shape):
    """A choice with what was found. A screening aid, not a diagnosis."""

    row: ChoiceRowShape
    found: dict[str, JsonValue]


class NewShortlist(Given):
    """Saddles to look for, for a version of a horse's back."""

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    back_version: uuids.UUID
    asked: ShortlistValues


class NewTakers(Given):
    """Horses to look for, for one saddle."""

    uuid: uuids.UUID | None = None
    saddle: uuids.UUID


class NewSeason(Given):
    """A short list to make for every horse."""

    uuid: uuids.UUID | None = None
    length: Annotated[int, Field(ge=1, le=20)] = 5
    everything: bool = False


@router.get("stock", auth=ByToken(Action.SEE_SADDLES), response=list[StockRowShape])
def get_stock(
    request: HttpRequest, *, q: Searched = "", where: Whereabouts | None = None, only_free: bool = False
) -> list[dict[str, Any]]:
    """Give the saddles in stock by name."""
    rows = stock_rows(actor_of(request), q, where=where, only_free=only_free)
    return [_row(one) for one in rows]


@router.get("stock.csv", auth=ByToken(Action.EXPORT), openapi_extra=gives(CSV))
def get_stock_table(request: HttpRequest) -> HttpResponse:
    """Give the stock as a table."""
    return HttpResponse(export_stock(actor_of(request)), content_type=f"{CSV}; charset=utf-8")


@router.post(
    "stock.csv",
    auth=ByToken(Action.IMPORT),
    response=StockImportedShape,
    openapi_extra=takes(CSV, {"type": "string"}, "A stock table"),
)
def post_stock_table(request: HttpRequest) -> StockImported:
    """Bring a stock table in: all of it, or nothing and every problem by row and field."""
    return import_stock(actor_of(request), body_of(request, LARGEST_TABLE), "stock.csv")


@router.get("saddles/{uuid:uuid}/stock", auth=ByToken(Action.SEE_SADDLES), response=StockRowShape)
def get_stock_row(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Tell how a saddle in stock stands."""
    return _row(stock_row(actor_of(request), uuid))


@router.put("saddles/{uuid:uuid}/stock", auth=ByToken(Action.EDIT_SADDLES), response=StockRowShape)
def put_stock_row(request: HttpRequest, uuid: uuids.UUID, body: StockSaid) -> dict[str, Any]:
    """Say how a saddle in stock stands from now on; what was said before is kept."""
    actor = actor_of(request)
    told = body.model_dump(exclude={"seen", "number"})
    set_stock(actor, uuid, StockFacts(stock_number=body.number, **told), seen=body.seen)
    return _row(stock_row(actor, uuid))


@router.get("choices", auth=ByToken(Action.SEE_HORSES), response=ChoiceListShape)
def get_choices(
    request: HttpRequest,
    kind: ChoiceKind | None = None,
    horse: uuids.UUID | None = None,
    page: PageNumber = 1,
) -> Listed[ChoiceRow]:
    """List choices from the stock, the newest first."""
    return list_choices(actor_of(request), kind=kind, horse=horse, page=page)


@router.get("choices/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ChoiceShape)
def get_choice(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give a choice with what was found."""
    page = choice_page(actor_of(request), uuid)
    return {"row": page.row, "found": page.found}


@router.get(
    "choices/{uuid:uuid}/order.svg", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives("image/svg+xml")
)
def get_order_picture(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the picture of what would tell which saddle of a shortlist stands first; `width` phone or page.

    Its numbers stand in the choice, under `order`.
    """
    return order_picture_of(request, choice_page(actor_of(request), uuid))


@router.post("choices/shortlist", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_shortlist(request: HttpRequest, body: NewShortlist) -> Status[JobPage]:
    """Look for the saddles in stock that suit one horse and rider; beside, as a job."""
    actor = actor_of(request)
    choices = check_choices(actor, body.horse)
    refuse_stopped_visit(actor, body.horse, None)
    values: dict[str, Value] = {**dict.fromkeys(FIELDS), **read_all(FIELDS, body.asked, new=True)}
    if body.back_version not in {one.uuid for one in choices.backs}:
        raise input_problem("back_version is no back of this horse", "Choose one of check-choices.")
    asked = {**values, "back_version": str(body.back_version)}
    run = ask_shortlist(actor, body.horse, choices.horse.label, asked, uuid=body.uuid)
    return Status(202, job_page(actor, run))


@router.post("choices/takers", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_takers(request: HttpRequest, body: NewTakers) -> Status[JobPage]:
    """Look for the horses that could take one saddle; beside, as a job."""
    actor = actor_of(request)
    run = ask_takers(actor, body.saddle, saddle_page(actor, body.saddle).label, uuid=body.uuid)
    return Status(202, job_page(actor, run))


@router.post("choices/season", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_season(request: HttpRequest, body: NewSeason) -> Status[JobPage]:
    """Make a short list for every horse; beside, as a job."""
    actor = actor_of(request)
    run = ask_season(actor, length=body.length, everything=body.everything, uuid=body.uuid)
    return Status(202, job_page(actor, run))


def _row(row: StockRow) -> dict[str, Any]:
    one = row.item
    return {
        "uuid": row.uuid,
        "label": row.label,
        "is_measured": row.is_measured,
        "state_number": row.state_number,
        "number": one.number,
        "where": one.where,
        "place": one.place,
        "seat_in": one.seat_in,
        "flap": one.flap,
        "flap_mm": one.flap_mm,
        "discipline": one.discipline,
        "condition": one.condition,
        "price": one.price,
        "currency": one.currency,
        "reserved_for": one.reserved_for,
        "on_trial_with": one.on_trial_with,
        "on_trial_until": one.on_trial_until,
        "is_free": one.is_free,
    }
