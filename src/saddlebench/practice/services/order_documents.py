"""A work order's document: written from a plan with what the fitter adds, and what was done filled in."""

import datetime as dt
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.models import Membership, OrderState, Plan, Practice

if TYPE_CHECKING:
    from saddlebench.exchange.records import OrderDocument

LONGEST_FOUND = 200
FURTHEST_MM = 60.0
ARCH_MM = (50.0, 600.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """What the fitter says besides the plan."""

    number: str
    due_on: dt.date | None = None
    workshop: uuids.UUID | None = None
    """The member who is to do it."""
    workshop_name: str = ""
    """In words, where it is nobody of the practice."""
    seat: str = ""
    colour: str = ""
    photos: tuple[str, ...] = ()
    unsafe: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    price_limit: str = ""
    loan: str = ""
    notes: str = ""


def read_state(state: OrderState) -> "OrderDocument":
    """Return the document of one state of an order."""
    from saddlebench.exchange.records import OrderDocument, parse_document  # noqa: PLC0415

    return parse_document(OrderDocument, state.document, "work order")


def order_document(
    practice_id: int, plan: Plan, facts: OrderFacts, member: Membership | None
) -> "OrderDocument":
    """Return the order's document, with what the saddle should do on the hard replica.

    Raises
    ------
    InputProblemsError
        With everything that does not fit on the sheet.
    """
    from pydantic import ValidationError  # noqa: PLC0415

    from saddlebench.exchange.planning import replica_of, task_of_study  # noqa: PLC0415
    from saddlebench.exchange.records import (  # noqa: PLC0415
        PlanDocument,
        SaddleDocument,
        StudyDocument,
        parse_document,
    )
    from saddlebench.exchange.work_orders import Wishes, order_of  # noqa: PLC0415

    run = plan.study.versions.select_related("saddle_version").get(number=plan.run)
    record = parse_document(SaddleDocument, run.saddle_version.document, plan.saddle.label).record()
    held = parse_document(PlanDocument, plan.document, plan.label)
    task = task_of_study(parse_document(StudyDocument, run.document, plan.label).study(), record)
    wishes = Wishes(
        number=facts.number,
        written_on=timezone.localdate(),
        due_on=facts.due_on,
        practice=Practice.objects.get(pk=practice_id).label,
        workshop=member.user.label if member else facts.workshop_name,
        seat=facts.seat,
        colour=facts.colour,
        photos=facts.photos,
        unsafe=facts.unsafe,
        leave=facts.leave,
        price_limit=facts.price_limit,
        loan=facts.loan,
        notes=facts.notes,
    )
    try:
        return order_of(held, record, replica_of(task, held.alteration), wishes)
    except ValidationError as error:
        problems = [
            Problem(
                what=f"{'.'.join(map(str, one['loc']))}: {one['msg'].lower()}",
                cure="Shorten it.",
                where=Where(field=str(one["loc"][0])),
            )
            for one in error.errors()
        ]
        raise InputProblemsError(problems) from None


def with_done(
    document: "OrderDocument",
    done_mm: Sequence[float | None],
    arch_mm: float | None,
    found: Sequence[str] = (),
) -> "OrderDocument":
    """Return the document with what was done and what was found, place by place.

    Parameters
    ----------
    done_mm : for each line of the order
    arch_mm : width of the front arch as it is now
    found : what the workshop found, for each line of the order; without any, what was said before stays

    Raises
    ------
    InputProblemsError
        If a place is left out, or a number cannot be.
    """
    if len(done_mm) != len(document.work) or len(found) not in {0, len(document.work)}:
        raise input_problem("not every place of the order is named", "Open the order again.")
    if any(len(one.strip()) > LONGEST_FOUND for one in found):
        msg = f"what was found is longer than {LONGEST_FOUND} characters"
        raise input_problem(msg, "Say it shorter; the rest goes into the words below.")
    if any(mm is not None and not abs(mm) <= FURTHEST_MM for mm in done_mm):
        msg = f"more than {FURTHEST_MM:g} mm"
        raise input_problem(msg, "Write what was added or taken, in mm.")
    if arch_mm is not None and not ARCH_MM[0] <= arch_mm <= ARCH_MM[1]:
        raise input_problem("no front arch is so wide", "Write its width as measured, in mm.")
    said = [one.strip() for one in found] or [line.found for line in document.work]
    work = tuple(
        line.model_copy(update={"done_mm": mm, "found": words})
        for line, mm, words in zip(document.work, done_mm, said, strict=True)
    )
    arch = None if document.arch is None else document.arch.model_copy(update={"done_mm": arch_mm})
    return document.model_copy(update={"work": work, "arch": arch})
