"""Yard cards of one visit, and of a whole day's: chosen on a page, given as PDF."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import parse_number
from saddlebench.exchange.readers import read_by
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.instruments import chosen_instrument, instrument_choices
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import LANGUAGES, PAPERS, chosen

_USUAL = {"instrument": "chain-12x30", "first": "-80", "apart": "80", "sections": "7"}
_LIMITS = {"first": ("First section", -400.0, 600.0), "apart": ("Apart", 15.0, 300.0)}
_MOST_SECTIONS = 12
"""A card is written by hand: more sections than these are measured with a phone."""
_PARTS = (("visit", "The visit"), ("back", "The back"), ("saddle", "A saddle tried"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ForWhom:
    """One visit that a card is printed for."""

    uuid: uuids.UUID
    horse: str
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPage:
    """The form that a card, or a day's cards, are chosen on."""

    visits: tuple[ForWhom, ...]
    day: date
    of_visit: uuids.UUID | None
    """None: of a whole day."""
    instruments: tuple[tuple[str, str], ...]
    languages: tuple[tuple[str, object], ...]
    papers: tuple[tuple[str, object], ...]
    paper: str
    usual: Mapping[str, str]
    parts: tuple[tuple[str, str], ...] = _PARTS
    most_sections: int = _MOST_SECTIONS


@signed_in(Action.SEE_HORSES)
def of_visit(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what a visit's card may hold."""
    one = _visit(request.actor, uuid)
    return _form(request, (one,), one.day, uuid)


@signed_in(Action.SEE_HORSES)
def of_day(request: PageRequest) -> HttpResponse:
    """Show what the cards of a day's visits may hold."""
    day = _day(request)
    return _form(request, _visits_of(request.actor, day), day, None)


@signed_in(Action.SEE_HORSES)
def visit_pdf(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send a visit's card."""
    one = _visit(request.actor, uuid)
    return _pdf(request, (one,), f"yard-card-{one.day.isoformat()}.pdf")


@signed_in(Action.SEE_HORSES)
def day_pdf(request: PageRequest) -> HttpResponse:
    """Send the cards of a day's visits as one file."""
    day = _day(request)
    return _pdf(request, _visits_of(request.actor, day), f"yard-cards-{day.isoformat()}.pdf")


def _visit(actor: Actor, uuid: uuids.UUID) -> ForWhom:
    page = queries.visit_page(actor, uuid)
    horse = page.horse.label if page.horse else str(page.head.get("label") or "")
    return ForWhom(uuid=uuid, horse=horse, day=page.day)


def _visits_of(actor: Actor, day: date) -> tuple[ForWhom, ...]:
    entries = queries.diary(actor, day, day, shop=False).entries
    return tuple(
        ForWhom(uuid=one.uuid, horse=one.horse, day=one.day)
        for one in entries
        if not one.is_recheck and one.day == day
    )


def _day(request: PageRequest) -> date:
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return timezone.localdate()


def _form(
    request: PageRequest, visits: tuple[ForWhom, ...], day: date, uuid: uuids.UUID | None
) -> HttpResponse:
    action = reverse("cards:visit_pdf", args=[uuid]) if uuid else reverse("cards:day_pdf")
    page = CardPage(
        visits=visits,
        day=day,
        of_visit=uuid,
        instruments=instrument_choices(request.actor),
        languages=LANGUAGES,
        papers=PAPERS,
        paper=chosen({}).paper,
        usual=_USUAL,
    )
    return show(request, "cards/card.html", "Yard card", page, action=action)


def _pdf(request: PageRequest, visits: tuple[ForWhom, ...], name: str) -> HttpResponse:
    # The typesetter is slow to load, and only here needed.
    from saddlebench.report import Paper  # noqa: PLC0415
    from saddlebench.report.yard_card import yard_card_pdf  # noqa: PLC0415
    from saddlebench.web.cards.filling import Sections, Wanted, yard_card  # noqa: PLC0415

    given = request.GET
    tool = chosen_instrument(request.actor, given.get("instrument") or _USUAL["instrument"])
    numbers = _numbers(given)
    sections = Sections(
        first_mm=numbers["first"],
        apart_mm=numbers["apart"],
        count=int(numbers["sections"]),
        by_chain="by_chain" in given,
    )
    named = given.getlist("part") or [part for part, _ in _PARTS]
    wanted = Wanted(**{part: part in named for part, _ in _PARTS})
    choices = chosen(given)
    reader = choices.reader()
    with read_by(reader):
        cards = [
            yard_card(
                tool,
                sections,
                wanted,
                horse=one.horse,
                day=reader.day(one.day),
                number=f"urn:uuid:{one.uuid}",
            )
            for one in visits
        ]
        pdf = yard_card_pdf(cards, Paper(choices.paper))
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


def _numbers(given: Mapping[str, str]) -> dict[str, float]:
    problems: list[Problem] = []
    numbers: dict[str, float] = {}
    limits = {**_LIMITS, "sections": ("Sections", 1.0, float(_MOST_SECTIONS))}
    for name, (words, low, high) in limits.items():
        where = Where(field=words)
        read = parse_number(given.get(name) or _USUAL[name], where)
        if isinstance(read, Problem):
            problems.append(read)
        elif not low <= read <= high or (name == "sections" and read % 1):
            what = f"{read:g} is outside {low:g} to {high:g}"
            problems.append(Problem(what=what, cure="Check the number and its unit.", where=where))
        else:
            numbers[name] = read
    if problems:
        raise InputProblemsError(problems)
    return numbers
