"""Saddles at a visit: tried, looked over, put on in four states, ridden."""

import uuid as uuids

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import queries
from saddlebench.practice.catalogue import VISIT_SADDLE_FIELDS
from saddlebench.practice.enums import Action, Family, Outcome, Subject
from saddlebench.practice.queries.visits import TriedSaddle, VisitPage
from saddlebench.practice.services import enter, take_on_saddle, take_saddle_off, try_saddle, use_saddle_on
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of, typed_texts
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.visit.answers import AnswerField, entries_of, show_answer
from saddlebench.web.visit.path import PARTS_BY_NAME, RIDDEN, SADDLE_PARTS, SaddlePart
from saddlebench.web.visit.shared import around, shown_stops
from saddlebench.web.visit.stepping import tried_shown
from saddlebench.web.visit.steps import NOTHING_TRIED, Attempt, around_form, groups_of, saved


@signed_in(Action.ENTER_VISIT, DEED)
def add(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a saddle of the list to the visit, or one that is in no list yet."""
    page = queries.visit_page(request.actor, uuid)
    chosen = request.POST.get("saddle", "")
    try:
        saddle = uuids.UUID(chosen) if chosen else _taken_on(request, page)
    except ValueError:
        raise Http404 from None
    tried = try_saddle(request.actor, uuid, saddle)
    say(request, f"{tried.saddle.label} is at this visit.")
    return HttpResponseRedirect(reverse("visit:saddle", args=[uuid, tried.uuid, SADDLE_PARTS[0].name]))


@signed_in(Action.ENTER_VISIT, DEED)
def take_off(request: PageRequest, uuid: uuids.UUID, tried: uuids.UUID) -> HttpResponse:
    """Take a saddle off the visit; what was entered about it stays, and comes back with it."""
    one = _tried(queries.visit_page(request.actor, uuid), tried)
    take_saddle_off(request.actor, tried)
    undo = reverse("visit:put_saddle_back", args=[uuid, one.saddle.uuid])
    say(request, f"{one.saddle.label} is off this visit.", undo=undo)
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, "saddles"]))


@signed_in(Action.ENTER_VISIT, DEED)
def put_back(request: PageRequest, uuid: uuids.UUID, saddle: uuids.UUID) -> HttpResponse:
    """Put a saddle that was taken off back to the visit, with everything that was entered about it."""
    tried = try_saddle(request.actor, uuid, saddle)
    say(request, f"{tried.saddle.label} is at this visit again.")
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, "saddles"]))


def _taken_on(request: PageRequest, page: VisitPage) -> uuids.UUID:
    """Take on a saddle by its name and family; it is used on the visit's horse."""
    posted = request.POST
    family = posted.get("family", "")
    values = {"label": posted.get("label", ""), "family": family if family in set(Family) else None}
    saddle = take_on_saddle(request.actor, values, uuid=key_of(posted.get("new", "")))
    if page.horse is not None:
        use_saddle_on(request.actor, saddle.uuid, [page.horse.uuid])
    return saddle.uuid


def _tried(page: VisitPage, tried: uuids.UUID) -> TriedSaddle:
    found = next((one for one in page.tried if one.uuid == tried), None)
    if found is None:
        raise Http404
    return found


@signed_in(Action.ENTER_VISIT, FORM)
def saddle(request: PageRequest, uuid: uuids.UUID, tried: uuids.UUID, part: str) -> HttpResponse:
    """Show one part of a saddle at the visit, or save it as one form."""
    chosen = PARTS_BY_NAME.get(part)
    if chosen is None:
        raise Http404
    _tried(queries.visit_page(request.actor, uuid), tried)
    if request.method != "POST":
        return _show(request, uuid, tried, chosen, NOTHING_TRIED)
    fields = chosen.fields
    typed = typed_texts(request.POST, fields)
    entries = entries_of(request.actor, request.POST, fields)
    try:
        results = enter(request.actor, Subject.VISIT_SADDLE, tried, entries)
    except InputProblemsError as error:
        attempt = Attempt(typed=typed, problems=error.problems)
        return _show(request, uuid, tried, chosen, attempt, status=422)
    held = {one.field: one for one in results if one.outcome is Outcome.HELD}
    if held:
        kept = {name: text for name, text in typed.items() if name in held}
        return _show(request, uuid, tried, chosen, Attempt(typed=kept, held=held), status=409)
    if results:
        say(request, f"{chosen.words}: what you entered is kept.")
    return HttpResponseRedirect(_after(uuid, tried, chosen))


def _after(uuid: uuids.UUID, tried: uuids.UUID, part: SaddlePart) -> str:
    names = [one.name for one in SADDLE_PARTS]
    at = names.index(part.name) + 1
    if at == len(names):
        return reverse("visit:step", args=[uuid, "saddles"])
    return reverse("visit:saddle", args=[uuid, tried, names[at]])


def _show(
    request: PageRequest,
    uuid: uuids.UUID,
    tried: uuids.UUID,
    part: SaddlePart,
    attempt: Attempt,
    *,
    status: int = 200,
) -> HttpResponse:
    shown = around(request.actor, uuid, "saddles")
    one = _tried(shown.page, tried)

    def make(name: str) -> AnswerField | None:
        return show_answer(
            VISIT_SADDLE_FIELDS[name],
            one.answers[name],
            seen=one.revision,
            typed=attempt.typed.get(name),
            problems=attempt.problems,
            result=attempt.held.get(name),
            reader=request.actor.label,
        )

    groups = groups_of(part.groups, VISIT_SADDLE_FIELDS, make)
    if one.stops:
        # With a stop standing nobody gets up; what was written down before it stays readable.
        groups = [group for group in groups if group.name not in RIDDEN or group.filled]
    more: dict[str, object] = {
        "around": shown,
        "tried": one,
        "parts": next(row.parts for row in tried_shown(shown.page) if row.tried.uuid == tried),
        "part": part,
        "groups": groups,
        "save_to": reverse("visit:save_saddle", args=[uuid, tried]),
        "saddle_stops": shown_stops({k: v for k, v in one.stops.items() if k not in shown.page.stops}),
        "as_cards": part.name != SADDLE_PARTS[0].name,
        **around_form(attempt, groups),
    }
    title = f"{one.saddle.label} on {shown.horse}"
    return show(request, "visit/saddle.html", title, shown.page, status=status, **more)


@signed_in(Action.ENTER_VISIT, DEED)
def save(request: PageRequest, uuid: uuids.UUID, tried: uuids.UUID) -> HttpResponse:
    """Save one field about a saddle as soon as it is left."""
    page = queries.visit_page(request.actor, uuid)
    _tried(page, tried)
    name = next((one for one in VISIT_SADDLE_FIELDS if f"{one}.key" in request.POST), None)
    if name is None:
        raise Http404
    answer, status = saved(request, Subject.VISIT_SADDLE, tried, VISIT_SADDLE_FIELDS[name])
    shown = around(request.actor, uuid, "saddles")
    one = _tried(shown.page, tried)
    stops = shown_stops({k: v for k, v in one.stops.items() if k not in shown.page.stops})
    more: dict[str, object] = {"around": shown, "tried": one, "saddle_stops": stops}
    return show(request, "visit/saved.html", "", shown.page, status=status, answer=answer, **more)
