"""One thing of a fit check changed, for other programs: what may be, what would come of it."""

import uuid as uuids
from typing import TYPE_CHECKING, Annotated, Literal

from django.http import HttpRequest, HttpResponse
from ninja import Query, Router
from pydantic import Field

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import CannotBeJudgedError
from saddlebench.web.base.checks.pictures import SVG
from saddlebench.web.base.interface import ByToken, Shape, actor_of, gives
from saddlebench.web.study.findings import beside
from saddlebench.web.study.trying import Tried, computed, kinds_of, sent_changed
from saddlebench.web.study.views import Seen, read_run

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy

router = Router(tags=["fit checks"])
RunNumber = Annotated[int, Field(ge=1, le=10**6)]


class ChangeOneThing(Shape):
    """What is changed: pad thicker, front arch wider, saddle further back; negative the other way."""

    what: Literal["pad", "width", "place"]
    by: Annotated[float, Field(ge=-60.0, le=60.0, allow_inf_nan=False)]
    """In mm."""


class ChangedPicture(ChangeOneThing):
    """Which picture of what is changed."""

    name: Literal["overview", "plan", "load"] = "overview"
    width: Literal["phone", "page"] = "page"


class MayChangeShape(Shape):
    """One thing that may be changed, and how far on this saddle."""

    what: str
    words: str
    may_be: bool
    low_mm: float | None
    high_mm: float | None
    limit: str


class ChangedRowShape(Shape):
    """One finding as it is and with the change, as computed and without confidence."""

    title: str
    before: str
    before_verdict: str
    after: str
    after_verdict: str
    differs: bool


class ChangedShape(Shape):
    """What would come of it. Nothing is recorded; a screening aid, not a diagnosis."""

    what: str
    by: float
    words: str
    rows: list[ChangedRowShape]
    cautions: list[str]


@router.get(
    "studies/{uuid:uuid}/runs/{number}/may-change",
    auth=ByToken(Action.SEE_HORSES),
    response=list[MayChangeShape],
)
def get_may_change(request: HttpRequest, uuid: uuids.UUID, number: RunNumber) -> list[MayChangeShape]:
    """List what may be changed on the saddle of a run, and how far by its own record."""
    return [
        MayChangeShape(
            what=one.name,
            words=one.words,
            may_be=one.may_be,
            low_mm=one.low_mm,
            high_mm=one.high_mm,
            limit=one.limit,
        )
        for one in kinds_of(actor_of(request), _run(request, uuid, number))
    ]


@router.get(
    "studies/{uuid:uuid}/runs/{number}/changed", auth=ByToken(Action.SEE_HORSES), response=ChangedShape
)
def get_changed(
    request: HttpRequest, uuid: uuids.UUID, number: RunNumber, asked: Query[ChangeOneThing]
) -> ChangedShape:
    """Compute a run with one thing changed, and give every finding before and after."""
    one, chosen = _run(request, uuid, number), Tried(what=asked.what, by_mm=asked.by)
    after = _computed(actor_of(request), one, chosen)
    rows = [
        ChangedRowShape(
            title=row.title,
            before=row.before,
            before_verdict=row.before_verdict,
            after=row.after,
            after_verdict=row.after_verdict,
            differs=row.differs,
        )
        for row in beside(one.study.findings, after.findings)
    ]
    return ChangedShape(
        what=asked.what, by=asked.by, words=chosen.words, rows=rows, cautions=list(after.cautions)
    )


@router.get(
    "studies/{uuid:uuid}/runs/{number}/changed/picture",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives(SVG),
)
def get_changed_picture(
    request: HttpRequest, uuid: uuids.UUID, number: RunNumber, asked: Query[ChangedPicture]
) -> HttpResponse:
    """Give one picture of a run with one thing changed."""
    one, chosen = _run(request, uuid, number), Tried(what=asked.what, by_mm=asked.by)
    study = _computed(actor_of(request), one, chosen)
    return sent_changed(request, one, chosen, study, asked.name)


def _computed(actor: Actor, one: Seen, chosen: Tried) -> "FitStudy":
    try:
        return computed(actor, one, chosen)
    except CannotBeJudgedError as error:
        cure = "Change something else."
        raise input_problem(error.reason.rstrip("."), cure, Where(field="what")) from error


def _run(request: HttpRequest, uuid: uuids.UUID, number: int) -> Seen:
    actor = actor_of(request)
    return read_run(request, actor, study_page(actor, uuid, number))
