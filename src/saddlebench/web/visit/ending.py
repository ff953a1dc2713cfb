"""The end of a visit: advice, the next date, finishing; and the summary that is printed."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import input_problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import VISIT_HEAD_FIELDS, VISIT_SADDLE_FIELDS, Field, read_value
from saddlebench.practice.enums import Action, Purpose, RecheckReason, Subject, VisitState
from saddlebench.practice.estimates import firmness_kpa_mm
from saddlebench.practice.queries.photos import photos_of, shot_list
from saddlebench.practice.queries.visits import AnswerShown, TriedSaddle
from saddlebench.practice.services import (
    Entered,
    answer_recheck,
    enter,
    give_advice,
    set_recheck,
    start_visit,
)
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.days import long_day, short_day
from saddlebench.web.base.fields import FactShown, key_of, words_of_value
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.visit.marks import marks_shown
from saddlebench.web.visit.path import ALL_FIELDS, SADDLE_PARTS, STEPS, STOP, Group
from saddlebench.web.visit.shared import Around, around, shown_stops

_MARKED = ("palpation", "muscle")


@signed_in(Action.ENTER_VISIT, DEED)
def advise(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Write down advice, with its time, and whether it was declined."""
    queries.visit_page(request.actor, uuid)
    posted = request.POST
    advice = give_advice(
        request.actor,
        uuid,
        posted.get("said", ""),
        declined="declined" in posted,
        declined_by=posted.get("declined_by", ""),
        uuid=key_of(posted.get("form", "")),
    )
    say(request, "Advice declined is written down." if advice.is_declined else "The advice is written down.")
    back = "stop" if posted.get("back") == "stop" else "decision"
    return HttpResponseRedirect(f"{reverse('visit:step', args=[uuid, back])}#advice")


@signed_in(Action.ENTER_VISIT, DEED)
def recheck(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Set when the horse is seen again: by the reasons' weeks, or on a day as agreed."""
    page = queries.visit_page(request.actor, uuid)
    posted = request.POST
    if page.horse is None:
        raise input_problem(
            "the visit names no horse of the records yet",
            "Say which horse it is, then set the date.",
        )
    on = _day(posted.get("on", ""))
    reasons = [reason for reason in RecheckReason if reason.value in posted.getlist("reason")]
    if on is None and not reasons:
        raise input_problem("neither a reason nor a day was chosen", "Choose one of them.")
    made = set_recheck(
        request.actor,
        page.horse.uuid,
        visit_uuid=uuid,
        reasons=reasons,
        on=on,
        uuid=key_of(posted.get("form", "")),
    )
    _note_next(request, uuid, made.due_by)
    if on is not None and "plan" in posted:
        start_visit(
            request.actor,
            on=on,
            purpose=Purpose.RECHECK,
            horse=page.horse.uuid,
            starts_at=posted.get("starts_at") or None,
            state=VisitState.PLANNED,
            uuid=uuids.uuid5(made.uuid, "visit"),
        )
    say(request, f"{page.horse.label} is in the diary: due by {short_day(made.due_by)}.")
    return HttpResponseRedirect(reverse("visit:step", args=[uuid, "next"]))


def _day(text: str) -> date | None:
    read = read_value(VISIT_HEAD_FIELDS["date"], text) if text.strip() else None
    return date.fromisoformat(str(read)) if read else None


def _note_next(request: PageRequest, uuid: uuids.UUID, day: date) -> None:
    page = queries.visit_page(request.actor, uuid)
    if page.answers["next_on"].value is None:
        entry = Entered(field="next_on", value=day.isoformat(), key=uuids.uuid4(), seen=page.revision)
        enter(request.actor, Subject.VISIT, uuid, [entry])


@signed_in(Action.ENTER_VISIT, DEED)
def finish(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Finish a visit, or take a finished one up again; a re-check that it answers leaves the diary."""
    page = queries.visit_page(request.actor, uuid)
    state = VisitState.OPEN if "go_on" in request.POST else VisitState.FINISHED
    entry = Entered(
        field="state",
        value=state.value,
        key=key_of(request.POST.get("key", "")),
        seen=page.revision,
    )
    enter(request.actor, Subject.VISIT, uuid, [entry])
    if state is VisitState.OPEN:
        say(request, "The visit is under way again.")
        return HttpResponseRedirect(reverse("visit:visit", args=[uuid]))
    for text in request.POST.getlist("answers"):
        answer_recheck(request.actor, key_of(text), uuid)
    say(request, "The visit is finished.")
    return HttpResponseRedirect(reverse("visit:summary", args=[uuid]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the summary."""

    words: str
    facts: tuple[FactShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleSummary:
    """A saddle in the summary."""

    label: str
    sections: tuple[Section, ...]
    stops: tuple[object, ...]


@signed_in(Action.SEE_HORSES)
def summary(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show everything that was found, on sheets to print."""
    shown = around(request.actor, uuid, "")
    page = shown.page
    steps = [
        Section(words=group.words, facts=facts)
        for step in (*STEPS, STOP)
        for group in step.groups
        if (facts := _facts(group, page.answers))
    ]
    more: dict[str, Any] = {
        "around": shown,
        "sections": steps,
        "saddles": [_saddle(one, shown) for one in page.tried],
        "marks": [one for name in _MARKED if (one := marks_shown(page, name)).marks],
        "photos": [one for one in photos_of(request.actor, visit=uuid) if not one.is_film],
        "head": [
            FactShown(words=VISIT_HEAD_FIELDS["date"].words, text=long_day(page.day)),
            *(
                FactShown(words=field.words, text=words_of_value(field, page.head.get(name)))
                for name, field in VISIT_HEAD_FIELDS.items()
                if name in {"starts_at", "purpose"} and page.head.get(name)
            ),
        ],
        "shots": {shot.name: shot.words for shot in shot_list(request.actor)},
    }
    return show(request, "visit/summary.html", f"Visit: {shown.horse}", page, **more)


def _facts(group: Group, held: Mapping[str, AnswerShown]) -> tuple[FactShown, ...]:
    shown = (
        _fact(ALL_FIELDS.get(name) or VISIT_SADDLE_FIELDS[name], held[name])
        for name in group.fields
        if name in held and name not in _MARKED
    )
    return tuple(fact for fact in shown if fact.text)


def _fact(field: Field, answer: AnswerShown) -> FactShown:
    text = words_of_value(field, answer.value)
    if field.name.startswith("dip_") and isinstance(answer.value, float):
        text = f"{text} ({firmness_kpa_mm(answer.value):.2g} kPa/mm)"
    return FactShown(words=field.words, text=text)


def _saddle(one: TriedSaddle, shown: Around) -> SaddleSummary:
    sections = [
        Section(words=group.words, facts=facts)
        for part in SADDLE_PARTS
        for group in part.groups
        if (facts := _facts(group, one.answers))
    ]
    own = {kind: causes for kind, causes in one.stops.items() if kind not in shown.page.stops}
    return SaddleSummary(label=one.saddle.label, sections=tuple(sections), stops=shown_stops(own))
