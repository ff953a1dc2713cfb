"""Work orders: written from a plan, sent, worked on, checked when they come back. Every state stays."""

import uuid as uuids
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django.db.models import Q
from django.utils import timezone

from saddlebench.engine.errors import SaddlebenchError, Where, input_problem
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, RecheckReason, Role, Subject
from saddlebench.practice.models import Membership, OrderState, Plan, WorkOrder
from saddlebench.practice.orders import NotMoved, OrderStep, may_move
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, NotFoundError, deed, own
from saddlebench.practice.services.order_documents import (
    OrderFacts,
    order_document,
    read_state,
    with_done,
)
from saddlebench.practice.services.order_rows import add_order, add_order_state
from saddlebench.practice.services.visits import set_recheck

if TYPE_CHECKING:
    from saddlebench.exchange.records import OrderDocument

_LONGEST_SAID = 500


class NotMovedError(SaddlebenchError):
    """The order stays where it is."""

    def __init__(self, why: NotMoved) -> None:
        super().__init__(f"Not done: {why.reason}.")


def write_order(
    actor: Actor | None, plan_uuid: uuids.UUID, facts: OrderFacts, *, uuid: uuids.UUID | None = None
) -> WorkOrder:
    """Write a work order from a plan; sent again with the same uuid, it is the one there is.

    Raises
    ------
    InputProblemsError
        If its number is taken, or something does not fit on the sheet.
    NotFoundError
        If the practice has no such plan or member.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    chosen = uuid or uuids.uuid4()
    there = WorkOrder.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    plan = _own_plan(allowed, plan_uuid)
    member = _member(allowed, facts.workshop)
    _refuse_taken(allowed, facts.number, chosen)
    document = order_document(allowed.practice_id, plan, facts, member)
    with deed(actor, Action.RECORD_STUDY, "write_order", Subject.ORDER, chosen) as done:
        order = add_order(
            done,
            plan,
            chosen,
            number=facts.number,
            step=OrderStep.BEING_WRITTEN.value,
            due_on=facts.due_on,
            workshop=member,
        )
        _add(done, order, document)
    return order


def rewrite_order(actor: Actor | None, uuid: uuids.UUID, facts: OrderFacts, *, seen: int) -> WorkOrder:
    """Write an order anew while it is being written.

    Raises
    ------
    NotMovedError
        If it was sent already.
    InputProblemsError
        As for writing it; also if somebody else changed it meanwhile.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    order = own(WorkOrder, allowed, uuid)
    plan, member = _own_plan(allowed, order.plan_uuid, withdrawn=True), _member(allowed, facts.workshop)
    _refuse_taken(allowed, facts.number, uuid)
    document = order_document(allowed.practice_id, plan, facts, member)
    with deed(actor, Action.RECORD_STUDY, "rewrite_order", Subject.ORDER, uuid) as done:
        order = own(WorkOrder, allowed, uuid, locked=True)
        if order.step != OrderStep.BEING_WRITTEN.value:
            raise NotMovedError(NotMoved(reason=f"the order is {order.step}; take it back to writing first"))
        _refuse_unseen(_last(order), seen)
        order.number, order.workshop, order.due_on = facts.number, member, facts.due_on
        order.label = f"{facts.number}: {order.saddle.label}"[:200]
        _add(done, order, document)
    return order


def move_order(
    actor: Actor | None,
    uuid: uuids.UUID,
    to: OrderStep,
    *,
    seen: int,
    said: str = "",
    checked_mm: Sequence[float | None] = (),
) -> WorkOrder:
    """Move an order on; who may, and when, stands in `practice.orders`.

    Parameters
    ----------
    seen : number of the state that the person had before their eyes
    said : in words, for whoever reads it next
    checked_mm : what was measured place by place, where it came back and was checked

    Raises
    ------
    NotMovedError
        If it may not go there, or not yet.
    InputProblemsError
        If somebody else moved it meanwhile.
    """
    allowed = require(actor, Action.EDIT_SADDLES)
    with deed(actor, Action.EDIT_SADDLES, "move_order", Subject.ORDER, uuid) as done:
        order = own_order(allowed, uuid, locked=True)
        last = _last(order)
        _refuse_unseen(last, seen)
        document = read_state(last)
        why = may_move(
            OrderStep(order.step),
            to,
            allowed.role,
            all_done=document.is_done and (document.arch is None or document.arch.done_mm is not None),
            sound=set(document.unsafe_first) <= set(last.mended),
        )
        if why is not None:
            raise NotMovedError(why)
        order.step = to.value
        _add(
            done,
            order,
            document.model_copy(update={"state": to.value}),
            said=said.strip()[:_LONGEST_SAID],
            mended=last.mended,
            checked_mm=list(checked_mm) or last.checked_mm,
        )
        if to is OrderStep.CHECKED:
            _recheck(allowed, order)
    return order


