"""Visits with their fields and stops, saddles tried, advice, re-checks."""

import uuid as uuids
from datetime import date
from typing import Annotated

from django.http import HttpRequest
from ninja import Router, Status
from pydantic import Field

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Purpose, RecheckReason, Subject, VisitState
from saddlebench.practice.queries.record_lists import Listed, VisitListed, list_visits
from saddlebench.practice.queries.visit_work import VisitWork, visit_work
from saddlebench.practice.queries.visits import VisitPage
from saddlebench.web.api.shapes import (
    RecheckShape,
    TriedValues,
    VisitListShape,
    VisitShape,
    VisitValues,
)
from saddlebench.web.base.interface import (
    ByToken,
    Change,
    Given,
    LinkShape,
    New,
    PageNumber,
    Shape,
    ShortText,
    actor_of,
    change,
    is_there,
    made,
)

router = Router(tags=["visits"])


class NewVisit(New):
    """A visit to start or to plan; it may begin with a title alone."""

    on: date
    purpose: Purpose
    zone: Annotated[str, Field(max_length=64)] | None = None
    horse: uuids.UUID | None = None
    yard: uuids.UUID | None = None
    starts_at: Annotated[str, Field(max_length=8, description="Hour and minute, such as 14:30")] | None = None
    state: VisitState = VisitState.OPEN
    label: ShortText = ""


class VisitChange(Change):
    """Values to enter of a visit: its head, and every field of a visit."""

    values: VisitValues


class TriedChange(Change):
    """Values to enter of a saddle tried at a visit."""

    values: TriedValues


class Trying(Given):
    """The saddle that is tried."""

    saddle: uuids.UUID


class NewAdvice(New):
    """Advice as it was said; it is never edited."""

    said: Annotated[str, Field(min_length=1, max_length=10_000)]
    is_declined: bool = False
    declined_by: ShortText = ""


class NewRecheck(New):
    """When a horse is to be seen again: by the reasons' weeks after a visit, or on a day as agreed."""

    horse: uuids.UUID
    visit: uuids.UUID | None = None
    reasons: Annotated[tuple[RecheckReason, ...], Field(max_length=10)] = ()
    on: date | None = None
    visited_on: date | None = None


class Answering(Given):
    """The visit that answered a re-check."""

    visit: uuids.UUID


class WorkShape(Shape):
    """What hangs on a visit."""

    backs: list[LinkShape]
    studies: list[LinkShape]
    rechecks: list[LinkShape]


@router.get("visits", auth=ByToken(Action.SEE_HORSES), response=VisitListShape)
def get_visits(
    request: HttpRequest,
    horse: uuids.UUID | None = None,
    state: VisitState | None = None,
    page: PageNumber = 1,
) -> Listed[VisitListed]:
    """List visits, the latest first; all of them, one horse's, or those of a state."""
    return list_visits(actor_of(request), horse=horse, state=state, page=page)


@router.post("visits", auth=ByToken(Action.ENTER_VISIT), response={200: VisitShape, 201: VisitShape})
def start_visit(request: HttpRequest, body: NewVisit) -> Status[VisitPage]:
    """Start or plan a visit."""
    actor, chosen = actor_of(request), body.uuid or uuids.uuid4()
    was_there = is_there(lambda: queries.visit_page(actor, chosen))
    services.start_visit(
        actor,
        on=body.on,
        purpose=body.purpose,
        zone=body.zone,
        horse=body.horse,
        yard=body.yard,
        starts_at=body.starts_at,
        state=body.state,
        label=body.label,
        uuid=chosen,
    )
    return made(queries.visit_page(actor, chosen), was_there=was_there)


@router.get("visits/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=VisitShape)
def get_visit(request: HttpRequest, uuid: uuids.UUID) -> VisitPage:
    """Give a visit, field by field, with what stops it."""
    return queries.visit_page(actor_of(request), uuid)


@router.get("visits/{uuid:uuid}/work", auth=ByToken(Action.SEE_HORSES), response=WorkShape)
def get_visit_work(request: HttpRequest, uuid: uuids.UUID) -> VisitWork:
    """Give what hangs on a visit: backs, fit checks, re-checks."""
    return visit_work(actor_of(request), uuid)


@router.patch("visits/{uuid:uuid}", auth=ByToken(Action.ENTER_VISIT), response=VisitShape)
def change_visit(request: HttpRequest, uuid: uuids.UUID, body: VisitChange) -> VisitPage:
    """Enter values of a visit."""
    change(request, Subject.VISIT, uuid, body, body.values)
    return queries.visit_page(actor_of(request), uuid)


@router.post("visits/{uuid:uuid}/saddles", auth=ByToken(Action.ENTER_VISIT), response=VisitShape)
def try_saddle(request: HttpRequest, uuid: uuids.UUID, body: Trying) -> VisitPage:
    """Add a saddle to a visit; adding it again changes nothing."""
    services.try_saddle(actor_of(request), uuid, body.saddle)
    return queries.visit_page(actor_of(request), uuid)


@router.patch(
    "visits/{uuid:uuid}/saddles/{uuid:tried}", auth=ByToken(Action.ENTER_VISIT), response=VisitShape
)
def change_tried(request: HttpRequest, uuid: uuids.UUID, tried: uuids.UUID, body: TriedChange) -> VisitPage:
    """Enter values of a saddle tried at a visit; `tried` is the uuid that the visit gives it."""
    page = queries.visit_page(actor_of(request), uuid)
    if tried not in {one.uuid for one in page.tried}:
        raise services.NotFoundError("saddle tried at this visit", tried)
    change(request, Subject.VISIT_SADDLE, tried, body, body.values)
    return queries.visit_page(actor_of(request), uuid)


@router.post("visits/{uuid:uuid}/advice", auth=ByToken(Action.ENTER_VISIT), response=VisitShape)
def give_advice(request: HttpRequest, uuid: uuids.UUID, body: NewAdvice) -> VisitPage:
    """Write down advice with its time, and whether it was declined and by whom."""
    services.give_advice(
        actor_of(request),
        uuid,
        body.said,
        declined=body.is_declined,
        declined_by=body.declined_by,
        uuid=body.uuid,
    )
    return queries.visit_page(actor_of(request), uuid)


@router.post("rechecks", auth=ByToken(Action.ENTER_VISIT), response=RecheckShape)
def set_recheck(request: HttpRequest, body: NewRecheck) -> object:
    """Set when a horse is to be seen again."""
    return services.set_recheck(
        actor_of(request),
        body.horse,
        visit_uuid=body.visit,
        reasons=body.reasons,
        on=body.on,
        visited_on=body.visited_on,
        uuid=body.uuid,
    )


@router.post("rechecks/{uuid:uuid}/answer", auth=ByToken(Action.ENTER_VISIT), response=RecheckShape)
def answer_recheck(request: HttpRequest, uuid: uuids.UUID, body: Answering) -> object:
    """Say which visit answered a re-check: it leaves the diary."""
    return services.answer_recheck(actor_of(request), uuid, body.visit)
