"""The rows of a work order: the order itself, and one for each state of it."""

import datetime as dt
import uuid as uuids
from collections.abc import Sequence

from saddlebench.practice.documents import Document, check_record
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Membership, OrderState, Plan, WorkOrder
from saddlebench.practice.services.deeds import Deed


def add_order(
    done: Deed,
    plan: Plan,
    uuid: uuids.UUID,
    *,
    number: str,
    step: str,
    due_on: dt.date | None,
    workshop: Membership | None = None,
) -> WorkOrder:
    """Write down a work order of a plan, without a state yet."""
    return WorkOrder.objects.create(
        uuid=uuid,
        practice_id=done.actor.practice_id,
        label=f"{number}: {plan.saddle.label}"[:200],
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        horse=plan.horse,
        saddle=plan.saddle,
        plan_uuid=plan.uuid,
        number=number,
        workshop=workshop,
        step=step,
        due_on=due_on,
    )


def add_order_state(
    done: Deed,
    order: WorkOrder,
    document: Document,
    *,
    said: str = "",
    mended: Sequence[str] = (),
    checked_mm: Sequence[float | None] = (),
) -> None:
    """Let an order go on to a further state, where it stands now, as a document has it."""
    order.revision += 1
    order.save()
    OrderState.objects.create(
        order=order,
        number=order.revision,
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        step=order.step,
        said=said,
        mended=list(mended),
        checked_mm=list(checked_mm),
        schema_id=check_record(document, Subject.ORDER),
        document=document.text,
        sha256=document.sha256,
    )
