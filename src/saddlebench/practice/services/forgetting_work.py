"""What an erasure does to plans, work orders and choices: out with a horse, or anew without a name."""

from django.db import models

from saddlebench.practice.documents import Document
from saddlebench.practice.models import Choice, Horse, OrderState, Plan, WorkOrder
from saddlebench.practice.services.mentions import Person, scrub_text, scrub_value


def work_on_horse(horse: Horse) -> tuple[models.QuerySet[models.Model], ...]:
    """Return the rows that go with a horse, those that others lean on last."""
    orders = WorkOrder.objects.filter(horse=horse)
    named = Choice.objects.filter(practice_id=horse.practice_id, document__contains=str(horse.uuid))
    return (
        OrderState.objects.filter(order__in=orders),
        orders,
        Plan.objects.filter(horse=horse),
        Choice.objects.filter(models.Q(horse=horse) | models.Q(pk__in=named.values("pk"))),
    )


def scrub_work(practice_id: int, person: Person) -> int:
    """Write plans and states of orders anew without the person, take out choices that name them.

    Returns how many that was.
    Choices can be made again from records that no longer name anybody. An erasure must be open.

    Returns
    -------
    How many rows that was.
    """
    return (
        _scrub_orders(practice_id, person) + _scrub_plans(practice_id, person) + _choices(practice_id, person)
    )


def _scrub_orders(practice_id: int, person: Person) -> int:
    found = 0
    for order in list(WorkOrder.objects.filter(practice_id=practice_id)):
        if person.is_in(f"{order.label} {order.number}"):
            order.label = scrub_text(order.label, person)
            if person.is_in(order.number):
                # Numbers are the practice's own, each once: two scrubbed ones must not become the same.
                order.number = f"{scrub_text(order.number, person)[:28]} {order.pk}"
            order.save(update_fields=["label", "number"])
            found += 1
    for row in list(OrderState.objects.filter(order__practice_id=practice_id)):
        if person.is_in(f"{row.document} {row.said}"):
            OrderState.objects.filter(pk=row.pk).delete()
            scrubbed = Document(text=scrub_text(row.document, person))
            row.pk = None
            row.document, row.sha256 = scrubbed.text, scrubbed.sha256
            row.said, row.mended = scrub_text(row.said, person), scrub_value(row.mended, person)
            row.save(force_insert=True)
            found += 1
    return found


def _scrub_plans(practice_id: int, person: Person) -> int:
    found = 0
    for row in list(Plan.objects.filter(practice_id=practice_id)):
        if person.is_in(f"{row.document} {row.label}"):
            Plan.objects.filter(pk=row.pk).delete()
            scrubbed = Document(text=scrub_text(row.document, person))
            row.pk = None
            row.document, row.sha256 = scrubbed.text, scrubbed.sha256
            row.label, row.told = scrub_text(row.label, person), scrub_value(row.told, person)
            row.save(force_insert=True)
            found += 1
    return found


def _choices(practice_id: int, person: Person) -> int:
    rows = Choice.objects.filter(practice_id=practice_id)
    naming = [row.pk for row in rows.iterator() if person.is_in(f"{row.label} {row.document} {row.asked}")]
    return Choice.objects.filter(pk__in=naming).delete()[0]
