"""Choosing what to hand over, and answering a pack."""

import uuid as uuids
from collections.abc import Iterable
from dataclasses import dataclass

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.instruments import example_names
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.gathering import PackChoice, WorkDone
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.packs import (
    Handable,
    PartnerShown,
    TakenShown,
    handable_of_horse,
    handable_of_saddle,
    partners,
    taken_pack,
)
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.packs.asked import Asked, ask_pack

_MOST_WORDS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """Something that can be chosen."""

    value: str
    words: str
    is_chosen: bool
    picture: str = ""


@signed_in(Action.EXPORT, FORM)
def of_horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Choose what to hand over of a horse."""
    return _new(request, handable_of_horse(request.actor, uuid), "packs:new_of_horse")


@signed_in(Action.EXPORT, FORM)
def of_saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Choose what to hand over of a saddle."""
    return _new(request, handable_of_saddle(request.actor, uuid), "packs:new_of_saddle")


def _new(request: PageRequest, offered: Handable, url: str) -> HttpResponse:
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        whole: dict[str, tuple[uuids.UUID, ...]] = {
            "horses" if offered.subject is Subject.HORSE else "saddles": (offered.uuid,)
        }
        try:
            return _ask(request, reverse(url, args=[offered.uuid]), {}, whole)
        except InputProblemsError as error:
            problems = error.problems
    chosen = set(request.POST.getlist("choose")) if problems else _usual(offered)
    return show(
        request,
        "packs/new.html",
        f"Hand over: {offered.label}",
        offered,
        status=422 if problems else 200,
        problems=problems,
        partners=[one for one in partners(request.actor) if one.ended_at is None],
        instruments=sorted(example_names()),
        typed=request.POST if problems else None,
        recipient=request.POST.get("recipient", ""),
        offered=[
            ("Back records", _ticks("backs", offered.backs, chosen)),
            (
                "Fit checks, with the back and saddle they were run on",
                _ticks("studies", offered.studies, chosen),
            ),
            (
                "Saddles",
                _ticks("saddles", offered.saddles if offered.subject is Subject.HORSE else (), chosen),
            ),
        ],
        photos=_photo_ticks(offered, chosen),
        form=str(key_of(request.POST.get("form", ""))),
    )


def _ticks(kind: str, rows: Iterable[Linked], chosen: set[str]) -> list[Tick]:
    return [
        Tick(
            value=f"{kind}:{one.uuid}",
            words=f"{one.label}, {one.day:%-d %b %Y}" if one.day else one.label,
            is_chosen=f"{kind}:{one.uuid}" in chosen,
        )
        for one in rows
    ]


def _photo_ticks(offered: Handable, chosen: set[str]) -> list[Tick]:
    return [
        Tick(
            value=f"photos:{one.uuid}",
            words=f"{one.shot.replace('_', ' ').capitalize() or 'Photo'}, {one.day:%-d %b %Y}",
            is_chosen=f"photos:{one.uuid}" in chosen,
            picture=reverse("photos:thumb", args=[one.uuid]),
        )
        for one in offered.photos
    ]


def _usual(offered: Handable) -> set[str]:
    """Return what is chosen at first: the newest back."""
    return {f"backs:{one.uuid}" for one in offered.backs[:1]}


@signed_in(Action.EXPORT, FORM)
def answer(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Answer a pack: what was done, what is asked, which of the records go back."""
    page = taken_pack(request.actor, uuid)
    known = [one for one in partners(request.actor) if one.ended_at is None]
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        today = timezone.localdate()
        more = {
            "answers": page.pack_uuid,
            "work_done": tuple(
                WorkDone(on=today, words=line) for line in _lines(request.POST.get("work_done", ""))
            ),
            "questions": tuple(_lines(request.POST.get("questions", ""))),
        }
        try:
            return _ask(request, reverse("packs:answer", args=[uuid]), more, {})
        except InputProblemsError as error:
            problems = error.problems
    return show(
        request,
        "packs/answer.html",
        f"Answer {page.sender}",
        page,
        status=422 if problems else 200,
        problems=problems,
        partners=known,
        recipient=request.POST.get("recipient", "") if problems else _usual_recipient(page, known),
        offered=_offered(page, set(request.POST.getlist("choose"))),
        typed=request.POST if problems else None,
        form=str(key_of(request.POST.get("form", ""))),
    )


def _offered(page: TakenShown, chosen: set[str]) -> list[Tick]:
    names = {Subject.SADDLE: "saddles", Subject.BACK: "backs", Subject.STUDY: "studies"}
    return [
        tick for kind, one in page.records if kind in names for tick in _ticks(names[kind], [one], chosen)
    ]


def _usual_recipient(page: TakenShown, known: Iterable[PartnerShown]) -> str:
    """Return the one who asked, if the key is still trusted: an answer is for them."""
    return next((str(one.uuid) for one in known if one.fingerprint == page.fingerprint), "")


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text[:_MOST_WORDS].splitlines() if line.strip()]


def _ask(
    request: PageRequest, back_to: str, more: dict[str, object], whole: dict[str, tuple[uuids.UUID, ...]]
) -> HttpResponse:
    given = request.POST
    chosen = {**_chosen(given), **whole}
    choice = PackChoice(
        **chosen,  # type: ignore[arg-type]
        message=given.get("message", "")[:_MOST_WORDS],
        names_people=given.get("names_people") == "yes",
        **more,  # type: ignore[arg-type]
    )
    tool = given.get("instrument", "")
    asked = Asked(
        choice=choice,
        recipient=_uuid(given.get("recipient", "")),
        drawings=given.get("drawings") == "yes",
        reports=given.get("reports") == "yes",
        kit=given.get("kit") == "yes",
        instrument=tool if tool in example_names() else "",
    )
    run = key_of(given.get("form", ""))
    ask_pack(request.actor, asked, run, back_to=back_to)
    return HttpResponseRedirect(reverse("job", args=[run]))


def _chosen(given: QueryDict) -> dict[str, tuple[uuids.UUID, ...]]:
    """Return what was ticked, by kind: each tick is `kind:uuid`."""
    found: dict[str, list[uuids.UUID]] = {"backs": [], "studies": [], "saddles": [], "photos": []}
    for tick in given.getlist("choose"):
        kind, _, name = tick.partition(":")
        uuid = _uuid(name)
        if kind in found and uuid is not None:
            found[kind].append(uuid)
    return {kind: tuple(names) for kind, names in found.items()}


def _uuid(text: str) -> uuids.UUID | None:
    try:
        return uuids.UUID(text)
    except ValueError:
        return None
