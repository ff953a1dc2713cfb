"""One record's page."""

import uuid as uuids
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.exchange.vocabulary import said
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import CLIENT_FIELDS, HORSE_FIELDS, SADDLE_FIELDS, YARD_FIELDS
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.horses import HorsePage
from saddlebench.practice.queries.yards import yard_page
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import FactShown, facts
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.links import deeds_on


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def horse(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a horse."""
    page = queries.horse_page(request.actor, uuid)
    more: dict[str, Any] = {"facts": _horse_facts(page), "subject": Subject.HORSE}
    more["deeds"] = deeds_on(Subject.HORSE, uuid, request.actor)
    return show(request, "records/horse.html", page.label, page, **more)


def _horse_facts(page: HorsePage) -> list[FactShown]:
    height = said(HORSE_FIELDS["height_cm"].words)
    return [
        FactShown(words=fact.words, text=f"{page.height_hands} hh ({fact.text})")
        if fact.words == height
        else fact
        for fact in facts(HORSE_FIELDS, {k: v for k, v in page.values.items() if k != "label"})
    ]


@signed_in(Action.SEE_PEOPLE)
def client(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a client."""
    page = queries.client_page(request.actor, uuid)
    shown = facts(CLIENT_FIELDS, {k: v for k, v in page.values.items() if k != "label"})
    return show(request, "records/client.html", page.label, page, facts=shown, subject=Subject.CLIENT)


@signed_in(Action.SEE_PEOPLE)
def yard(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a yard."""
    page = yard_page(request.actor, uuid)
    shown = facts(YARD_FIELDS, {k: v for k, v in page.values.items() if k != "label"})
    return show(request, "records/yard.html", page.label, page, facts=shown, subject=Subject.YARD)


@signed_in(Action.SEE_SADDLES)
def saddle(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a saddle."""
    page = queries.saddle_page(request.actor, uuid)
    shown = facts(SADDLE_FIELDS, {k: v for k, v in page.values.items() if k != "label"})
    asked = request.GET.get("horse", "").strip()
    found = queries.find_horses(request.actor, asked) if asked else None
    used = {one.uuid for one in page.horses}
    offered = [row for row in found.rows[:10] if row.uuid not in used] if found else []
    more: dict[str, Any] = {"facts": shown, "subject": Subject.SADDLE, "offered": offered}
    more["deeds"] = deeds_on(Subject.SADDLE, uuid, request.actor)
    return show(request, "records/saddle.html", page.label, page, asked_horse=asked, **more)


@signed_in(Action.EDIT_SADDLES, DEED)
def to_stock(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Take a client's saddle into stock."""
    saddle = services.move_to_stock(request.actor, uuid)
    say(request, f"{saddle.label} is in stock now, and on no horse.")
    return HttpResponseRedirect(reverse("records:saddle", args=[uuid]))


@signed_in(Action.EDIT_HORSES, DEED)
def used_on(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say on which horses a saddle is used."""
    named = []
    for text in request.POST.getlist("horse"):
        try:
            named.append(uuids.UUID(text))
        except ValueError:
            continue
    services.use_saddle_on(request.actor, uuid, named)
    say(request, "The saddle's horses are kept.")
    return HttpResponseRedirect(reverse("records:saddle", args=[uuid]))
