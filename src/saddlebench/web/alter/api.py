"""Alteration plans for other programs: sought, tried by hand, fetched."""

import json
import uuid as uuids
from datetime import date, datetime
from typing import Annotated, Any, Literal

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field, JsonValue

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.plans import PlanPage, PlanRow, list_plans, plan_page
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.services.planning import at_hand, try_by_hand
from saddlebench.web.alter.asking import policy_of
from saddlebench.web.alter.hand import alteration_of
from saddlebench.web.alter.pages import picture_of
from saddlebench.web.alter.work import ask_plan
from saddlebench.web.base.checks.loading import study_of_run
from saddlebench.web.base.checks.plans import document_of_plan
from saddlebench.web.base.interface import (
    ByToken,
    Given,
    LinkShape,
    ListShape,
    PageNumber,
    Shape,
    actor_of,
    gives,
)
from saddlebench.web.base.job_shape import JobShape

router = Router(tags=["plans"])
RunNumber = Annotated[int, Field(ge=1, le=1_000_000)]


class PlanRowShape(Shape):
    """A plan in a list; `told` is its result in short."""

    uuid: uuids.UUID
    label: str
    horse: LinkShape
    saddle: LinkShape
    study: uuids.UUID
    run: int
    made_at: datetime
    made_by: str
    told: dict[str, JsonValue]
    sha256: str
    engine_version: str


class PlanListShape(ListShape):
    """A page of plans."""

    rows: list[PlanRowShape]


class PlanOrderShape(Shape):
    """A work order that was written from a plan."""

    uuid: uuids.UUID
    label: str
    day: date | None
    detail: str


class PlanShape(Shape):
    """A plan with its whole record. A starting point for hands and eyes, not a diagnosis."""

    row: PlanRowShape
    record: dict[str, JsonValue]
    orders: list[PlanOrderShape]


class HandSet(Given):
    """What is set by hand, in mm by place: `near-front`, `off-rear-outer` (with `halves`), `arch`; shims."""

    fields: dict[str, Annotated[str, Field(max_length=40)]] = Field(max_length=40)


class NewPlan(Given):
    """A plan to seek for a run of a fit check; or, with `by_hand`, one to look closely at."""

    uuid: uuids.UUID | None = None
    study: uuids.UUID
    run: RunNumber | None = None
    aim: Literal["even", "bigger-shoulder", "leave-room"] = "even"
    price: Literal["usual", "little", "whatever"] = "usual"
    arch: bool = True
    shims: bool = True
    straps: bool = True
    pad: bool = False
    by_hand: HandSet | None = None


class TryShape(Shape):
    """What comes of an alteration set by hand, by the best estimate; nothing is recorded."""

    better: int
    worse: int
    still_off: int
    findings: list[dict[str, JsonValue]]
    work: list[dict[str, JsonValue]]


@router.get("plans", auth=ByToken(Action.SEE_HORSES), response=PlanListShape)
def get_plans(
    request: HttpRequest,
    study: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    page: PageNumber = 1,
) -> Listed[PlanRow]:
    """List plans, the newest first; all of them, a fit check's or a horse's."""
    return list_plans(actor_of(request), study=study, horse=horse, page=page)


@router.post("plans", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_plan(request: HttpRequest, body: NewPlan) -> Status[JobPage]:
    """Ask for a plan. It is sought beside, as a job; sent again with the same uuid it is sought once."""
    actor = actor_of(request)
    page = study_page(actor, body.study, body.run)
    given = {name: "yes" for name in ("arch", "shims", "straps", "pad") if getattr(body, name)}
    policy = policy_of({**given, "aim": body.aim, "price": body.price})
    wanted = None
    if body.by_hand is not None:
        held = at_hand(actor, body.study, page.run.number, study_of_run(actor, page))
        wanted = alteration_of(held.record, body.by_hand.fields)
    run = ask_plan(actor, body.study, page.run.number, policy, wanted, uuid=body.uuid)
    return Status(202, job_page(actor, run))


@router.get("plans/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=PlanShape)
def get_plan(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give a plan with its record, as the schema “alteration-plan” describes it."""
    page: PlanPage = plan_page(actor_of(request), uuid)
    return {"row": page.row, "record": json.loads(page.document), "orders": list(page.orders)}


@router.get("plans/{uuid:uuid}/doubts", auth=ByToken(Action.SEE_HORSES), response=list[dict[str, JsonValue]])
def get_plan_doubts(request: HttpRequest, uuid: uuids.UUID) -> list[dict[str, Any]]:
    """Tell what drives the doubt of what cannot be told of a plan, the most helpful repeat first."""
    held = document_of_plan(plan_page(actor_of(request), uuid))
    from saddlebench.exchange.doubt_json import doubts_as_json  # noqa: PLC0415
    from saddlebench.exchange.doubt_words import worth_telling  # noqa: PLC0415

    return doubts_as_json(worth_telling(held.doubts))


@router.get(
    "plans/{uuid:uuid}/pictures/{name}", auth=ByToken(Action.SEE_HORSES), openapi_extra=gives("image/svg+xml")
)
def get_plan_picture(request: HttpRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Give a picture of a plan: `before-and-after`, `underside` or `doubt`; `width` phone or page."""
    actor = actor_of(request)
    return picture_of(request, actor, plan_page(actor, uuid), name)


@router.post("studies/{uuid:uuid}/try", auth=ByToken(Action.SEE_HORSES), response=TryShape)
def try_it(request: HttpRequest, uuid: uuids.UUID, body: HandSet) -> dict[str, Any]:
    """Look at an alteration set by hand on a fit check's current run: the answer follows at once."""
    from saddlebench.engine.alter import Turn  # noqa: PLC0415
    from saddlebench.exchange.altering import work_lines  # noqa: PLC0415
    from saddlebench.report.plan_json import change_as_json  # noqa: PLC0415

    actor = actor_of(request)
    page = study_page(actor, uuid)
    held = at_hand(actor, uuid, page.run.number, study_of_run(actor, page))
    wanted = alteration_of(held.record, body.fields)
    plan = try_by_hand(held, wanted)
    return {
        "better": sum(one.turn is Turn.BETTER for one in plan.changes),
        "worse": sum(one.turn is Turn.WORSE for one in plan.changes),
        "still_off": len(plan.not_reached),
        "findings": [change_as_json(one) for one in plan.changes],
        "work": [
            {"place": line.place, "bench_mm": line.bench_mm, "wanted_mm": line.wanted_mm, "how": line.how}
            for line in work_lines(wanted)
        ],
    }
