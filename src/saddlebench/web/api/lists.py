"""People and horses as tables, out and in again; people as cards; the diary as a calendar."""

from collections.abc import Callable
from datetime import timedelta
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from ninja import Router

from saddlebench.practice.crossing import (
    Imported,
    diary_calendar,
    export_cards,
    export_horses,
    export_people,
    import_cards,
    import_horses,
    import_people,
)
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.standing import standing_in
from saddlebench.practice.rules import Actor
from saddlebench.web.base.interface import (
    LARGEST_TABLE,
    ByToken,
    Shape,
    actor_of,
    body_of,
    gives,
    takes,
)

router = Router(tags=["lists"])
CSV, CARDS, CALENDAR = "text/csv", "text/vcard", "text/calendar"
_BACK, _AHEAD = timedelta(days=60), timedelta(days=400)
_TABLE = takes(CSV, {"type": "string"}, "A table with one row a record: all of it is taken on, or nothing.")
_CARDS = takes(CARDS, {"type": "string"}, "Cards (vCard), one a person.")


class ImportedShape(Shape):
    """What an import did."""

    taken_on: int
    already_here: int
    yards_made: int


def _file(content: str | bytes, media_type: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=f"{media_type}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _taken(request: HttpRequest, take: Callable[[Actor | None, bytes], Imported]) -> Imported:
    return take(actor_of(request), body_of(request, LARGEST_TABLE))


@router.get("lists/people.csv", auth=ByToken(Action.EXPORT), openapi_extra=gives(CSV))
def get_people(request: HttpRequest) -> HttpResponse:
    """Give all clients as a table. That it was taken out is written down."""
    return _file(export_people(actor_of(request)), CSV, "people.csv")


@router.post("lists/people.csv", auth=ByToken(Action.IMPORT), response=ImportedShape, openapi_extra=_TABLE)
def post_people(request: HttpRequest) -> Imported:
    """Take on the clients of a table."""
    return _taken(request, import_people)


@router.get("lists/horses.csv", auth=ByToken(Action.EXPORT), openapi_extra=gives(CSV))
def get_horse_table(request: HttpRequest) -> HttpResponse:
    """Give all horses as a table. That it was taken out is written down."""
    return _file(export_horses(actor_of(request)), CSV, "horses.csv")


@router.post("lists/horses.csv", auth=ByToken(Action.IMPORT), response=ImportedShape, openapi_extra=_TABLE)
def post_horse_table(request: HttpRequest) -> Imported:
    """Take on the horses of a table; clients are found by name, yards are made where they are new."""
    return _taken(request, import_horses)


@router.get("lists/people.vcf", auth=ByToken(Action.EXPORT), openapi_extra=gives(CARDS))
def get_cards(request: HttpRequest) -> HttpResponse:
    """Give all clients as cards."""
    return _file(export_cards(actor_of(request)), CARDS, "people.vcf")


@router.post("lists/people.vcf", auth=ByToken(Action.IMPORT), response=ImportedShape, openapi_extra=_CARDS)
def post_cards(request: HttpRequest) -> Imported:
    """Take on the people of cards."""
    return _taken(request, import_cards)


@router.get("lists/diary.ics", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives(CALENDAR))
def get_calendar(request: HttpRequest) -> HttpResponse:
    """Give the diary as a calendar, from sixty days ago on."""
    actor = actor_of(request)
    day = timezone.localdate(timezone=ZoneInfo(standing_in(actor).zone))
    return _file(diary_calendar(actor, day - _BACK, day + _AHEAD), CALENDAR, "diary.ics")
