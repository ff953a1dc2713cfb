"""Choosing what to hand over, and answering a pack."""

import uuid as uuids
from collections.abc import Iterable
from dataclasses import dataclass

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.choice import PackChoice, WorkDone
from saddlebench.practice.queries.handable import Handable, handable_of_horse, handable_of_saddle
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.packs import PartnerShown, TakenShown, partners, taken_pack
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.days import short_day
from saddlebench.web.base.fields import key_of, words_of_choice
from saddlebench.web.base.instruments import settable_choices
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import LANGUAGES, LENGTHS, chosen
from saddlebench.web.packs.asked import Asked, ask_pack
from saddlebench.web.packs.preview import see_first

_MOST_WORDS = 20_000
_TICKED = ("backs", "studies", "plans", "orders", "visits", "changes", "shortlists", "saddles", "photos")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """Something that can be chosen."""

    value: str
    words: str
    is_chosen: bool
    picture: str = ""
    """Empty for a film."""


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
    is_again = _is_again(request)
    if request.method == "POST":
        whole: dict[str, tuple[uuids.UUID, ...]] = {
            "horses" if offered.subject is Subject.HORSE else "saddles": (offered.uuid,)
        }
        try:
            if not is_again:
                return _ask(request, reverse(url, args=[offered.uuid]), {}, whole)
        except InputProblemsError as error:
            problems = error.problems
    ticked = set(request.POST.getlist("choose")) if problems or is_again else _usual(offered)
    return show(
        request,
        "packs/new.html",
        f"Hand over: {offered.label}",
        offered,
        status=422 if problems else 200,
        problems=problems,
        partners=[one for one in partners(request.actor) if one.ended_at is None],
        instruments=settable_choices(request.actor),
        typed=request.POST if problems or is_again else None,
        languages=LANGUAGES,
        lengths=LENGTHS,
        recipient=request.POST.get("recipient", ""),
        offered=[
            ("Back records", _ticks("backs", offered.backs, ticked)),
            (
                "Fit checks, with the back and saddle they were run on",
                _ticks("studies", offered.studies, ticked),
            ),
            (
                "Alteration plans, with the fit check that each was made for",
                _ticks("plans", offered.plans, ticked),
            ),
            ("Work orders, with their plan", _ticks("orders", offered.orders, ticked)),
            (
                "Visits: what was seen and felt of the horse, nothing about people",
                _ticks("visits", offered.visits, ticked),
            ),
            ("What changed, with the backs compared", _ticks("changes", offered.changes, ticked)),
            ("Shortlists of saddles for this horse", _ticks("shortlists", offered.shortlists, ticked)),
            (
                "Saddles",
                _ticks("saddles", offered.saddles if offered.subject is Subject.HORSE else (), ticked),
            ),
        ],
        photos=_photo_ticks(offered, ticked),
        form=str(key_of(request.POST.get("form", ""))),
    )


def _is_again(request: PageRequest) -> bool:
    """Tell whether somebody who saw what would go in wants to choose anew."""
    return request.POST.get("step") == "choose"


def _ticks(kind: str, rows: Iterable[Linked], chosen: set[str]) -> list[Tick]:
    return [
        Tick(
            value=f"{kind}:{one.uuid}",
            words=_words_of(kind, one),
            is_chosen=f"{kind}:{one.uuid}" in chosen,
        )
        for one in rows
    ]


def _words_of(kind: str, one: Linked) -> str:
    day = short_day(one.day)
    if kind == "orders":
        return ", ".join(filter(None, (one.label, one.detail, f"due {day}" if day else "")))
    named = words_of_choice("purpose", one.detail) if kind == "visits" else ""
    return ", ".join(filter(None, (one.label, named, day)))


def _photo_ticks(offered: Handable, chosen: set[str]) -> list[Tick]:
    return [
        Tick(
            value=f"photos:{one.uuid}",
            words=f"{one.shot.replace('_', ' ').capitalize() or ('Film' if one.is_film else 'Photo')}, "
            f"{short_day(one.day)}",
            is_chosen=f"photos:{one.uuid}" in chosen,
            picture="" if one.is_film else reverse("photos:thumb", args=[one.uuid]),
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
    is_again = _is_again(request)
    if request.method == "POST" and not is_again:
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
        recipient=request.POST.get("recipient", "")
        if problems or is_again
        else _usual_recipient(page, known),
        offered=_offered(page, set(request.POST.getlist("choose"))),
        typed=request.POST if problems or is_again else None,
        languages=LANGUAGES,
        lengths=LENGTHS,
        form=str(key_of(request.POST.get("form", ""))),
    )


def _offered(page: TakenShown, chosen: set[str]) -> list[Tick]:
    names = {
        Subject.SADDLE: "saddles",
        Subject.BACK: "backs",
        Subject.STUDY: "studies",
        Subject.PLAN: "plans",
        Subject.ORDER: "orders",
        Subject.VISIT: "visits",
        Subject.COMPARISON: "changes",
        Subject.CHOICE: "shortlists",
    }
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
    names = {**_chosen(given), **whole}
    choice = PackChoice(
        **names,  # type: ignore[arg-type]
        message=given.get("message", "")[:_MOST_WORDS],
        names_people=given.get("names_people") == "yes",
        **more,  # type: ignore[arg-type]
    )
    if given.get("step") == "see":
        return see_first(request, choice, back_to)
    tool = given.get("instrument", "")
    known = {name for name, _ in settable_choices(request.actor)}
    reads = chosen(given)
    asked = Asked(
        choice=choice,
        recipient=_uuid(given.get("recipient", "")),
        drawings=given.get("drawings") == "yes",
        reports=given.get("reports") == "yes",
        kit=given.get("kit") == "yes",
        instrument=tool if tool in known else "",
        language=reads.language,
        lengths=reads.lengths,
    )
    run = key_of(given.get("form", ""))
    ask_pack(request.actor, asked, run, back_to=back_to)
    return HttpResponseRedirect(reverse("job", args=[run]))


def _chosen(given: QueryDict) -> dict[str, tuple[uuids.UUID, ...]]:
    """Return what was ticked, by kind: each tick is `kind:uuid`."""
    found: dict[str, list[uuids.UUID]] = {name: [] for name in _TICKED}
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
