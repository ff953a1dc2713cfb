"""Moving a work order on, saying what was done, and checking the saddle when it is back."""

import uuid as uuids
from collections.abc import Sequence

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.practice.catalogue import Field, Kind, read_value
from saddlebench.practice.enums import Action
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.orders import order_page
from saddlebench.practice.services.orders import NotMovedError, move_order, say_done
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.orders.pages import read_order

_FURTHEST_MM, _WIDEST_MM = 60.0, 600.0


@signed_in(Action.EDIT_SADDLES, DEED)
def move(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Move an order on."""
    load_engine()
    named = request.POST.get("to", "")
    to = next((one for one in OrderStep if one.value == named), None)
    seen, said = whole_of(request.POST.get("seen", "")), request.POST.get("said", "")
    if to is None:
        return _not_done(request, uuid, input_problem("no step is named", "Choose one."))
    try:
        order = move_order(request.actor, uuid, to, seen=seen, said=said)
    except (NotMovedError, InputProblemsError) as error:
        return _not_done(request, uuid, error)
    say(request, f"Work order {order.number} is {order.step} now.")
    return HttpResponseRedirect(_after(request, uuid, to))


def _after(request: PageRequest, uuid: uuids.UUID, to: OrderStep) -> str:
    """Return where to go on: a workshop no longer sees what was taken back."""
    hidden = to in {OrderStep.WITHDRAWN, OrderStep.BEING_WRITTEN} and request.actor.role.value == "workshop"
    return reverse("orders:orders") if hidden else reverse("orders:order", args=[uuid])


@signed_in(Action.EDIT_SADDLES, DEED)
def done(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say what was found and what was done, place by place."""
    held = read_order(order_page(request.actor, uuid))
    try:
        lines = _numbers(request, [line.place for line in held.work], "done")
        arch = _number(request.POST.get("arch", ""), "front arch", 50.0, _WIDEST_MM)
        say_done(
            request.actor,
            uuid,
            lines,
            seen=whole_of(request.POST.get("seen", "")),
            arch_mm=arch,
            found=[request.POST.get(f"found-{k}", "") for k in range(len(held.work))],
            mended=request.POST.getlist("mended"),
            said=request.POST.get("said", ""),
        )
    except (NotMovedError, InputProblemsError) as error:
        return _not_done(request, uuid, error)
    say(request, "What was done is kept.")
    return HttpResponseRedirect(reverse("orders:order", args=[uuid]))


@signed_in(Action.EDIT_SADDLES, DEED)
def check(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Close an order with what was measured when the saddle came back."""
    held = read_order(order_page(request.actor, uuid))
    try:
        measured = _numbers(request, [line.place for line in held.work], "checked")
        order = move_order(
            request.actor,
            uuid,
            OrderStep.CHECKED,
            seen=whole_of(request.POST.get("seen", "")),
            said=request.POST.get("said", ""),
            checked_mm=measured,
        )
    except (NotMovedError, InputProblemsError) as error:
        return _not_done(request, uuid, error)
    say(request, f"Work order {order.number} is back and checked; the re-check is in the diary.")
    return HttpResponseRedirect(reverse("orders:order", args=[uuid]))


def _numbers(request: PageRequest, places: Sequence[str], prefix: str) -> list[float | None]:
    problems: list[Problem] = []
    found: list[float | None] = []
    for k, place in enumerate(places):
        try:
            found.append(_number(request.POST.get(f"{prefix}-{k}", ""), place, -_FURTHEST_MM, _FURTHEST_MM))
        except InputProblemsError as error:
            problems += error.problems
    if problems:
        raise InputProblemsError(problems)
    return found


def _number(text: str, words: str, low: float, high: float) -> float | None:
    if not text.strip():
        return None
    described = Field(name="mm", words=words, kind=Kind.NUMBER, unit="mm", low=low, high=high)
    value = read_value(described, text.strip().replace("\N{MINUS SIGN}", "-").removeprefix("+"))
    return float(value) if isinstance(value, int | float) else None


def _not_done(
    request: PageRequest, uuid: uuids.UUID, error: NotMovedError | InputProblemsError
) -> HttpResponse:
    page = order_page(request.actor, uuid)
    problems = error.problems if isinstance(error, InputProblemsError) else (str(error),)
    title = f"Work order {page.row.number}"
    return show(request, "orders/not_done.html", title, page, status=422, problems=problems)
