"""What changed between records, for other programs; with trends, saddles then and now, and hands checked."""

import uuid as uuids
from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import ComparablePage, comparable_page, comparison_page
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import compare_backs
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.report_choices import chosen_by_program
from saddlebench.web.change import api_hands, api_then_and_now, api_trends, changes
from saddlebench.web.change.api_shapes import Again, ComparisonShape, Versions, as_they_are_now, shape_of
from saddlebench.web.change.choosing import AT_ONCE
from saddlebench.web.change.work import ask_change

router = Router(tags=["changes"])
for beside in (api_trends, api_then_and_now, api_hands):
    router.add_router("", beside.router)


class ComparableShape(Shape):
    """The current version of a back, to be compared."""

    version: uuids.UUID
    back: uuids.UUID
    number: int
    label: str
    day: date
    by: str
    is_repeat: bool


class WornShape(Shape):
    """A version of a saddle that the horse wears or had a fit check with."""

    version: uuids.UUID
    saddle: uuids.UUID
    label: str
    number: int
    is_current: bool


class ComparisonRowShape(Shape):
    """A comparison in a list."""

    uuid: uuids.UUID
    kind: ComparisonKind
    label: str
    made_at: datetime
    by: str
    said: str


class ComparablesShape(Shape):
    """What there is to compare of a horse, and what was compared."""

    uuid: uuids.UUID
    label: str
    backs: list[ComparableShape]
    saddles: list[WornShape]
    comparisons: list[ComparisonRowShape]


class NewChange(Given):
    """Records to compare, named by the uuids of their versions; more than two become a job."""

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    versions: Versions
    other_device: bool = False


@router.get("horses/{uuid:uuid}/comparables", auth=ByToken(Action.SEE_HORSES), response=ComparablesShape)
def get_comparables(request: HttpRequest, uuid: uuids.UUID) -> ComparablePage:
    """Give what there is to compare of a horse, and what was compared, the newest first."""
    return comparable_page(actor_of(request), uuid)


@router.post("changes", auth=ByToken(Action.RECORD_STUDY), response={201: ComparisonShape, 202: JobShape})
def ask_for_change(request: HttpRequest, body: NewChange) -> Status[Any]:
    """Compare records: two at once, more beside, as a job that leads to the comparison."""
    actor = actor_of(request)
    comparable_page(actor, body.horse)
    if len(set(body.versions)) > AT_ONCE:
        key = body.uuid or uuids.uuid4()
        job = ask_change(actor, body.horse, body.versions, other_device=body.other_device, key=key)
        return Status(202, job_page(actor, job))
    load_engine()
    made = compare_backs(actor, body.horse, body.versions, other_device=body.other_device, uuid=body.uuid)
    return Status(201, _change(actor, made.uuid))


@router.get("changes/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ComparisonShape)
def get_change(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give what changed between records."""
    return _change(actor_of(request), uuid)


@router.post(
    "changes/{uuid:uuid}/again",
    auth=ByToken(Action.RECORD_STUDY),
    response={201: ComparisonShape, 202: JobShape},
)
def ask_for_change_again(request: HttpRequest, uuid: uuids.UUID, body: Again) -> Status[Any]:
    """Compare again: the records as they are now, by the errors in use now; an answer of its own.

    Where nothing has changed since, the comparison that is there already is given.
    """
    actor = actor_of(request)
    page = comparison_page(actor, uuid, ComparisonKind.CHANGE)
    asked = NewChange(
        uuid=body.uuid,
        horse=page.horse.uuid,
        versions=as_they_are_now(page),
        other_device=bool(page.made_of.get("other_device")),
    )
    return ask_for_change(request, asked)


def _change(actor: Actor, uuid: uuids.UUID) -> dict[str, Any]:
    page = comparison_page(actor, uuid, ComparisonKind.CHANGE)
    load_engine()
    from saddlebench.exchange.change_json import change_as_json  # noqa: PLC0415

    return shape_of(actor, page, change_as_json(changes.study_of(page)))


@router.get(
    "changes/{uuid:uuid}/pictures/{name}",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives("image/svg+xml"),
)
def get_change_picture(request: HttpRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Give a picture: `map`, `sections`, `section` at `s` mm, or `numbers`; `width` phone or page."""
    return changes.picture_of(request, comparison_page(actor_of(request), uuid, ComparisonKind.CHANGE), name)


@router.get(
    "changes/{uuid:uuid}/report", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives("application/pdf")
)
def get_change_report(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the report on what changed; `language`, `lengths` and `paper` as its reader's."""
    actor = actor_of(request)
    page = comparison_page(actor, uuid, ComparisonKind.CHANGE)
    return changes.report_of(request, actor, page, chosen_by_program(request))
