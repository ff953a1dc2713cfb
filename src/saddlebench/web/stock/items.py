"""One saddle in stock: how it stands, said in one hand; its past; its label."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date
from urllib.parse import urlsplit

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice.catalogue import Field, Kind, Value
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.stock import (
    StockRow,
    client_names,
    clients_called,
    stock_history,
    stock_row,
)
from saddlebench.practice.rules import Actor, may
from saddlebench.practice.services import StockFacts, set_stock
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings
from saddlebench.web.base.checks.pictures import sent
from saddlebench.web.base.fields import (
    FormShown,
    homeless,
    read_form,
    show_fields,
    typed_texts,
    whole_of,
)
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import chosen
from saddlebench.web.base.said import say

FIELDS: Mapping[str, Field] = {
    one.name: one
    for one in (
        Field(name="place", words="Which rack or van", kind=Kind.TEXT),
        Field(name="on_trial_with", words="On trial with", kind=Kind.TEXT),
        Field(name="on_trial_until", words="On trial until", kind=Kind.DATE),
        Field(name="reserved_for", words="Reserved for", kind=Kind.TEXT),
        Field(name="price", words="Price", kind=Kind.NUMBER, low=0.0, high=1_000_000.0),
        Field(name="currency", words="Currency, three letters", kind=Kind.TEXT, max_length=3),
        Field(name="discipline", words="For", kind=Kind.TEXT),
        Field(name="condition", words="Condition", kind=Kind.TEXT),
        Field(name="flap", words="Flap, its cut", kind=Kind.TEXT),
        Field(
            name="flap_mm",
            words="Flap below the stirrup bar",
            kind=Kind.NUMBER,
            unit="mm",
            low=150.0,
            high=700.0,
        ),
        Field(name="stock_number", words="Number on the label", kind=Kind.TEXT, max_length=40, required=True),
    )
}
_PEOPLE = ("reserved_for", "on_trial_with")
_LOCAL = {"127.0.0.1", "localhost", "testserver"}


@signed_in(Action.SEE_SADDLES)
def item(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how a saddle in stock stands."""
    return _page(request, stock_row(request.actor, uuid))


def _page(
    request: PageRequest,
    row: StockRow,
    posted: QueryDict | None = None,
    refused: InputProblemsError | None = None,
) -> HttpResponse:
    one = row.item
    values: dict[str, Value] = {
        "place": one.place,
        "on_trial_with": one.on_trial_with,
        "on_trial_until": one.on_trial_until.isoformat() if one.on_trial_until else None,
        "reserved_for": one.reserved_for,
        "price": one.price,
        "currency": one.currency,
        "discipline": one.discipline,
        "condition": one.condition,
        "flap": one.flap,
        "flap_mm": one.flap_mm,
        "stock_number": one.number,
    }
    problems = refused.problems if refused else ()
    typed = typed_texts(posted, FIELDS) if posted is not None else None
    shown = show_fields(FIELDS, values, typed=typed, problems=problems)
    by_name = {field.name: field for field in shown}
    where = posted.get("where", "") if posted is not None else one.where.value
    return show(
        request,
        "stock/item.html",
        row.label,
        row,
        status=422 if refused else 200,
        form=FormShown(fields=shown, problems=homeless(problems, shown)),
        trial=[by_name[name] for name in ("on_trial_with", "on_trial_until")],
        main=[by_name[name] for name in ("place", "reserved_for", "price", "currency")],
        more=[by_name[name] for name in ("discipline", "condition", "flap", "flap_mm", "stock_number")],
        places=[(each.value, each.value == where) for each in Whereabouts],
        history=stock_history(request.actor, row.uuid),
        people=client_names(request.actor),
        late=bool(one.on_trial_until and one.on_trial_until < timezone.localdate()),
        has_site=_site(request) != "",
    )


@signed_in(Action.EDIT_SADDLES, DEED)
def say_how(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say how a saddle in stock stands from now on."""
    row = stock_row(request.actor, uuid)
    try:
        facts = read_facts(request.actor, request.POST, row)
        set_stock(request.actor, uuid, facts, seen=whole_of(request.POST.get("seen", "")))
    except InputProblemsError as error:
        return _page(request, row, request.POST, error)
    say(request, f"{row.label}: {stock_row(request.actor, uuid).item.where_words}.")
    return HttpResponseRedirect(reverse("stock:item", args=[uuid]))


def read_facts(actor: Actor, posted: QueryDict, row: StockRow) -> StockFacts:
    """Return what a form says of a saddle; people by the name they have among the clients.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    values, problems = read_form(posted, FIELDS)
    where = posted.get("where", row.item.where.value)
    if where not in set(Whereabouts):
        problems.append(
            Problem(what="it is not said where it is", cure="Choose one.", where=Where(field="where"))
        )
    trial = where == Whereabouts.ON_TRIAL.value
    people: dict[str, uuids.UUID | None] = {}
    for name in _PEOPLE:
        called = _text(values.get(name)) if name != "on_trial_with" or trial else ""
        as_shown = called == getattr(row.item, name)
        people[name] = getattr(row, name) if as_shown else _client(actor, called, name, problems)
    if problems:
        raise InputProblemsError(problems)
    until = values.get("on_trial_until")
    return StockFacts(
        stock_number=_text(values.get("stock_number")),
        where=Whereabouts(where),
        place=_text(values.get("place")),
        flap=_text(values.get("flap")),
        flap_mm=_number(values.get("flap_mm")),
        discipline=_text(values.get("discipline")),
        condition=_text(values.get("condition")),
        price=_number(values.get("price")),
        currency=_text(values.get("currency")).upper(),
        reserved_for=people["reserved_for"],
        on_trial_with=people["on_trial_with"],
        on_trial_until=date.fromisoformat(until) if trial and isinstance(until, str) and until else None,
    )


def _client(actor: Actor, called: str, name: str, problems: list[Problem]) -> uuids.UUID | None:
    if not called:
        return None
    found = clients_called(actor, called) if may(actor, Action.SEE_PEOPLE, actor.practice_id) else ()
    if len(found) == 1:
        return found[0]
    what = f"{len(found)} clients are called “{called}”" if found else f"“{called}” is not among the clients"
    cure = "Take the client on first, or write the name as it stands there."
    problems.append(Problem(what=what, cure=cure, where=Where(field=name)))
    return None


def _text(value: Value) -> str:
    return value.strip() if isinstance(value, str) else ""


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _site(request: PageRequest) -> str:
    """Return the site that a label's code leads to; empty where only this machine could follow it."""
    address = request.build_absolute_uri("/")
    return "" if urlsplit(address).hostname in _LOCAL else address


@signed_in(Action.SEE_SADDLES)
def label(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send a label with the saddle's code, name, number, sizes and price."""
    from saddlebench.report.stock_label import label_pdf  # noqa: PLC0415

    row, site = stock_row(request.actor, uuid), _site(request)
    choices = chosen(request.GET)

    def make() -> Drawn:
        with read_by(choices.reader()):
            return compressed(label_pdf(row.item, site), "application/pdf")

    made = drawings.get(("label", row.item, site, choices.query), make)
    name = "".join(one if one.isalnum() else "-" for one in row.item.number)
    tag = f"label-{uuid}-{row.state_number}-{choices.query}"
    return sent(request, made, tag, file_name=f"label-{name}.pdf")
