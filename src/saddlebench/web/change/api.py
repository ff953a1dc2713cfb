"""What changed, trends, saddles then and now, and hands checked, for other programs."""

import uuid as uuids
from dataclasses import asdict
from datetime import date, datetime
from typing import Annotated, Any

from django.http import HttpRequest, HttpResponse
from ninja import Query, Router, Status
from pydantic import Field, JsonValue

from saddlebench.engine.errors import input_problem
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import (
    ComparablePage,
    ComparisonPage,
    comparable_page,
    comparison_page,
)
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.older_figures import older_figures
from saddlebench.practice.queries.repeat_days import repeat_days
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import MOST_RECORDS, check_hand, compare_backs
from saddlebench.practice.services.figures import own_figures
from saddlebench.practice.services.numbers import HorseInNumbers
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.interface import ByToken, Given, LinkShape, Shape, actor_of, gives
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.report_choices import chosen_by_program
from saddlebench.web.change import changes, fitters, hand, trend
from saddlebench.web.change.choosing import AT_ONCE
from saddlebench.web.change.then_and_now import HEAVIEST_KG, LIGHTEST_KG, refuse_too_many
from saddlebench.web.change.work import ask_change, ask_fitters, ask_numbers, ask_then_and_now

router = Router(tags=["changes"])
GOES_BY_FIGURES = (ComparisonKind.CHANGE, ComparisonKind.THEN_AND_NOW)
Versions = Annotated[list[uuids.UUID], Field(max_length=MOST_RECORDS)]


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


class UsedBackShape(Shape):
    """A version that a comparison was made of, and whose errors were in use."""

    version: uuids.UUID
    back: uuids.UUID
    number: int
    day: date
    figure: dict[str, JsonValue] | None


class OlderFigureShape(Shape):
    """A record of a comparison for which other measuring errors are in use today than then."""

    day: date
    label: str
    then: str
    now: str


class PhotoPairShape(Shape):
    """Photos of one shot on the first and the last day, by their uuids; null where it was not taken."""

    shot: str
    before: uuids.UUID | None
    after: uuids.UUID | None


class ComparisonShape(Shape):
    """A comparison. `result` is what commands print of it, `document` the record itself. No diagnosis."""

    uuid: uuids.UUID
    kind: ComparisonKind
    label: str
    horse: LinkShape
    made_at: datetime
    by: str
    backs: list[UsedBackShape]
    is_on_current: bool
    older_figures: list[OlderFigureShape]
    """Where there are any, ask for it again: it then goes by the errors that are in use today."""
    photos: list[PhotoPairShape]
    """Of a change: those of both days."""
    sha256: str
    engine_version: str
    result: dict[str, JsonValue]
    document: str


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


class NewChange(Given):
    """Records to compare, named by the uuids of their versions; more than two become a job."""

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    versions: Versions
    other_device: bool = False


class Again(Given):
    """A comparison to be worked out again; sent again with the same uuid it is made once."""

    uuid: uuids.UUID | None = None


class NewThenAndNow(Given):
    """Saddles to judge on the backs of several days."""

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    back_versions: Versions
    saddle_versions: Versions
    rider_kg: Annotated[float, Field(ge=LIGHTEST_KG, le=HEAVIEST_KG)]


class NewHandCheck(Given):
    """Repeats of one back on one day by one fitter."""

    horse: uuids.UUID
    versions: Versions
    marks_again: bool = True


class NewNumbers(Given):
    """Records to put into numbers: those that are not yet, or all again."""

    uuid: uuids.UUID | None = None
    again: bool = False


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
    look_again: dict[str, JsonValue] | None


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
        versions=_as_they_are_now(page),
        other_device=bool(page.made_of.get("other_device")),
    )
    return ask_for_change(request, asked)


def _as_they_are_now(page: ComparisonPage) -> list[uuids.UUID]:
    """Return the current versions of a comparison's records.

    Raises
    ------
    InputProblemsError
        If one was withdrawn.
    """
    if not page.again:
        what = "it cannot be worked out again: one of its records was withdrawn"
        raise input_problem(what, "Ask for a new one of the records that stand.")
    return list(page.again)


def _change(actor: Actor, uuid: uuids.UUID) -> dict[str, Any]:
    page = comparison_page(actor, uuid, ComparisonKind.CHANGE)
    load_engine()
    from saddlebench.exchange.change_json import change_as_json  # noqa: PLC0415

    return _shape(actor, page, change_as_json(changes.study_of(page)))


def _shape(actor: Actor, page: ComparisonPage, result: dict[str, Any]) -> dict[str, Any]:
    older = older_figures(actor, page) if page.kind in GOES_BY_FIGURES else ()
    pairs = changes.pairs_of(actor, page) if page.kind is ComparisonKind.CHANGE else ()
    photos = [
        {
            "shot": one.shot,
            "before": one.before and one.before.uuid,
            "after": one.after and one.after.uuid,
        }
        for one in pairs
    ]
    more = {"result": result, "older_figures": older, "photos": photos}
    return {name: getattr(page, name) for name in set(ComparisonShape.model_fields) - set(more)} | more


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
        "look_again": None,
    }
    if isinstance(found, HorseInNumbers):
        return shape
    from saddlebench.exchange.trend_json import trend_as_json  # noqa: PLC0415

    told = {
        "day": found.advice.day.isoformat(),
        "reasons": list(found.advice.reasons),
        "saddle": found.saddle,
    }
    return shape | {"trends": [trend_as_json(one) for one in found.trends], "look_again": told}


@router.post("horses/{uuid:uuid}/numbers", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_for_numbers(request: HttpRequest, uuid: uuids.UUID, body: NewNumbers) -> Status[JobPage]:
    """Put a horse's records into numbers, beside, as a job."""
    actor = actor_of(request)
    job = ask_numbers(actor, uuid, again=body.again, key=body.uuid or uuids.uuid4())
    return Status(202, job_page(actor, job))


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
        back_versions=_as_they_are_now(page),
        saddle_versions=[uuids.UUID(one["version"]) for one in page.made_of["saddles"]],
        rider_kg=page.made_of["rider_kg"],
    )
    return ask_for_then_and_now(request, asked)


@router.get("then-and-now/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=ComparisonShape)
def get_then_and_now(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give every finding of every saddle over the days."""
    actor = actor_of(request)
    page = comparison_page(actor, uuid, ComparisonKind.THEN_AND_NOW)
    return _shape(actor, page, {"saddles": page.told["saddles"], "rider_kg": page.made_of["rider_kg"]})


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
        versions=_as_they_are_now(page),
        marks_again=bool(page.made_of.get("marks_again", True)),
    )
    return ask_hand_check(request, asked)


def _hand(actor: Actor, uuid: uuids.UUID) -> dict[str, Any]:
    page = comparison_page(actor, uuid, ComparisonKind.HAND)
    from saddlebench.exchange.repeat_words import plain_sentences  # noqa: PLC0415

    found = hand.hand_of(page)
    own = asdict(found.overall)
    return _shape(actor, page, {"sentences": list(plain_sentences(found)), "overall": own})


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
    asked = NewFitterComparison(uuid=body.uuid, versions=_as_they_are_now(page))
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
    return _shape(actor, page, repeats_as_json(study) | {"sentences": told})


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
