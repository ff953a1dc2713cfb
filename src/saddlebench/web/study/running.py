"""The pages of running a fit check: asking, watching, stopping; and running it again to compare."""

import uuid as uuids
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.enums import Action, Purpose
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.studies import CheckChoices, check_choices, study_page
from saddlebench.practice.services.checking import run_again
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.checks.loading import load_engine, warm_up
from saddlebench.web.base.checks.running import ask_check, runs, stop_run, stoppable
from saddlebench.web.base.fields import (
    FormShown,
    homeless,
    key_of,
    show_fields,
    typed_texts,
)
from saddlebench.web.base.jobs import JobState, Progress, worker
from saddlebench.web.base.render import show
from saddlebench.web.study.asking import AS_RECORDED, FIELDS, read_asked, topics_asked


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
        leads_to, back_to = reverse("study:study", args=[run]), reverse("study:new", args=[uuid])
        ask_check(request.actor, asked.asked(), run, leads_to, back_to=back_to)
    except InputProblemsError as error:
        return _form(request, choices, request.POST, error)
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
    stop_run(request.actor, uuid)
    return HttpResponseRedirect(reverse("study:running", args=[uuid]))


@signed_in(Action.RECORD_STUDY, DEED)
def again(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Run a recorded run again, on the versions it was run on, and tell whether it comes out the same."""
    page = study_page(request.actor, uuid, number)
    actor, key = request.actor, uuids.uuid4()
    watched = runs.of(key)
    address = f"{reverse('study:study', args=[uuid])}?run={number}"

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
