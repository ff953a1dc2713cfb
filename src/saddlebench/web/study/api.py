"""Fit checks for other programs: asked for, watched, fetched. They are computed here and nowhere else."""

import uuid as uuids
from datetime import date, datetime
from typing import Annotated

from django.http import HttpRequest
from django.urls import reverse
from ninja import Router, Status
from pydantic import Field, JsonValue, WithJsonSchema

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Value, read_all
from saddlebench.practice.enums import Action
from saddlebench.practice.opinions import Topic
from saddlebench.practice.queries.jobs import JobPage, job_page, jobs_page
from saddlebench.practice.queries.record_lists import Listed, StudyRow, list_studies
from saddlebench.practice.queries.studies import CheckChoices, StudyPage, check_choices, study_page
from saddlebench.practice.services.jobs import ask_job_again, stop_job
from saddlebench.web.base.checks.request import ANOTHER_PAD, FIELDS
from saddlebench.web.base.checks.running import CheckAsked, ask_check
from saddlebench.web.base.interface import (
    ByToken,
    Given,
    LinkShape,
    ListShape,
    PageNumber,
    Shape,
    actor_of,
    values_schema,
)
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.study import api_changes, api_runs

router = Router(tags=["fit checks"])
router.add_router("", api_runs.router)
router.add_router("", api_changes.router)
AskedValues = Annotated[dict[str, JsonValue], WithJsonSchema(values_schema(FIELDS))]


class StudyRowShape(Shape):
    """A fit check in a list."""

    uuid: uuids.UUID
    label: str
    horse: LinkShape
    saddle: LinkShape
    visit: uuids.UUID | None
    made_at: datetime
    number: int | None
    sha256: str


class StudyListShape(ListShape):
    """A page of fit checks."""

    rows: list[StudyRowShape]


class RunShape(Shape):
    """One run of a fit check: what it was made of, and by which version of the program."""

    number: int
    sha256: str
    made_at: datetime
    made_by: str
    why: str
    engine_version: str
    back_version: uuids.UUID
    back_label: str
    back_number: int
    saddle_version: uuids.UUID
    saddle_number: int
    is_on_current: bool


class OpinionShape(Shape):
    """What the fitter said of a topic before the answer, and what the program did."""

    topic: Topic
    words: str
    fitter: str
    program: str
    agrees: bool | None


class StudyShape(Shape):
    """A fit check and its current run; findings stand in its document. A screening aid, not a diagnosis."""

    uuid: uuids.UUID
    label: str
    horse: LinkShape
    saddle: LinkShape
    visit: LinkShape | None
    run: RunShape
    current_number: int
    runs: list[RunShape]
    opinions: list[OpinionShape]
    opinions_by: str
    opinions_at: datetime | None


class BackChoiceShape(Shape):
    """A version of a back that a fit check can be run on."""

    uuid: uuids.UUID
    label: str
    measured_on: date
    number: int
    is_current: bool


class SaddleChoiceShape(Shape):
    """A version of a saddle that a fit check can be run with."""

    uuid: uuids.UUID
    saddle_uuid: uuids.UUID
    label: str
    number: int
    is_current: bool
    is_this_horses: bool
    why: str


class ChoicesShape(Shape):
    """What a fit check of a horse can be made of."""

    horse: LinkShape
    rider_mass_kg: float | None
    backs: list[BackChoiceShape]
    saddles: list[SaddleChoiceShape]
    visits: list[LinkShape]


class NewStudy(Given):
    """A fit check to run: of a version of a back and one of a saddle, named by the uuids of the versions.

    The fitter's own verdict comes first, as in the pages: `opinions` by topic, or `without_verdict`.
    """

    uuid: uuids.UUID | None = None
    horse: uuids.UUID
    back_version: uuids.UUID
    saddle_version: uuids.UUID
    visit: uuids.UUID | None = None
    asked: AskedValues
    opinions: dict[Topic, Annotated[str, Field(max_length=40)]] = Field(default_factory=dict)
    without_verdict: bool = False


@router.get("studies", auth=ByToken(Action.SEE_HORSES), response=StudyListShape)
def get_studies(
    request: HttpRequest,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: PageNumber = 1,
) -> Listed[StudyRow]:
    """List fit checks, the newest first; all of them, a horse's or a saddle's."""
    return list_studies(actor_of(request), horse=horse, saddle=saddle, page=page)


