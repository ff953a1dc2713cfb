"""Running a fit check beside the pages: asked, watched, stopped; and run again to compare."""

import threading
import uuid as uuids
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, SaddlebenchError
from saddlebench.practice import services
from saddlebench.practice.enums import Action, Purpose
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.studies import CheckChoices, check_choices, study_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.checking import run_again
from saddlebench.practice.services.opinions import give_opinions, set_beside
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import (
    FormShown,
    homeless,
    key_of,
    show_fields,
    typed_texts,
    whole_of,
)
from saddlebench.web.base.jobs import Job, JobState, Progress, worker
from saddlebench.web.base.render import show
from saddlebench.web.study.asking import AS_RECORDED, FIELDS, Asked, read_asked, topics_asked
from saddlebench.web.study.loading import load_engine, warm_up

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import Progress as EngineProgress

_MOST_WATCHED = 500


class StoppedOnRequestError(SaddlebenchError):
    """The person who asked for a run does not want it any more."""

    def __init__(self) -> None:
        super().__init__("Stopped, as you asked. Nothing was recorded.")


@dataclass(slots=True, kw_only=True)
class Watched:
    """What a page may tell a run under way, and what the run has to say besides its address."""

    stop: threading.Event = field(default_factory=threading.Event)
    outcome: str = ""
    back_to: str = ""


class Runs:
    """The runs of this process that can be stopped."""

    def __init__(self) -> None:
        self._held: OrderedDict[uuids.UUID, Watched] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, uuid: uuids.UUID) -> Watched:
        """Return what is watched of a job; made where there is none yet."""
        with self._lock:
            while len(self._held) >= _MOST_WATCHED:
                self._held.popitem(last=False)
            return self._held.setdefault(uuid, Watched())


runs = Runs()


def stoppable(watched: Watched, told: Progress) -> "EngineProgress":
    """Return a progress that ends the work at its next step once it was asked to stop."""

    def step(done: int, of: int, doing: str) -> None:
        if watched.stop.is_set():
            raise StoppedOnRequestError
        told(done, of, doing)

    return step


def ask_check(actor: Actor, asked: Asked, uuid: uuids.UUID) -> Job:
    """Keep the fitter's verdict, then queue the check; asked twice with one uuid, it is run once."""
    give_opinions(actor, uuid, asked.opinions, back_version=asked.back_version)
    watched = runs.of(uuid)

    def work(told: Progress) -> str:
        step = stoppable(watched, told)
        step(0, 3, "reading the records")
        load_engine()
        document = services.compute_check(
            actor,
            asked.request(),
            back_version=asked.back_version,
            saddle_version=asked.saddle_version,
            progress=step,
        )
        step(3, 3, "recording it")
        services.record_study(
            actor,
            document,
            back_version=asked.back_version,
            saddle_version=asked.saddle_version,
            visit_uuid=asked.visit,
            uuid=uuid,
        )
        set_beside(actor, uuid)
        return reverse("study:study", args=[uuid])

    return worker.ask(actor, f"Fit check: {asked.saddle_label}", work, uuid=uuid)


@signed_in(Action.RECORD_STUDY, FORM)
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Ask for a fit check of a horse: the fitter's own verdict first, then what it is made of."""
    choices = check_choices(request.actor, uuid)
    if request.method != "POST":
        warm_up()
        return _form(request, choices, request.GET)
    try:
        asked = read_asked(request.POST, choices)
        run = key_of(request.POST.get("form", ""))
        ask_check(request.actor, asked, run)
    except InputProblemsError as error:
        return _form(request, choices, request.POST, error)
    runs.of(run).back_to = reverse("study:new", args=[uuid])
    return HttpResponseRedirect(reverse("study:running", args=[run]))


def _form(
    request: PageRequest, choices: CheckChoices, given: QueryDict, refused: InputProblemsError | None = None
) -> HttpResponse:
    problems = refused.problems if refused else ()
    usual = {"rider_mass": choices.rider_mass_kg, "pads": AS_RECORDED, "build": "ordinary"}
    typed = typed_texts(given, FIELDS) if refused else None
    shown = show_fields(FIELDS, {**dict.fromkeys(FIELDS), **usual}, typed=typed, problems=problems)
    form = FormShown(fields=shown, problems=homeless(problems, shown))
    if refused:
        form = FormShown(fields=shown, problems=form.problems, uuid=str(key_of(given.get("form", ""))))
    by_name = {one.name: one for one in shown}
    return show(
        request,
        "study/new.html",
        f"Fit check: {choices.horse.label}",
        choices,
        status=422 if refused else 200,
        form=form,
        main=[by_name[name] for name in ("rider_mass", "pads", "pad_stuff", "pad_thickness")],
        more=[by_name[name] for name in by_name if name not in _MAIN],
        topics=topics_asked(given if refused else None),
        without=given.get("without_verdict") == "yes",
        back=given.get("back", ""),
        saddle=_version_of(choices, given.get("saddle", "")),
        visit=given.get("visit", ""),
        visits=[
            (str(one.uuid), one.day, words_of(Purpose(one.detail)) if one.detail else "")
            for one in choices.visits
        ],
    )


def _version_of(choices: CheckChoices, named: str) -> str:
    """Return the version that an address names, itself or by its saddle's current one."""
    current = {str(one.saddle_uuid): str(one.uuid) for one in choices.saddles if one.is_current}
    return current.get(named, named)


_MAIN = ("rider_mass", "pads", "pad_stuff", "pad_thickness")


@signed_in(Action.SEE_HORSES)
def running(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how far a run is; the page asks again by itself until it is done."""
    job = worker.look(request.actor, uuid)
    watched = runs.of(uuid)
    title = job.words if job else "Interrupted"
    is_over = job is None or job.state in {JobState.DONE, JobState.FAILED}
    more: dict[str, Any] = {"watched": watched, "is_over": is_over, "stopping": watched.stop.is_set()}
    response = show(request, "study/running.html", title, job, **more)
    if job and job.state is JobState.DONE and not watched.outcome:
        if request.htmx:
            response["HX-Redirect"] = job.leads_to
        else:
            return HttpResponseRedirect(job.leads_to)
    return response


@signed_in(Action.RECORD_STUDY, DEED)
def stop(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Stop a run at its next step."""
    if worker.look(request.actor, uuid) is None:
        raise services.NotFoundError("run under way", uuid)
    runs.of(uuid).stop.set()
    return HttpResponseRedirect(reverse("study:running", args=[uuid]))


@signed_in(Action.RECORD_STUDY, DEED)
def again(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Run a recorded run again, on the versions it was run on, and tell whether it comes out the same."""
    page = study_page(request.actor, uuid, number)
    actor, key = request.actor, uuids.uuid4()
    watched = runs.of(key)
    address = f"{reverse('study:study', args=[uuid])}?run={whole_of(str(number))}"

    def work(told: Progress) -> str:
        load_engine()
        result = run_again(actor, uuid, number, stoppable(watched, told))
        short = result.document.sha256[:12]
        if result.is_same:
            watched.outcome = f"The same result, byte for byte ({short})."
        else:
            watched.outcome = (
                f"Another result ({short} instead of {page.run.sha256[:12]}). The run was made by "
                f"saddlebench {page.run.engine_version}; a newer program may compute differently."
            )
        return address

    watched.back_to = address
    job = worker.ask(actor, f"Run again: {page.label}", work, uuid=key)
    return HttpResponseRedirect(reverse("study:running", args=[job.uuid]))
