"""Writing a work order from a plan, and writing it anew while it was not sent."""

import uuid as uuids
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.orders import order_page, workshops
from saddlebench.practice.queries.plans import PlanPage, plan_page
from saddlebench.practice.services.orders import next_number, rewrite_order, write_order
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.fields import FormShown, homeless, key_of, show_fields, typed_texts, whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.orders.fields import FIELDS, facts_of
from saddlebench.web.orders.pages import read_order


@signed_in(Action.RECORD_STUDY, FORM)
def new(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Write a work order from a plan."""
    plan = plan_page(request.actor, uuid)
    if request.method != "POST":
        return _form(request, plan, _usual(request, plan))
    load_engine()
    try:
        key = key_of(request.POST.get("form", ""))
        order = write_order(request.actor, uuid, facts_of(request.POST), uuid=key)
    except InputProblemsError as error:
        return _form(request, plan, {}, posted=request.POST, refused=error)
    say(request, f"Work order {order.number} is written, not sent yet.")
    return HttpResponseRedirect(reverse("orders:order", args=[order.uuid]))


@signed_in(Action.RECORD_STUDY, FORM)
def edit(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Write a work order anew, until it is sent."""
    page = order_page(request.actor, uuid)
    plan = plan_page(request.actor, page.row.plan, withdrawn=True)
    held = read_order(page)
    values: dict[str, Value] = {
        "number": held.number,
        "due_on": held.due_on.isoformat() if held.due_on else None,
        "workshop_name": "" if page.row.workshop else held.workshop,
        "unsafe": list(held.unsafe_first),
        "leave": list(held.do_not_touch),
        "price_limit": held.price_limit,
        "loan": held.loan_saddle,
        "seat": held.saddle.seat,
        "colour": held.saddle.colour,
        "photos": list(held.saddle.photos),
        "notes": held.notes,
    }
    more: dict[str, Any] = {
        "seen": page.row.state_number,
        "order": page.row,
        "chosen_label": page.row.workshop,
    }
    if request.method != "POST":
        return _form(request, plan, values, **more)
    try:
        seen = whole_of(request.POST.get("seen", ""))
        rewrite_order(request.actor, uuid, facts_of(request.POST), seen=seen)
    except InputProblemsError as error:
        return _form(request, plan, values, posted=request.POST, refused=error, **more)
    say(request, f"Work order {held.number} is written anew.")
    return HttpResponseRedirect(reverse("orders:order", args=[uuid]))


def _usual(request: PageRequest, plan: PlanPage) -> dict[str, Value]:
    saddle = queries.saddle_page(request.actor, plan.row.saddle.uuid).values
    seat = saddle.get("seat_size_in")
    return {
        **dict.fromkeys(FIELDS),
        "number": next_number(request.actor),
        "seat": f"{seat:g} in" if isinstance(seat, int | float) else "",
        "colour": str(saddle.get("colour") or ""),
    }


def _form(
    request: PageRequest,
    plan: PlanPage,
    values: dict[str, Value],
    *,
    posted: QueryDict | None = None,
    refused: InputProblemsError | None = None,
    **more: Any,
) -> HttpResponse:
    problems = refused.problems if refused else ()
    typed = typed_texts(posted, FIELDS) if posted is not None else None
    shown = show_fields(FIELDS, values or dict.fromkeys(FIELDS), typed=typed, problems=problems)
    form = FormShown(fields=shown, problems=homeless(problems, shown))
    if posted is not None:
        form = FormShown(fields=shown, problems=form.problems, uuid=str(key_of(posted.get("form", ""))))
    by_name = {one.name: one for one in shown}
    chosen = posted.get("workshop", "") if posted is not None else ""
    return show(
        request,
        "orders/write.html",
        "Work order",
        plan,
        status=422 if refused else 200,
        form=form,
        first=[by_name[name] for name in ("number", "due_on")],
        rest=[one for one in shown if one.name not in {"number", "due_on", "workshop_name"}],
        outside=by_name["workshop_name"],
        workshops=workshops(request.actor),
        chosen=chosen,
        **more,
    )
