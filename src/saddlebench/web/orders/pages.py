"""The list of work orders, one order's page, its sheet and its drawing."""

import uuid as uuids
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import HttpResponse

from saddlebench.exchange.readers import read_by
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.orders import Asked, OrderStep, back_check
from saddlebench.practice.queries.orders import OrderPage, list_orders, order_page
from saddlebench.practice.queries.plans import plan_page
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.queries.versions import document_of
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings, load_engine
from saddlebench.web.base.checks.pictures import SVG, sent
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import ReportChoices, chosen

if TYPE_CHECKING:
    from saddlebench.engine.saddle.model import SaddleModel
    from saddlebench.exchange.records import OrderDocument

STEP_WORDS = {
    OrderStep.BEING_WRITTEN: "Take back to writing",
    OrderStep.SENT: "Send it",
    OrderStep.ACCEPTED: "Accept it",
    OrderStep.IN_WORK: "Begin work",
    OrderStep.READY: "It is ready",
    OrderStep.CHECKED: "Back and checked",
    OrderStep.DECLINED: "Decline it",
    OrderStep.WITHDRAWN: "Withdraw it",
}
_AGAIN = "Back to work: not as asked"
GRAVE = {OrderStep.DECLINED, OrderStep.WITHDRAWN}


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkShown:
    """One place of an order."""

    number: int
    place: str
    bench: str
    tolerance: str
    wanted: str
    wanted_tolerance: str
    how: str
    found: str
    """What the workshop found there, in its words."""
    done: str
    checked: str
    verdict: str
    """Of the back-check: what was measured, or done, against what was asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveShown:
    """A step that this reader may take."""

    to: OrderStep
    words: str
    is_grave: bool


def read_order(page: OrderPage) -> "OrderDocument":
    """Return an order's document as it stands."""
    load_engine()
    from saddlebench.exchange.records import OrderDocument, parse_document  # noqa: PLC0415

    return parse_document(OrderDocument, page.document, page.row.label)


@signed_in(Action.SEE_SADDLES)
def orders(request: PageRequest) -> HttpResponse:
    """List work orders: the open ones, or all."""
    everything = request.GET.get("all") == "1"
    at = whole_of(request.GET.get("page", ""), 1)
    listed = list_orders(request.actor, only_open=not everything, page=at)
    return show(request, "orders/orders.html", "Work orders", listed, everything=everything)


@signed_in(Action.SEE_SADDLES)
def order(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a work order: what is unsafe first, what to do, what was done, and where it may go."""
    page = order_page(request.actor, uuid)
    held = read_order(page)
    step = page.row.step
    moves = [
        MoveShown(
            to=to,
            words=_AGAIN if (step, to) == (OrderStep.READY, OrderStep.IN_WORK) else STEP_WORDS[to],
            is_grave=to in GRAVE,
        )
        for to in page.may_go_to
        if to is not OrderStep.CHECKED
    ]
    return show(
        request,
        "orders/order.html",
        f"Work order {page.row.number}",
        page,
        order=held,
        work=work_shown(page, held),
        unsafe=[(one, one in page.mended) for one in held.unsafe_first],
        moves=moves,
        may_check=OrderStep.CHECKED in page.may_go_to,
        all_done=held.is_done,
    )


def work_shown(page: OrderPage, held: "OrderDocument") -> list[WorkShown]:
    """Return the lines of an order with what was done and what was measured at the back-check."""
    from saddlebench.exchange.altering import signed_mm  # noqa: PLC0415

    asked = [
        Asked(place=line.place, bench_mm=line.bench_mm, tolerance_mm=line.tolerance_bench_mm)
        for line in held.work
    ]
    done = [line.done_mm for line in held.work]
    measured = list(page.checked_mm) or done
    checked = back_check(asked, measured)
    return [
        WorkShown(
            number=number,
            place=line.place,
            bench=signed_mm(line.bench_mm),
            tolerance=f"±{line.tolerance_bench_mm:g}",
            wanted=signed_mm(line.wanted_mm),
            wanted_tolerance=f"±{line.tolerance_bedded_mm:g}",
            how=line.how,
            found=line.found,
            done="" if line.done_mm is None else f"{line.done_mm:g}",
            checked="" if measured[number] is None else f"{measured[number]:g}",
            verdict="" if measured[number] is None else checked[number].verdict.value,
        )
        for number, line in enumerate(held.work)
    ]


def _model_of(actor: Actor, page: OrderPage) -> "SaddleModel":
    """Return the saddle that the order's plan was made for, as it was measured then."""
    from saddlebench.engine.errors import input_problem  # noqa: PLC0415
    from saddlebench.engine.saddle.model import SaddleModel  # noqa: PLC0415
    from saddlebench.engine.saddle.record import model_of  # noqa: PLC0415
    from saddlebench.exchange.records import SaddleDocument, parse_document  # noqa: PLC0415

    plan = plan_page(actor, page.row.plan, withdrawn=True).row
    run = study_page(actor, plan.study, plan.run).run
    text = document_of(actor, Subject.SADDLE, plan.saddle.uuid, run.saddle_number)
    model = model_of(parse_document(SaddleDocument, text, page.row.saddle.label).record())
    if not isinstance(model, SaddleModel):
        raise input_problem(model.reason, "Measure the saddle again.")
    return model


def order_pdf(actor: Actor, page: OrderPage, choices: ReportChoices) -> Drawn:
    """Return the sheet that the saddler works from, in the language, lengths and paper that were chosen."""
    held = read_order(page)
    from saddlebench.report.work_order import order_as_pdf  # noqa: PLC0415

    model = _model_of(actor, page)

    def make() -> Drawn:
        with read_by(choices.reader()):
            return compressed(order_as_pdf(held, model, choices.sheet_paper), "application/pdf")

    return drawings.get(("order", page.sha256, "pdf", choices.query), make)


@signed_in(Action.SEE_SADDLES)
def sheet(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the order as the saddler gets it."""
    page = order_page(request.actor, uuid)
    choices = chosen(request.GET)
    made = order_pdf(request.actor, page, choices)
    name = "".join(one if one.isalnum() or one in "-_" else "-" for one in page.row.number)
    return sent(request, made, f"{page.sha256[:20]}-{choices.query}", file_name=f"work-order-{name}.pdf")


@signed_in(Action.SEE_SADDLES)
def underside(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the underside as it lies on the bench."""
    page = order_page(request.actor, uuid)
    held = read_order(page)
    from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415
    from saddlebench.exchange.drawings import underside as draw  # noqa: PLC0415

    model = _model_of(request.actor, page)
    made = drawings.get(
        ("order", page.sha256, "underside"),
        lambda: compressed(as_svg(draw(model, held.alteration)).encode(), SVG),
    )
    return sent(request, made, f"{page.sha256[:20]}-underside")