def say_done(
    actor: Actor | None,
    uuid: uuids.UUID,
    done_mm: Sequence[float | None],
    *,
    seen: int,
    arch_mm: float | None = None,
    found: Sequence[str] = (),
    mended: Sequence[str] = (),
    said: str = "",
) -> WorkOrder:
    """Say what was done, place by place, while the order is in work.

    Parameters
    ----------
    done_mm : for each line of the order; None where nothing is said yet
    arch_mm : width of the front arch as it is now, where it was to be set
    found : what the workshop found with the panel in its hands, for each line; empty where nothing
    mended : those of the unsafe things that are mended, in the order's words

    Raises
    ------
    NotMovedError
        If it is not in work.
    InputProblemsError
        If a number is out of range, or somebody else said something meanwhile.
    """
    allowed = require(actor, Action.EDIT_SADDLES)
    with deed(actor, Action.EDIT_SADDLES, "say_done", Subject.ORDER, uuid) as done:
        order = own_order(allowed, uuid, locked=True)
        if order.step != OrderStep.IN_WORK.value or allowed.role not in {Role.OWNER, Role.WORKSHOP}:
            reason = f"what was done is said by the workshop, while the order is in work; it is {order.step}"
            raise NotMovedError(NotMoved(reason=reason))
        last = _last(order)
        _refuse_unseen(last, seen)
        document = with_done(read_state(last), done_mm, arch_mm, found)
        known = [one for one in document.unsafe_first if one in set(mended)]
        _add(done, order, document, said=said.strip()[:_LONGEST_SAID], mended=known)
    return order


def own_order(actor: Actor, uuid: uuids.UUID, *, locked: bool = False) -> WorkOrder:
    """Return an order that the actor may see: a workshop sees what was sent to it, or to nobody by name.

    Raises
    ------
    NotFoundError
        If there is none for this actor.
    """
    order = own(WorkOrder, actor, uuid, locked=locked)
    if actor.role is Role.WORKSHOP and not is_for_workshop(actor, order):
        raise NotFoundError("work order", uuid)
    return order


HIDDEN_FROM_WORKSHOP = (OrderStep.BEING_WRITTEN.value, OrderStep.WITHDRAWN.value)


def for_workshop(actor: Actor) -> Any:
    """Return the orders that a member of the workshop may see: sent to them, or to nobody by name."""
    mine = Q(workshop=None) | Q(workshop__user_id=actor.user_id)
    return WorkOrder.objects.of(actor.practice_id).exclude(step__in=HIDDEN_FROM_WORKSHOP).filter(mine)


def is_for_workshop(actor: Actor, order: WorkOrder) -> bool:
    """Tell whether a member of the workshop may see an order."""
    if order.step in HIDDEN_FROM_WORKSHOP:
        return False
    return order.workshop is None or order.workshop.user_id == actor.user_id


def next_number(actor: Actor | None) -> str:
    """Return the next free number of a work order: year and count."""
    allowed = require(actor, Action.RECORD_STUDY)
    year = f"{timezone.localdate().year}-"
    held = WorkOrder.objects.of(allowed.practice_id).filter(number__startswith=year)
    counts = [
        int(tail) for tail in (one[5:] for one in held.values_list("number", flat=True)) if tail.isdigit()
    ]
    return f"{year}{max(counts, default=0) + 1:03d}"


def _own_plan(actor: Actor, uuid: uuids.UUID, *, withdrawn: bool = False) -> Plan:
    rows = Plan.objects.of(actor.practice_id).filter(uuid=uuid, horse__withdrawn_at=None)
    if not withdrawn:
        rows = rows.standing()
    plan = rows.select_related("saddle", "horse", "study").first()
    if plan is None:
        raise NotFoundError("plan", uuid)
    return plan


def _member(actor: Actor, uuid: uuids.UUID | None) -> Membership | None:
    if uuid is None:
        return None
    rows = Membership.objects.filter(practice_id=actor.practice_id, uuid=uuid, ended_at=None)
    member = rows.select_related("user").first()
    if member is None:
        raise NotFoundError("member", uuid)
    return member


def _refuse_taken(actor: Actor, number: str, uuid: uuids.UUID) -> None:
    if not number.strip() or len(number) > 40:
        raise input_problem(
            "an order needs a number of 1 to 40 characters", "Give it one.", Where(field="number")
        )
    if WorkOrder.objects.of(actor.practice_id).filter(number=number).exclude(uuid=uuid).exists():
        what = f"another order has the number {number}"
        raise input_problem(what, "Give it its own.", Where(field="number"))


def _refuse_unseen(last: OrderState, seen: int) -> None:
    if last.number != seen:
        what = "somebody else changed this order meanwhile"
        raise input_problem(what, "Look at it again, then say it once more.")


def _last(order: WorkOrder) -> OrderState:
    return order.states.order_by("-number")[0]


def _add(
    done: Deed,
    order: WorkOrder,
    document: "OrderDocument",
    *,
    said: str = "",
    mended: Sequence[str] = (),
    checked_mm: Sequence[float | None] = (),
) -> None:
    from saddlebench.exchange.records import as_json  # noqa: PLC0415

    text = Document(text=as_json(document))
    add_order_state(done, order, text, said=said, mended=mended, checked_mm=checked_mm)


def _recheck(actor: Actor, order: WorkOrder) -> None:
    """Note when new flock is looked at again."""
    uuid = uuids.uuid5(order.uuid, "recheck")
    today = timezone.localdate()
    set_recheck(actor, order.horse.uuid, reasons=[RecheckReason.NEW_FLOCK], visited_on=today, uuid=uuid)
