"""The steps of a visit: shown in any order, saved field by field, or as one form without script."""

import uuid as uuids
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Field, Kind
from saddlebench.practice.enums import Action, Family, Outcome, Subject
from saddlebench.practice.estimates.condition import SOURCE as SCALE_SOURCE
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.photos import photos_of, shot_list
from saddlebench.practice.services import EntryResult, enter
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import homeless, typed_texts
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.visit import stepping
from saddlebench.web.visit.answers import (
    AnswerField,
    GroupShown,
    entries_of,
    entry_of,
    group_shown,
    may_see,
    show_answer,
)
from saddlebench.web.visit.path import ALL_FIELDS, BY_NAME, UNASKED, Group, Step
from saddlebench.web.visit.shared import Around, around


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """A form that was sent and could not all be saved."""

    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Sequence[Problem] = ()
    held: Mapping[str, EntryResult] = field(default_factory=dict)
    seen: int | None = None


NOTHING_TRIED = Attempt()


@signed_in(Action.ENTER_VISIT, FORM)
def step(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Show a step, or save it as one form."""
    chosen = BY_NAME.get(name)
    if chosen is None:
        raise Http404
    if request.method != "POST":
        return _show(request, uuid, chosen, NOTHING_TRIED)
    fields = chosen.fields
    typed = typed_texts(request.POST, fields)
    try:
        results = enter(request.actor, Subject.VISIT, uuid, entries_of(request.actor, request.POST, fields))
    except InputProblemsError as error:
        return _show(request, uuid, chosen, Attempt(typed=typed, problems=error.problems), status=422)
    held = {one.field: one for one in results if one.outcome is Outcome.HELD}
    if held:
        kept = {name: text for name, text in typed.items() if name in held}
        return _show(request, uuid, chosen, Attempt(typed=kept, held=held), status=409)
    if results:
        say(request, f"{chosen.words}: what you entered is kept.")
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, stepping.after(name)]))


def _show(
    request: PageRequest, uuid: uuids.UUID, chosen: Step, attempt: Attempt, *, status: int = 200
) -> HttpResponse:
    shown = around(request.actor, uuid, chosen.name, saddles=chosen.name in {"saddles", "fit"})
    groups = groups_of(chosen.groups, ALL_FIELDS, lambda name: _answer(request, shown, name, attempt))
    more: dict[str, object] = {
        "around": shown,
        "groups": groups,
        "step": chosen,
        "save_to": reverse("visit:save", args=[uuid]),
        "next": BY_NAME[stepping.after(chosen.name)],
        **around_form(attempt, groups),
        **_more(request, shown, chosen),
    }
    title = f"{chosen.words}: {shown.horse}"
    return show(request, f"visit/{chosen.name}.html", title, shown.page, status=status, **more)


def around_form(attempt: Attempt, groups: Sequence[GroupShown]) -> dict[str, object]:
    """Return what every form of a visit needs besides its fields."""
    fields = [answer.field for group in groups for answer in group.fields]
    return {
        "held": bool(attempt.held),
        "homeless": homeless(attempt.problems, fields),
        "fresh": str(uuids.uuid4()),
        "scale_source": SCALE_SOURCE,
    }


def _answer(request: PageRequest, shown: Around, name: str, attempt: Attempt) -> AnswerField | None:
    page = shown.page
    if name in UNASKED or not may_see(page, name) or ALL_FIELDS[name].kind is Kind.MARKS:
        return None
    held = page.answers.get(name)
    return show_answer(
        ALL_FIELDS[name],
        held,
        value=page.head.get(name),
        seen=page.revision,
        typed=attempt.typed.get(name),
        problems=attempt.problems,
        result=attempt.held.get(name),
        reader=request.actor.label,
    )


def groups_of(groups: Sequence[Group], fields: Mapping[str, Field], make: stepping.Make) -> list[GroupShown]:
    """Return groups with their fields; open are the first not filled, and those with something to say."""
    made = []
    has_open = False
    for one in groups:
        answers = [answer for name in one.fields if name in fields and (answer := make(name)) is not None]
        if not answers:
            continue
        is_full = all(answer.field.was for answer in answers)
        speaks = any(answer.field.problems or answer.others for answer in answers)
        is_open = speaks or (not is_full and not has_open)
        has_open = has_open or is_open
        made.append(group_shown(one, answers, is_open=is_open))
    return made


def _more(request: PageRequest, shown: Around, chosen: Step) -> dict[str, object]:
    """Return what a step needs besides its fields."""
    make = _MORE.get(chosen.name)
    return make(request, shown) if make else {}


def _photos(request: PageRequest, shown: Around) -> dict[str, object]:
    photos = photos_of(request.actor, visit=shown.page.uuid)
    shots = stepping.shots_with_photos(shot_list(request.actor), photos)
    return {"shots": shots, "n_flawed": sum(bool(one.flaws) for one in photos)}


def _saddles(request: PageRequest, shown: Around) -> dict[str, object]:
    asked = request.GET.get("saddle", "").strip()
    found = queries.find_saddles(request.actor, asked).rows[:12] if asked else ()
    known = {one.saddle.uuid for one in shown.page.tried} | {one.uuid for one in shown.work.own_saddles}
    return {
        "asked_saddle": asked,
        "offered": [row for row in found if row.uuid not in known],
        "tried": stepping.tried_shown(shown.page),
        "families": [(one.value, words_of(one)) for one in Family],
    }


_MORE: dict[str, Callable[[PageRequest, Around], dict[str, object]]] = {
    "reason": lambda request, _shown: {"asked_horse": stepping.horses_asked(request)},
    "stance": lambda _request, shown: {"marks": stepping.mark_fields(shown.page)},
    "photos": _photos,
    "saddles": _saddles,
    "fit": lambda _request, shown: {"tried": stepping.tried_shown(shown.page)},
    "next": lambda _request, shown: stepping.next_dates(shown),
}


@signed_in(Action.ENTER_VISIT, DEED)
def save(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Save one field as soon as it is left, and answer with what became of it."""
    name = next((one for one in ALL_FIELDS if f"{one}.key" in request.POST), None)
    if name is None or name in UNASKED:
        raise Http404
    answer, status = saved(request, Subject.VISIT, uuid, ALL_FIELDS[name])
    shown = around(request.actor, uuid, stepping.step_of(name))
    return show(request, "visit/saved.html", "", shown.page, status=status, answer=answer, around=shown)


def saved(
    request: PageRequest, subject: Subject, uuid: uuids.UUID, described: Field
) -> tuple[AnswerField, int]:
    """Enter one field, and return it as it stands afterwards with the status of the answer."""
    entry = entry_of(request.actor, request.POST, described)
    if entry is None:
        raise Http404
    typed = typed_texts(request.POST, [described.name])[described.name]
    try:
        result = enter(request.actor, subject, uuid, [entry])[0]
    except InputProblemsError as error:
        answer = show_answer(described, None, seen=entry.seen, typed=typed, problems=error.problems)
        return answer, 422
    if result.outcome is Outcome.HELD and result.other is not None:
        answer = show_answer(
            described, None, value=result.other.value, seen=result.other.revision, typed=typed, result=result
        )
        return answer, 409
    return stepping.just_saved(described, result), 200
