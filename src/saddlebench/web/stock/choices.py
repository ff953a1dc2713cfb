"""Choices as they came out: each saddle with its reasons, each horse with its saddles."""

import uuid as uuids
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.utils.translation import gettext

from saddlebench.practice.enums import Action, ChoiceKind
from saddlebench.practice.queries.choices import ChoicePage, choice_page, list_choices
from saddlebench.practice.queries.stock import StockRow, stock_rows
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import told, wholly_spoken
from saddlebench.web.stock.ordered import order_picture_of

_TEMPLATES = {
    ChoiceKind.SHORTLIST: "stock/shortlist.html",
    ChoiceKind.TAKERS: "stock/takers.html",
    ChoiceKind.SEASON: "stock/season.html",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryShown:
    """One saddle of a list, with how it stands in stock today."""

    found: dict[str, Any]
    stock: StockRow | None
    study: uuids.UUID | None
    """Its fit check on this horse, if there is one."""
    alike: tuple[StockRow, ...]


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def choices(request: PageRequest) -> HttpResponse:
    """List what was chosen, the newest first."""
    listed = list_choices(request.actor, page=whole_of(request.GET.get("page", ""), 1))
    return show(request, "stock/choices.html", gettext("Chosen from the stock"), listed)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def choice(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a shortlist, the horses for a saddle, or a season."""
    page = choice_page(request.actor, uuid)
    return show(
        request,
        _TEMPLATES[page.row.kind],
        told(page.row.label),
        page,
        found=page.found,
        entries=entries_of(request.actor, page),
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def order_picture(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the picture of what would tell which saddle stands first."""
    return order_picture_of(request, choice_page(request.actor, uuid))


def entries_of(actor: Actor, page: ChoicePage) -> list[EntryShown]:
    """Return the saddles of a shortlist with how each stands in stock today."""
    if page.row.kind is not ChoiceKind.SHORTLIST:
        return []
    rows = {str(one.uuid): one for one in stock_rows(actor)}
    return [
        EntryShown(
            found=one,
            stock=rows.get(one["number"]),
            study=page.studies.get(one["number"]),
            alike=tuple(rows[key] for key in one["alike"] if key in rows),
        )
        for one in page.found["entries"]
    ]