@router.get("horses/{uuid:uuid}/check-choices", auth=ByToken(Action.RECORD_STUDY), response=ChoicesShape)
def get_choices(request: HttpRequest, uuid: uuids.UUID) -> CheckChoices:
    """Give what a fit check of a horse can be made of."""
    return check_choices(actor_of(request), uuid)


@router.post("studies", auth=ByToken(Action.RECORD_STUDY), response={202: JobShape})
def ask_study(request: HttpRequest, body: NewStudy) -> Status[JobPage]:
    """Ask for a fit check. It is run beside, as a job; sent again with the same uuid it is run once."""
    actor, run = actor_of(request), body.uuid or uuids.uuid4()
    asked = _read(body, check_choices(actor, body.horse))
    leads_to = reverse("study:study", args=[run])
    ask_check(actor, asked, run, leads_to, back_to=reverse("study:new", args=[body.horse]))
    return Status(202, job_page(actor, run))


def _read(body: NewStudy, choices: CheckChoices) -> CheckAsked:
    problems: list[Problem] = []
    values: dict[str, Value] = {}
    try:
        values = {**dict.fromkeys(FIELDS), **read_all(FIELDS, body.asked, new=True)}
    except InputProblemsError as error:
        problems += error.problems
    if values.get("pads") == ANOTHER_PAD:
        problems += [
            _missing(name, "is not said", "Say it, or choose the pads as recorded.")
            for name in ("pad_stuff", "pad_thickness")
            if values.get(name) is None
        ]
    saddle = next((one for one in choices.saddles if one.uuid == body.saddle_version), None)
    if body.back_version not in {one.uuid for one in choices.backs}:
        problems.append(_missing("back_version", "is no back of this horse", "Choose one of check-choices."))
    if saddle is None:
        problems.append(
            _missing("saddle_version", "is no saddle for this horse", "Choose one of check-choices.")
        )
    if body.visit and body.visit not in {one.uuid for one in choices.visits}:
        problems.append(_missing("visit", "is no visit to this horse", "Choose one of check-choices."))
    if not body.opinions and not body.without_verdict:
        cure = "Say what you found, as far as you looked, or that you have no verdict yet."
        problems.append(_missing("opinions", "your own verdict comes first", cure))
    if problems or saddle is None:
        raise InputProblemsError(problems)
    return CheckAsked(
        back_version=body.back_version,
        saddle_version=saddle.uuid,
        visit=body.visit,
        opinions={topic.value: said for topic, said in body.opinions.items()},
        words=saddle.label,
        given=values,
    )


def _missing(field: str, what: str, cure: str) -> Problem:
    return Problem(what=what, cure=cure, where=Where(field=field))


@router.get("studies/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=StudyShape)
def get_study(request: HttpRequest, uuid: uuids.UUID) -> StudyPage:
    """Give a fit check with its runs; what it found is the document of its current version."""
    return study_page(actor_of(request), uuid)


@router.get("jobs", auth=ByToken(Action.SEE_HORSES), response=list[JobShape])
def get_jobs(request: HttpRequest) -> list[JobPage]:
    """List the latest long work of the practice, the newest first."""
    return list(jobs_page(actor_of(request)))


@router.get("jobs/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=JobShape)
def get_job(request: HttpRequest, uuid: uuids.UUID) -> JobPage:
    """Tell how far long work is."""
    return job_page(actor_of(request), uuid)


@router.post("jobs/{uuid:uuid}/stop", auth=ByToken(Action.SEE_HORSES), response=JobShape)
def stop(request: HttpRequest, uuid: uuids.UUID) -> JobPage:
    """Stop long work: at once while it waits, at its next step while it runs."""
    stop_job(actor_of(request), uuid)
    return job_page(actor_of(request), uuid)


@router.post("jobs/{uuid:uuid}/again", auth=ByToken(Action.SEE_HORSES), response=JobShape)
def again(request: HttpRequest, uuid: uuids.UUID) -> JobPage:
    """Queue long work again that was interrupted, stopped or failed."""
    ask_job_again(actor_of(request), uuid)
    return job_page(actor_of(request), uuid)
