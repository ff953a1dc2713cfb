"""A horse's numbers over its visits, and when to look again, for other programs."""

import uuid as uuids
from typing import Any

from django.http import HttpRequest
from ninja import Router, Status
from pydantic import JsonValue

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.services.numbers import HorseInNumbers
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.change import trend
from saddlebench.web.change.api_shapes import OlderFigureShape
from saddlebench.web.change.work import ask_numbers

router = Router()


class NewNumbers(Given):
    """Records to put into numbers: those that are not yet, or all again."""

    uuid: uuids.UUID | None = None
    again: bool = False


class TrendShape(Shape):
    """A horse's numbers over its visits."""

    horse: str
    visits: int
    missing: list[uuids.UUID]
    unreadable: list[str]
    repeats: int
    older_figures: list[OlderFigureShape]
    """Where there are any, ask for all numbers again: they then go by the errors that are in use today."""
    trends: list[dict[str, JsonValue]]
    odd_visits: list[dict[str, JsonValue]]
    """Visits that do not belong: as a whole, at places, or in single numbers."""
    look_again: dict[str, JsonValue] | None


@router.get("horses/{uuid:uuid}/trend", auth=ByToken(Action.SEE_HORSES), response=TrendShape)
def get_trend(request: HttpRequest, uuid: uuids.UUID, kept: str = "") -> dict[str, Any]:
    """Give each number over the visits, and when to look again; `kept` is the reason of a re-check."""
    found = trend.followed(actor_of(request), uuid, kept)
    held = found if isinstance(found, HorseInNumbers) else found.held
    shape: dict[str, Any] = {
        "horse": held.horse,
        "visits": len(held.kept),
        "missing": list(held.missing),
        "unreadable": list(held.unreadable),
        "repeats": held.repeats,
        "older_figures": found.older if isinstance(found, trend.Followed) else (),
        "trends": [],
        "odd_visits": [],
        "look_again": None,
    }
    if isinstance(found, HorseInNumbers):
        return shape
    from saddlebench.exchange.trend_json import odd_visit_as_json, trend_as_json  # noqa: PLC0415

    told = {
        "day": found.advice.day.isoformat(),
        "reasons": list(found.advice.reasons),
        "saddle": found.saddle,
    }
    return shape | {
        "trends": [trend_as_json(one) for one in found.trends],
        "odd_visits": [odd_visit_as_json(one) for one in found.odd_visits],
        "look_again": told,
    }


@router.post("horses/{uuid:uuid}/numbers", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_numbers(request: HttpRequest, uuid: uuids.UUID, body: NewNumbers) -> Status[JobPage]:
    """Put a horse's records into numbers, beside, as a job."""
    actor = actor_of(request)
    job = ask_numbers(actor, uuid, again=body.again, key=body.uuid or uuids.uuid4())
    return Status(202, job_page(actor, job))
