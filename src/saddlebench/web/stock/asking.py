"""Asking: saddles for one horse, horses for one saddle, a season."""

import uuid as uuids
from collections.abc import Mapping

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Field, Kind, Value
from saddlebench.practice.enums import Action, ChoiceKind
from saddlebench.practice.queries.choices import list_choices
from saddlebench.practice.queries.season import horses_to_ask
from saddlebench.practice.queries.stock import stock_rows
from saddlebench.practice.queries.studies import CheckChoices, check_choices
from saddlebench.practice.services.checking import refuse_stopped_visit
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.checks.loading import warm_up
from saddlebench.web.base.checks.request import FIELDS as CHECK_FIELDS
from saddlebench.web.base.fields import (
    FormShown,
    homeless,
    key_of,
    read_form,
    show_fields,
    typed_texts,
    whole_of,
)
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.stock.work import ask_season, ask_shortlist, ask_takers

FIELDS: Mapping[str, Field] = {
    **{name: CHECK_FIELDS[name] for name in ("rider_mass", "horse_mass", "build", "flat_withered")},
    **{
        one.name: one
        for one in (
            Field(
                name="thigh",
                words="Rider sitting, wall to front of the knee",
                kind=Kind.NUMBER,
                unit="mm",
                low=250.0,
                high=900.0,
            ),
            Field(
                name="leg",
                words="Rider standing, hip to floor",
                kind=Kind.NUMBER,
                unit="mm",
                low=400.0,
                high=1300.0,
            ),
            Field(name="discipline", words="Only for", kind=Kind.TEXT, max_length=40),
            Field(name="length", words="How many saddles", kind=Kind.WHOLE, low=1.0, high=50.0),
            Field(name="everything", words="Also those on trial, out or reserved", kind=Kind.YES_NO),
        )
    },
}


def read_asked(posted: QueryDict, choices: CheckChoices) -> dict[str, Value]:
    """Return what a shortlist is asked with.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    values, problems = read_form(posted, FIELDS)
    named = posted.get("back", "")
    if named not in {str(one.uuid) for one in choices.backs}:
        problems.append(Problem(what="no back is chosen", cure="Choose one.", where=Where(field="The back")))
    if problems:
        raise InputProblemsError(problems)
    return {**values, "back_version": named}


@signed_in(Action.RECORD_STUDY, FORM)
@wholly_spoken
def shortlist(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Ask for the saddles in stock that suit one horse and rider."""
    choices = check_choices(request.actor, uuid)
    refuse_stopped_visit(request.actor, uuid, None)
    if request.method != "POST":
        warm_up()
        return _form(request, choices)
    try:
        asked = read_asked(request.POST, choices)
        key = key_of(request.POST.get("form", ""))
        run = ask_shortlist(request.actor, uuid, choices.horse.label, asked, uuid=key)
    except InputProblemsError as error:
        return _form(request, choices, request.POST, error)
    return HttpResponseRedirect(reverse("job", args=[run]))


def _form(
    request: PageRequest,
    choices: CheckChoices,
    posted: QueryDict | None = None,
    refused: InputProblemsError | None = None,
) -> HttpResponse:
    problems = refused.problems if refused else ()
    usual: dict[str, Value] = {
        **dict.fromkeys(FIELDS),
        "rider_mass": choices.rider_mass_kg,
        "build": "ordinary",
        "length": 10,
        "everything": False,
    }
    typed = typed_texts(posted, FIELDS) if posted is not None else None
    shown = show_fields(FIELDS, usual, typed=typed, problems=problems)
    form = FormShown(fields=shown, problems=homeless(problems, shown))
    rows = stock_rows(request.actor)
    return show(
        request,
        "stock/ask_shortlist.html",
        gettext("Saddles for %(horse)s") % {"horse": choices.horse.label},
        choices,
        status=422 if refused else 200,
        form=form,
        back=posted.get("back", "") if posted is not None else "",
        n_stock=len(rows),
        n_measured=sum(one.is_measured for one in rows),
        earlier=list_choices(request.actor, horse=choices.horse.uuid).rows[:10],
    )


@signed_in(Action.RECORD_STUDY, FORM)
@wholly_spoken
def takers(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Ask which horses could take one saddle."""
    saddle = queries.saddle_page(request.actor, uuid)
    if request.method == "POST" and saddle.current_number:
        key = key_of(request.POST.get("form", ""))
        run = ask_takers(request.actor, uuid, saddle.label, uuid=key)
        return HttpResponseRedirect(reverse("job", args=[run]))
    return show(
        request,
        "stock/ask_takers.html",
        f"{gettext('Who could take it?')} {saddle.label}",
        saddle,
        horses=horses_to_ask(request.actor),
        form_key=str(key_of("")),
    )


@signed_in(Action.RECORD_STUDY, FORM)
@wholly_spoken
def season(request: PageRequest) -> HttpResponse:
    """Ask for a short list for every horse."""
    if request.method == "POST":
        length = min(max(1, whole_of(request.POST.get("length", ""), 5)), 20)
        everything = request.POST.get("everything") == "yes"
        key = key_of(request.POST.get("form", ""))
        run = ask_season(request.actor, length=length, everything=everything, uuid=key)
        return HttpResponseRedirect(reverse("job", args=[run]))
    rows = stock_rows(request.actor)
    return show(
        request,
        "stock/ask_season.html",
        gettext("Plan the season"),
        None,
        horses=horses_to_ask(request.actor),
        n_measured=sum(one.is_measured for one in rows),
        n_free=sum(one.is_measured and one.item.is_free for one in rows),
        form_key=str(key_of("")),
        earlier=list_choices(request.actor, kind=ChoiceKind.SEASON).rows[:10],
    )
