"""The pages of asking for a fit check, and of running one again to compare."""

import uuid as uuids

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.enums import Action, Purpose
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.queries.studies import CheckChoices, check_choices, saddles_of_horse
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.checking import refuse_stopped_visit
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.checks.loading import scene_of, studies, warm_up
from saddlebench.web.base.checks.pictures import HALT, PHONE, PUT, picture, sent
from saddlebench.web.base.checks.request import AS_RECORDED, FIELDS
from saddlebench.web.base.checks.running import ask_check, ask_on_current, ask_same_again, first_key
from saddlebench.web.base.fields import (
    FormShown,
    homeless,
    key_of,
    show_fields,
    typed_texts,
)
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import wholly_spoken, words_told
from saddlebench.web.study.asking import read_asked, topics_asked


@signed_in(Action.RECORD_STUDY, FORM)
@wholly_spoken
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Ask for a fit check of a horse: the fitter's own verdict first, then what it is made of."""
    choices = check_choices(request.actor, uuid)
    if request.method != "POST":
        named = next((one.uuid for one in choices.visits if str(one.uuid) == request.GET.get("visit")), None)
        refuse_stopped_visit(request.actor, uuid, named)
        warm_up()
        return _form(request, choices, request.GET)
    try:
        asked = read_asked(request.POST, choices)
        run = key_of(request.POST.get("form", ""))
        leads_to, back_to = reverse("study:study", args=[run]), reverse("study:new", args=[uuid])
        ask_check(request.actor, asked.asked(), run, leads_to, back_to=back_to)
    except InputProblemsError as error:
        return _form(request, choices, request.POST, error)
    return HttpResponseRedirect(reverse("job", args=[run]))


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
        f"{gettext('Fit check')}: {choices.horse.label}",
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
        unmeasured=() if choices.saddles else saddles_of_horse(request.actor, choices.horse.uuid),
        visits=[
            (str(one.uuid), one.day, words_told(Purpose(one.detail)) if one.detail else "")
            for one in choices.visits
        ],
    )


def _version_of(choices: CheckChoices, named: str) -> str:
    """Return the version that an address names, itself or by its saddle's current one."""
    current = {str(one.saddle_uuid): str(one.uuid) for one in choices.saddles if one.is_current}
    return current.get(named, named)


_MAIN = ("rider_mass", "pads", "pad_stuff", "pad_thickness")


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def first_look(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the picture of a run under way; it is kept by the process that runs it, and nowhere else."""
    job_page(request.actor, uuid)
    estimate = studies.held(first_key(uuid))
    if estimate is None:
        raise NotFoundError("first look", uuid)
    drawn = picture(first_key(uuid), estimate, lambda: scene_of(estimate, HALT, PUT), "overview", width=PHONE)
    return sent(request, drawn, f"first-{uuid}")


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def again(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Run a recorded run again, on the versions it was run on, and tell whether it comes out the same."""
    address = f"{reverse('study:study', args=[uuid])}?run={number}"
    return HttpResponseRedirect(reverse("job", args=[ask_same_again(request.actor, uuid, number, address)]))


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def on_current(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Run a check on its back and saddle as they are now; the runs that there are stay."""
    job = ask_on_current(request.actor, uuid, reverse("study:study", args=[uuid]))
    return HttpResponseRedirect(reverse("job", args=[job]))
