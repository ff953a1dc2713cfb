"""What a horse's timeline tells of plans, work orders and choices."""

from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Choice, Horse, OrderState, Plan
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.events import Event


def plan_events(horse: Horse) -> list[Event]:
    """Return the plans that were made for a horse."""
    rows = Plan.objects.standing().filter(horse=horse, study__withdrawn_at=None).select_related("made_by")
    return [
        Event(
            day=row.made_at.date(),
            at=row.made_at,
            subject=Subject.PLAN,
            uuid=row.uuid,
            label=row.label,
            by=row.made_by.label,
            detail="set by hand" if row.told["by_hand"] else f"{row.told['better']} better",
        )
        for row in rows.defer("document")
    ]


def order_events(horse: Horse) -> list[Event]:
    """Return what became of the work orders for a horse; one being written is nobody's business yet."""
    rows = OrderState.objects.filter(order__horse=horse, order__withdrawn_at=None)
    rows = rows.exclude(step=OrderStep.BEING_WRITTEN.value).select_related("order", "made_by")
    return [
        Event(
            day=row.made_at.date(),
            at=row.made_at,
            subject=Subject.ORDER,
            uuid=row.order.uuid,
            label=row.order.label,
            by=row.made_by.label,
            detail=row.step,
        )
        for row in rows.defer("document")
    ]


def choice_events(horse: Horse) -> list[Event]:
    """Return the shortlists that were made for a horse."""
    rows = Choice.objects.standing().filter(horse=horse).select_related("made_by").defer("document")
    return [
        Event(
            day=row.made_at.date(),
            at=row.made_at,
            subject=Subject.CHOICE,
            uuid=row.uuid,
            label=row.label,
            by=row.made_by.label,
        )
        for row in rows
    ]
