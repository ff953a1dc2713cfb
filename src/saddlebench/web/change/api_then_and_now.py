"""Saddles judged on the backs of several days, for other programs."""

import uuid as uuids
from typing import Annotated, Any

from django.http import HttpRequest
from ninja import Router, Status
from pydantic import Field

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import comparable_page, comparison_page
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.web.base.interface import ByToken, Given, actor_of
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.change.api_shapes import Again, ComparisonShape, Versions, as_they_are_now, shape_of
from saddlebench.web.change.then_and_now import HEAVIEST_KG, LIGHTEST_KG, refuse_too_many
from saddlebench.web.change.work import ask_then_and_now

router = Router()


class NewThenAndNow(Given):
    """Saddles to judge on the backs of several days."""

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    back_versions: Versions
    saddle_versions: Versions
    rider_kg: Annotated[float, Field(ge=LIGHTEST_KG, le=HEAVIEST_KG)]


@router.post("then-and-now", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_then_and_now(request: HttpRequest, body: NewThenAndNow) -> Status[JobPage]:
    """Judge saddles on the backs of several days, beside, as a job that leads to the comparison."""
    actor = actor_of(request)
    comparable_page(actor, body.horse)
    refuse_too_many(len(body.back_versions), len(body.saddle_versions))
    job = ask_then_and_now(
        actor,
        body.horse,
        backs=body.back_versions,
        saddles=body.saddle_versions,
        rider_kg=body.rider_kg,
        key=body.uuid or uuids.uuid4(),
    )
    return Status(202, job_page(actor, job))


@router.post("then-and-now/{uuid:uuid}/again", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_then_and_now_again(request: HttpRequest, uuid: uuids.UUID, body: Again) -> Status[JobPage]:
    """Judge the same saddles again, on the backs as they are now, by the errors in use now."""
    page = comparison_page(actor_of(request), uuid, ComparisonKind.THEN_AND_NOW)
    asked = NewThenAndNow(
        uuid=body.uuid,
        horse=page.horse.uuid,
        back_versions=as_they_are_now(page),
        saddle_versions=[uuids.UUID(one["version"]) for one in page.made_of["saddles"]],
        rider_kg=page.made_of["rider_kg"],
    )
    return ask_for_then_and_now(request, asked)


@router.get("then-and-now/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ComparisonShape)
def get_then_and_now(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give every finding of every saddle over the days."""
    actor = actor_of(request)
    page = comparison_page(actor, uuid, ComparisonKind.THEN_AND_NOW)
    return shape_of(actor, page, {"saddles": page.told["saddles"], "rider_kg": page.made_of["rider_kg"]})
