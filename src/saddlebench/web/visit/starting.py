"""Visits in a list, starting one for a horse or with a name alone, and its front page."""

import uuid as uuids
from datetime import date

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import VISIT_HEAD_FIELDS, read_all
from saddlebench.practice.enums import Action, Purpose, Subject, VisitState
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.visit_list import visit_list
from saddlebench.practice.services import Entered, NotFoundError, enter, start_visit
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import homeless, key_of, whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.visit.answers import show_answer
from saddlebench.web.visit.shared import around

_FIELDS = ("purpose", "date", "starts_at")


@signed_in(Action.SEE_HORSES)
def visits(request: PageRequest) -> HttpResponse:
    """List the visits: those under way first, wherever they were begun."""
    page = visit_list(request.actor, page=whole_of(request.GET.get("page", ""), 1))
    return show(request, "visit/visits.html", "Visits", page)


@signed_in(Action.ENTER_VISIT, FORM)
def new(request: PageRequest) -> HttpResponse:
    """Start or plan a visit."""
    if request.method != "POST":
        values = {"date": timezone.localdate().isoformat(), "purpose": Purpose.FIRST.value}
        return _form(request, values, (), str(uuids.uuid4()))
    posted = request.POST
    values = {name: posted.get(name, "") for name in ("label", *_FIELDS)}
    try:
        head = read_all({name: VISIT_HEAD_FIELDS[name] for name in values}, values, new=False)
        on = date.fromisoformat(str(head["date"]))
        visit = start_visit(
            request.actor,
            on=on,
            purpose=Purpose(str(head["purpose"])),
            horse=_uuid(posted.get("horse_uuid", "")),
            starts_at=str(head["starts_at"]) if head["starts_at"] else None,
            state=VisitState.PLANNED if "plan" in posted else VisitState.OPEN,
            label=str(head["label"] or ""),
            uuid=key_of(posted.get("form", "")),
        )
    except InputProblemsError as error:
        return _form(request, values, error.problems, posted.get("form", ""), status=422)
    if visit.state == VisitState.PLANNED.value:
        say(request, "The visit is in the diary.")
        return HttpResponseRedirect(reverse("visit:visit", args=[visit.uuid]))
    return HttpResponseRedirect(reverse("visit:step", args=[visit.uuid, "reason"]))


def _uuid(text: str) -> uuids.UUID | None:
    try:
        return uuids.UUID(text) if text else None
    except ValueError:
        raise Http404 from None


def _horse(request: PageRequest) -> Linked | None:
    given = request.POST.get("horse_uuid") or request.GET.get("horse", "")
    chosen = _uuid(given)
    if chosen is None:
        return None
    page = queries.horse_page(request.actor, chosen)
    return Linked(uuid=page.uuid, label=page.label)


def _form(
    request: PageRequest,
    values: dict[str, str],
    problems: tuple[Problem, ...],
    form: str,
    *,
    status: int = 200,
) -> HttpResponse:
    asked = request.GET.get("q", "").strip()
    fields = {
        name: show_answer(
            VISIT_HEAD_FIELDS[name], None, value=values.get(name), typed=values.get(name), problems=problems
        )
        for name in ("label", *_FIELDS)
    }
    more: dict[str, object] = {
        "horse": _horse(request),
        "asked_q": asked,
        "found": queries.find_horses(request.actor, asked).rows[:12] if asked else (),
        "fields": fields,
        "homeless": homeless(problems, [one.field for one in fields.values()]),
        "form": form,
    }
    return show(request, "visit/new.html", "Start a visit", status=status, **more)


@signed_in(Action.SEE_HORSES)
def visit(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a visit's front page: the way through it, and how far each step is."""
    shown = around(request.actor, uuid, "")
    go_on = next((one.name for one in shown.path if one.said != "done"), shown.path[0].name)
    title = f"Visit: {shown.horse}"
    return show(request, "visit/visit.html", title, shown.page, around=shown, go_on=go_on)


@signed_in(Action.ENTER_VISIT, DEED)
def say_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say which horse a visit is about, when it began with a name alone."""
    page = queries.visit_page(request.actor, uuid)
    entry = Entered(
        field="horse",
        value=request.POST.get("horse", ""),
        key=key_of(request.POST.get("key", "")),
        seen=page.revision,
    )
    enter(request.actor, Subject.VISIT, uuid, [entry])
    shown = queries.visit_page(request.actor, uuid)
    if shown.horse is None:
        raise NotFoundError("horse", request.POST.get("horse", ""))
    say(request, f"This visit is {shown.horse.label}'s.")
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, "reason"]))
