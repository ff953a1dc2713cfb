"""Work orders: the open and the closed, one with its history, and what is late."""

import datetime as dt
import uuid as uuids
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils import timezone

from saddlebench.practice.enums import Action, Role
from saddlebench.practice.models import Membership, Plan, WorkOrder
from saddlebench.practice.orders import CLOSED, MOVES, OrderStep, days_late
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import page_of
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.orders import for_workshop, own_order

_SOON = dt.timedelta(days=7)
_MOST_DAYS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """A work order in a list."""

    uuid: uuids.UUID
    number: str
    label: str
    horse: Linked
    saddle: Linked
    plan: uuids.UUID
    step: OrderStep
    due_on: dt.date | None
    late_days: int
    workshop: str
    made_at: dt.datetime
    made_by: str
    state_number: int
    """To be given back when it is moved on."""

    @property
    def is_open(self) -> bool:
        """Whether anything is still to be done."""
        return self.step not in CLOSED


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPast:
    """One state of an order."""

    number: int
    step: OrderStep
    at: dt.datetime
    by: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPage:
    """A work order with its document."""

    row: OrderRow
    document: str
    sha256: str
    mended: tuple[str, ...]
    checked_mm: tuple[float | None, ...]
    history: tuple[OrderPast, ...]
    may_go_to: tuple[OrderStep, ...]
    """Where this reader may move it, what it asks for besides left aside."""
    may_say_done: bool
    plan_stands: bool
    """Whether the plan that it was written from was not withdrawn since."""

    @property
    def uuid(self) -> uuids.UUID:
        """Its name."""
        return self.row.uuid


def list_orders(
    actor: Actor | None,
    *,
    step: OrderStep | None = None,
    only_open: bool = False,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    page: int = 1,
) -> Listed[OrderRow]:
    """Return the work orders that the actor may see, those due first before the others."""
    allowed = require(actor, Action.SEE_SADDLES)
    rows = _rows(allowed)
    if step is not None:
        rows = rows.filter(step=step.value)
    if only_open:
        rows = rows.exclude(step__in=[one.value for one in CLOSED])
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    if saddle is not None:
        rows = rows.filter(saddle__uuid=saddle)
    shown = page_of(rows.order_by("due_on", "-id"), page)
    return Listed(
        rows=tuple(_row(row) for row in shown.rows), total=shown.total, page=shown.page, pages=shown.pages
    )


def orders_due(actor: Actor | None) -> tuple[OrderRow, ...]:
    """Return the open orders that are late, due within a week, or wait for somebody to move them on."""
    allowed = require(actor, Action.SEE_SADDLES)
    closed = [one.value for one in CLOSED]
    soon = Q(due_on__lte=timezone.localdate() + _SOON) | Q(
        step__in=[OrderStep.READY.value, OrderStep.DECLINED.value]
    )
    rows = _rows(allowed).exclude(step__in=closed).filter(soon)
    return tuple(_row(row) for row in rows.order_by("due_on", "id")[:50])


def order_days(actor: Actor | None, last: dt.date) -> tuple[OrderRow, ...]:
    """Return the open orders that are due by a day, late ones included, in their order."""
    allowed = require(actor, Action.SEE_SADDLES)
    rows = _rows(allowed).exclude(step__in=[one.value for one in CLOSED]).filter(due_on__lte=last)
    return tuple(_row(row) for row in rows.order_by("due_on", "id")[:_MOST_DAYS])


def order_page(actor: Actor | None, uuid: uuids.UUID) -> OrderPage:
    """Return a work order as it stands.

    Raises
    ------
    NotFoundError
        If there is none that the actor may see.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    row = _rows(allowed).get(pk=own_order(allowed, uuid).pk)
    states = list(row.states.select_related("made_by").defer("document").order_by("-number"))
    last = row.states.order_by("-number")[0]
    step = OrderStep(row.step)
    edits = may(allowed, Action.EDIT_SADDLES, allowed.practice_id)
    return OrderPage(
        row=_row(row),
        document=last.document,
        sha256=last.sha256,
        mended=tuple(last.mended),
        checked_mm=tuple(last.checked_mm),
        history=tuple(
            OrderPast(
                number=one.number,
                step=OrderStep(one.step),
                at=one.made_at,
                by=one.made_by.label,
                said=one.said,
            )
            for one in states
        ),
        may_go_to=tuple(to for to, roles in MOVES[step].items() if edits and allowed.role in roles),
        may_say_done=step is OrderStep.IN_WORK and allowed.role in {Role.OWNER, Role.WORKSHOP},
        plan_stands=Plan.objects.of(row.practice_id).standing().filter(uuid=row.plan_uuid).exists(),
    )


def workshops(actor: Actor | None) -> tuple[Linked, ...]:
    """Return the members of the practice who do work on saddles."""
    allowed = require(actor, Action.RECORD_STUDY)
    rows = Membership.objects.filter(
        practice_id=allowed.practice_id, ended_at=None, role__in=[Role.WORKSHOP.value, Role.OWNER.value]
    )
    return tuple(
        Linked(uuid=row.uuid, label=row.user.label, detail=row.role)
        for row in rows.select_related("user").order_by("-role", "user__label")
    )


def _rows(actor: Actor) -> Any:
    rows = for_workshop(actor) if actor.role is Role.WORKSHOP else WorkOrder.objects.of(actor.practice_id)
    rows = rows.standing().filter(horse__withdrawn_at=None)
    return rows.select_related("horse", "saddle", "workshop__user", "made_by")


def _row(row: WorkOrder) -> OrderRow:
    step = OrderStep(row.step)
    return OrderRow(
        uuid=row.uuid,
        number=row.number,
        label=row.label,
        horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
        saddle=Linked(uuid=row.saddle.uuid, label=row.saddle.label),
        plan=row.plan_uuid,
        step=step,
        due_on=row.due_on,
        late_days=days_late(step, row.due_on, timezone.localdate()),
        workshop=row.workshop.user.label if row.workshop else "",
        made_at=row.made_at,
        made_by=row.made_by.label,
        state_number=row.revision,
    )
