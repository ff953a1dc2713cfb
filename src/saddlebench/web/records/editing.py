"""Editing: a whole form at once, or one field as soon as it is left; nobody's entry is overwritten unseen."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import replace

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action, Outcome
from saddlebench.practice.rules import may
from saddlebench.practice.services import Entered, EntryResult, enter
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.entering import answer_field, other_of
from saddlebench.web.base.fields import (
    FieldShown,
    FormShown,
    entries_of_form,
    homeless,
    key_of,
    show_field,
    show_fields,
    typed_texts,
    whole_of,
)
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.records.choosing import ChooseShown, show_choice
from saddlebench.web.records.kinds import CLIENT, HORSE, KINDS, SADDLE, YARD, RecordKind, Standing, subject_of


@signed_in(Action.EDIT_PEOPLE, FORM)
def edit_client(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Edit a client."""
    return _edit(request, CLIENT, uuid)


@signed_in(Action.EDIT_PEOPLE, FORM)
def edit_yard(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Edit a yard."""
    return _edit(request, YARD, uuid)


@signed_in(Action.EDIT_HORSES, FORM)
def edit_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Edit a horse."""
    return _edit(request, HORSE, uuid)


@signed_in(Action.EDIT_SADDLES, FORM)
def edit_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Edit a saddle's facts; its measured record is elsewhere."""
    return _edit(request, SADDLE, uuid)


def _edit(request: PageRequest, kind: RecordKind, uuid: uuids.UUID) -> HttpResponse:
    standing = kind.read(request.actor, uuid)
    if request.method != "POST" or "look_up" in request.POST:
        return _form(request, kind, uuid, standing, (), {})
    try:
        results = enter(request.actor, kind.subject, uuid, _entries(request, kind))
    except InputProblemsError as error:
        return _form(request, kind, uuid, standing, error.problems, {})
    held = {one.field: one for one in results if one.outcome is Outcome.HELD}
    if held:
        return _form(request, kind, uuid, kind.read(request.actor, uuid), (), held)
    say(request, f"{kind.read(request.actor, uuid).label}: what you changed is kept.")
    return HttpResponseRedirect(reverse(kind.url, args=[uuid]))


def _links(request: PageRequest, kind: RecordKind) -> tuple[str, ...]:
    return kind.links if may(request.actor, Action.SEE_PEOPLE, request.actor.practice_id) else ()


def _entries(request: PageRequest, kind: RecordKind) -> list[Entered]:
    posted = request.POST
    entries = entries_of_form(posted, kind.fields)
    for what in _links(request, kind):
        if what in posted and posted[what] != posted.get(f"{what}.was", ""):
            key, seen = key_of(posted.get(f"{what}.key", "")), whole_of(posted.get(f"{what}.seen", ""))
            entries.append(Entered(field=what, value=posted[what] or None, key=key, seen=seen))
    return entries


def _fields(
    request: PageRequest,
    kind: RecordKind,
    standing: Standing,
    problems: tuple[Problem, ...],
    held: Mapping[str, EntryResult],
) -> list[FieldShown]:
    """Return the form's fields: as kept, or as typed where that was not kept, with what others entered."""
    if request.method != "POST":
        return show_fields(kind.fields, standing.values, seen=standing.revision)
    typed = typed_texts(request.POST, kind.fields)
    if held:
        # All but the held fields are kept by now: they are shown as kept.
        typed = {name: text for name, text in typed.items() if name in held}
        others = {name: other for name, one in held.items() if (other := other_of(one))}
        return show_fields(kind.fields, standing.values, seen=standing.revision, typed=typed, others=others)
    shown = []
    for name, described in kind.fields.items():
        if name in standing.values:
            # What the page showed stays what it showed, so that a colleague's entry meanwhile is noticed.
            seen = whole_of(request.POST.get(f"{name}.seen", ""), standing.revision)
            one = show_field(
                described,
                request.POST.get(f"{name}.was"),
                seen=seen,
                typed=typed.get(name),
                problems=problems,
            )
            shown.append(one)
    return shown


def _choices(
    request: PageRequest,
    kind: RecordKind,
    standing: Standing,
    problems: tuple[Problem, ...],
    held: Mapping[str, EntryResult],
) -> list[ChooseShown]:
    posted = request.POST if request.method == "POST" and (not held or set(held) & set(kind.links)) else None
    return [
        show_choice(
            request.actor,
            what,
            standing.links.get(what),
            seen=standing.revision,
            posted=posted,
            problems=problems,
            other=standing.links.get(what),
            is_held=what in held,
        )
        for what in _links(request, kind)
    ]


def _form(
    request: PageRequest,
    kind: RecordKind,
    uuid: uuids.UUID,
    standing: Standing,
    problems: tuple[Problem, ...],
    held: Mapping[str, EntryResult],
) -> HttpResponse:
    save_to = reverse("records:enter_field", args=[kind.subject.value, uuid])
    fields = [replace(one, save_to=save_to) for one in _fields(request, kind, standing, problems, held)]
    choices = _choices(request, kind, standing, problems, held)
    placed = {problem for one in choices for problem in one.problems}
    rest = tuple(problem for problem in homeless(problems, fields) if problem not in placed)
    more = {
        "form": FormShown(fields=fields, problems=rest),
        "choices": choices,
        "held": bool(held),
        "back": reverse(kind.url, args=[uuid]),
    }
    status = 422 if problems else 409 if held else 200
    return show(request, "records/edit.html", f"Edit {standing.label}", standing, status=status, **more)


@signed_in(Action.SEE_SADDLES, DEED)
def enter_field(request: PageRequest, subject: str, uuid: uuids.UUID) -> HttpResponse:
    """Enter one field of a record as soon as it is left."""
    kind = KINDS[subject_of(subject, KINDS)]
    return answer_field(request, kind.subject, kind.fields, uuid)
