"""A fit check's runs for other programs: run again, and seen; limits, and the tally of agreement."""

import uuid as uuids
from typing import Annotated, Any, Literal

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from ninja import Query, Router, Status
from pydantic import Field, JsonValue

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.enums import Action
from saddlebench.practice.queries import LimitShown, limits_page
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.studies import TallyRow, study_page, tally
from saddlebench.web.base.checks.pictures import SVG
from saddlebench.web.base.checks.running import ask_same_again
from saddlebench.web.base.interface import ByToken, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.study.states import cases_of
from saddlebench.web.study.views import Seen, read_run, sent_picture

router = Router(tags=["fit checks"])
PictureName = Literal["overview", "section", "sections", "plan", "side", "load", "findings", "doubt"]
RunNumber = Annotated[int, Field(ge=1, le=10**6)]


class LooksAt(Shape):
    """Which picture of which state of a run."""

    name: PictureName = "overview"
    state: Annotated[str, Field(max_length=60)] = "halt"
    place: Literal["put", "works"] = "put"
    width: Literal["phone", "page"] = "page"
    s: Annotated[int, Field(ge=-3000, le=3000)] = 0
    """Where a `section` is cut [mm behind the shoulder mark]."""


class LimitShape(Shape):
    """A limit that findings are held against, and whose it is; `ends` in its unit."""

    slug: str
    title: str
    measured: str
    saddles: str
    unit: str
    ends: dict[str, float]
    words: str
    default: dict[str, float]
    default_words: str
    whose: str
    source: str
    is_own: bool


class TallyShape(Shape):
    """How often fitter and program said the same of a topic."""

    words: str
    compared: int
    agreed: int
    program_cannot_tell: int


@router.post(
    "studies/{uuid:uuid}/runs/{number}/again",
    auth=ByToken(Action.RECORD_STUDY),
    response={202: JobShape},
)
def run_again(request: HttpRequest, uuid: uuids.UUID, number: RunNumber) -> Status[JobPage]:
    """Run a recorded run again on the versions it used. The job says whether it came out the same."""
    actor = actor_of(request)
    leads_to = f"{reverse('study:study', args=[uuid])}?run={number}"
    return Status(202, job_page(actor, ask_same_again(actor, uuid, number, leads_to)))


@router.get(
    "studies/{uuid:uuid}/runs/{number}/picture",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives(SVG),
)
def get_picture(
    request: HttpRequest, uuid: uuids.UUID, number: RunNumber, looks_at: Query[LooksAt]
) -> HttpResponse:
    """Give one picture of a run: saddle on back, a section, the load along it, findings, their doubt."""
    run = _run(request, uuid, number)
    known = [one.name for one in cases_of(run.study)]
    if looks_at.state not in known:
        where = Where(field="state")
        raise input_problem("this run has no such state", f"Choose one of: {', '.join(known)}.", where)
    return sent_picture(request, run, looks_at.name)


@router.get(
    "studies/{uuid:uuid}/runs/{number}/doubts",
    auth=ByToken(Action.SEE_HORSES),
    response=list[dict[str, JsonValue]],
)
def get_doubts(request: HttpRequest, uuid: uuids.UUID, number: RunNumber) -> list[dict[str, Any]]:
    """Tell what drives the doubt of findings that cannot be told, the most helpful repeat first."""
    study = _run(request, uuid, number).study
    from saddlebench.exchange.doubt_json import doubts_as_json  # noqa: PLC0415
    from saddlebench.exchange.doubt_words import worth_telling  # noqa: PLC0415

    return doubts_as_json(worth_telling(study.put.doubts))


def _run(request: HttpRequest, uuid: uuids.UUID, number: int) -> Seen:
    actor = actor_of(request)
    return read_run(request, actor, study_page(actor, uuid, number))


@router.get("limits", auth=ByToken(Action.SEE_HORSES), response=list[LimitShape])
def get_limits(request: HttpRequest) -> list[LimitShown]:
    """List the limits that new checks are held against: the practice's own where it set one."""
    return list(limits_page(actor_of(request)))


@router.get("agreement", auth=ByToken(Action.SEE_HORSES), response=list[TallyShape])
def get_agreement(request: HttpRequest) -> list[TallyRow]:
    """Tell how often fitters and program said the same, topic by topic."""
    return list(tally(actor_of(request)))
