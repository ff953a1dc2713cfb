"""Hands checked, fitters and instruments compared, and whose errors are in use, for other programs."""

import uuid as uuids
from dataclasses import asdict
from datetime import date
from typing import Annotated, Any

from django.http import HttpRequest, HttpResponse
from ninja import Query, Router, Status
from pydantic import Field

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import comparable_page, comparison_page
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.repeat_days import repeat_days
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import check_hand
from saddlebench.practice.services.figures import own_figures
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.interface import ByToken, Given, LinkShape, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.change import fitters, hand
from saddlebench.web.change.api_shapes import Again, ComparisonShape, Versions, as_they_are_now, shape_of
from saddlebench.web.change.work import ask_fitters

router = Router()


class RepeatDayShape(Shape):
    """A horse on a day on which its back was measured more than once."""

    horse: LinkShape
    day: date
    versions: list[uuids.UUID]
    fitters: list[str]


class NewFitterComparison(Given):
    """Records to compare, named by the uuids of their versions: of backs measured twice on one day."""

    uuid: uuids.UUID | None = None
    versions: Versions


class Tolerated(Given):
    """What repeats are held against."""

    tolerance: list[Annotated[str, Field(max_length=200)]] = Field(default_factory=list, max_length=100)


class NewHandCheck(Given):
    """Repeats of one back on one day by one fitter."""

    horse: uuids.UUID
    versions: Versions
    marks_again: bool = True


class FigureShape(Shape):
    """Whose errors are in use for one fitter with one instrument, and why."""

    fitter: str
    instrument: str
    in_use: str
    applied: float
    why: str
    factor: float
    interval_95: list[float]
    exercises: list[uuids.UUID]


@router.post("hand-checks", auth=ByToken(Action.RECORD_STUDY), response={201: ComparisonShape})
def ask_hand_check(request: HttpRequest, body: NewHandCheck) -> Status[dict[str, Any]]:
    """Say what repeats of one back on one day say of the hand that measured it."""
    actor = actor_of(request)
    comparable_page(actor, body.horse)
    load_engine()
    made = check_hand(actor, body.horse, body.versions, marks_again=body.marks_again)
    return Status(201, _hand(actor, made.uuid))


@router.get("hand-checks/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ComparisonShape)
def get_hand_check(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give how good a hand is."""
    return _hand(actor_of(request), uuid)


@router.post(
    "hand-checks/{uuid:uuid}/again", auth=ByToken(Action.RECORD_STUDY), response={201: ComparisonShape}
)
def ask_hand_check_again(request: HttpRequest, uuid: uuids.UUID) -> Status[dict[str, Any]]:
    """Check the hand again by the same repeats as they are now."""
    page = comparison_page(actor_of(request), uuid, ComparisonKind.HAND)
    asked = NewHandCheck(
        horse=page.horse.uuid,
        versions=as_they_are_now(page),
        marks_again=bool(page.made_of.get("marks_again", True)),
    )
    return ask_hand_check(request, asked)


def _hand(actor: Actor, uuid: uuids.UUID) -> dict[str, Any]:
    page = comparison_page(actor, uuid, ComparisonKind.HAND)
    from saddlebench.exchange.repeat_words import plain_sentences  # noqa: PLC0415

    found = hand.hand_of(page)
    own = asdict(found.overall)
    return shape_of(actor, page, {"sentences": list(plain_sentences(found)), "overall": own})


@router.get("repeat-days", auth=ByToken(Action.SEE_HORSES), response=list[RepeatDayShape])
def get_repeat_days(request: HttpRequest) -> list[dict[str, Any]]:
    """Give the days on which a back was measured more than once: what fitters can be compared by."""
    return [
        {
            "horse": {"uuid": one.horse, "label": one.horse_label},
            "day": one.day,
            "versions": [record.version for record in one.records],
            "fitters": list(one.fitters),
        }
        for one in repeat_days(actor_of(request)).days
    ]


@router.post("fitter-comparisons", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_fitters(request: HttpRequest, body: NewFitterComparison) -> Status[JobPage]:
    """Compare who measured the same backs, with what, beside, as a job that leads to the comparison."""
    actor = actor_of(request)
    fitters.refuse_count(len(body.versions))
    job = ask_fitters(actor, body.versions, key=body.uuid or uuids.uuid4())
    return Status(202, job_page(actor, job))


@router.post(
    "fitter-comparisons/{uuid:uuid}/again", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape}
)
def ask_for_fitters_again(request: HttpRequest, uuid: uuids.UUID, body: Again) -> Status[JobPage]:
    """Compare the same repeats again as they are now, beside, as a job."""
    page = comparison_page(actor_of(request), uuid, ComparisonKind.FITTERS)
    asked = NewFitterComparison(uuid=body.uuid, versions=as_they_are_now(page))
    return ask_for_fitters(request, asked)


@router.get("fitter-comparisons/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ComparisonShape)
def get_fitters(request: HttpRequest, uuid: uuids.UUID, tolerated: Query[Tolerated]) -> dict[str, Any]:
    """Give how well the same fitter, and any of them, reads a back twice.

    Held against each `tolerance`: `mm=6`, `deg=4`, or words of a number's name, `withers width=8`.
    """
    actor = actor_of(request)
    page = comparison_page(actor, uuid, ComparisonKind.FITTERS)
    study = fitters.study_of(page)
    from saddlebench.exchange.repeat_json import repeats_as_json  # noqa: PLC0415
    from saddlebench.exchange.repeat_tolerance import (  # noqa: PLC0415
        held_against,
        read_tolerances,
        tolerance_sentences,
    )
    from saddlebench.exchange.repeat_words import repeat_sentences  # noqa: PLC0415

    if tolerated.tolerance:
        study = held_against(study, read_tolerances(tolerated.tolerance))
    told = [*repeat_sentences(study), *tolerance_sentences(study)]
    return shape_of(actor, page, repeats_as_json(study) | {"sentences": told})


@router.get(
    "fitter-comparisons/{uuid:uuid}/picture",
    auth=ByToken(Action.SEE_HORSES),
    openapi_extra=gives("image/svg+xml"),
)
def get_fitters_picture(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the picture of a comparison; `width` phone or page."""
    return fitters.picture_of(request, comparison_page(actor_of(request), uuid, ComparisonKind.FITTERS))


@router.get("own-figures", auth=ByToken(Action.SEE_HORSES), response=list[FigureShape])
def get_figures(request: HttpRequest) -> list[dict[str, Any]]:
    """Give whose errors are in use, for each fitter and instrument that was checked, and why."""
    return [
        {
            "fitter": one.fitter,
            "instrument": one.instrument,
            "in_use": one.own.in_use.value,
            "applied": one.own.applied,
            "why": one.own.why,
            "factor": one.own.factor,
            "interval_95": [one.own.low, one.own.high],
            "exercises": [e.uuid for e in one.exercises],
        }
        for one in own_figures(actor_of(request))
    ]
