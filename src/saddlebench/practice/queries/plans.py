"""Alteration plans: those of a fit check, of a horse, and one with its document.

A workshop sees the plans that its orders were written from, and no others.
"""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from saddlebench.practice.enums import Action, Role
from saddlebench.practice.models import Plan, WorkOrder
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import page_of
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.orders import for_workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """A plan in a list."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    saddle: Linked
    study: uuids.UUID
    run: int
    made_at: datetime
    made_by: str
    told: dict[str, Any]
    sha256: str
    engine_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPage:
    """A plan, its document, and the orders that were written from it."""

    row: PlanRow
    document: str
    orders: tuple[Linked, ...]

    @property
    def uuid(self) -> uuids.UUID:
        """Its name."""
        return self.row.uuid


def list_plans(
    actor: Actor | None,
    *,
    study: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    page: int = 1,
) -> Listed[PlanRow]:
    """Return the plans of a practice, a fit check or a horse, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = _rows(allowed).filter(withdrawn_at=None)
    if study is not None:
        rows = rows.filter(study__uuid=study)
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    shown = page_of(rows.defer("document").order_by("-made_at", "-id"), page)
    return Listed(
        rows=tuple(_row(row) for row in shown.rows), total=shown.total, page=shown.page, pages=shown.pages
    )


def plan_page(actor: Actor | None, uuid: uuids.UUID, *, withdrawn: bool = False) -> PlanPage:
    """Return a plan; `withdrawn` ones too for a work order, which leans on the one it was written from.

    Raises
    ------
    NotFoundError
        If the practice has no such plan.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = _rows(allowed)
    row = (rows if withdrawn else rows.filter(withdrawn_at=None)).filter(uuid=uuid).first()
    if row is None:
        raise NotFoundError("plan", uuid)
    orders = WorkOrder.objects.of(allowed.practice_id).standing().filter(plan_uuid=uuid)
    return PlanPage(
        row=_row(row),
        document=row.document,
        orders=tuple(
            Linked(uuid=one.uuid, label=one.label, day=one.due_on, detail=one.step)
            for one in orders.order_by("-id")
        ),
    )


def _rows(actor: Actor) -> Any:
    rows = Plan.objects.filter(practice_id=actor.practice_id, horse__withdrawn_at=None)
    if actor.role is Role.WORKSHOP:
        rows = rows.filter(uuid__in=for_workshop(actor).values("plan_uuid"))
    return rows.filter(study__withdrawn_at=None).select_related("horse", "saddle", "study", "made_by")


def _row(row: Plan) -> PlanRow:
    return PlanRow(
        uuid=row.uuid,
        label=row.label,
        horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
        saddle=Linked(uuid=row.saddle.uuid, label=row.saddle.label),
        study=row.study.uuid,
        run=row.run,
        made_at=row.made_at,
        made_by=row.made_by.label,
        told=row.told,
        sha256=row.sha256,
        engine_version=row.engine_version,
    )
