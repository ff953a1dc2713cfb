"""Taking work orders and visits from a pack: as they stood there, to be gone on with here."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.engine.errors import InputProblemsError, input_problem
from saddlebench.exchange.packs.document import OrderPart, VisitPart
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Field, Value, read_value
from saddlebench.practice.catalogue.visit import is_about_people
from saddlebench.practice.documents import Document, check_record
from saddlebench.practice.enums import Action, Purpose, Subject, VisitState
from saddlebench.practice.models import OrderState, Plan, Practice, WorkOrder
from saddlebench.practice.orders import CLOSED, OrderStep
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.entering import Entered, enter
from saddlebench.practice.services.visits import start_visit, try_saddle

if TYPE_CHECKING:
    from saddlebench.exchange.records import OrderDocument

_LONGEST_NUMBER = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOrder:
    """A work order as it came."""

    part: OrderPart
    document: Document
    sender: str

    def read(self) -> "OrderDocument":
        """Return its document."""
        from saddlebench.exchange.records import OrderDocument, parse_document  # noqa: PLC0415

        return parse_document(OrderDocument, self.document.text, "work order")


def take_order(actor: Actor | None, theirs: TakenOrder, plan_uuid: uuids.UUID) -> uuids.UUID:
    """Take a work order on, where it stands; its number gets the sender's name if another has it here.

    Raises
    ------
    NotFoundError
        If the practice has no such plan.
    """
    allowed = require(actor, Action.IMPORT)
    held, uuid = theirs.read(), uuids.uuid4()
    with deed(actor, Action.IMPORT, "take_order", Subject.ORDER, uuid) as done:
        plan = own(Plan, allowed, plan_uuid)
        number = _free_number(allowed, held.number, theirs.sender)
        order = WorkOrder.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            label=f"{number}: {plan.saddle.label}"[:200],
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=plan.horse,
            saddle=plan.saddle,
            plan_uuid=plan.uuid,
            number=number,
            step=held.state,
            due_on=held.due_on,
        )
        _add(done, order, theirs, theirs.part.said)
    return uuid


def add_state(actor: Actor | None, theirs: TakenOrder, uuid: uuids.UUID, why: str) -> uuids.UUID:
    """Let an order here go on as it came back, as a further state of it.

    Raises
    ------
    InputProblemsError
        If it was closed here meanwhile.
    NotFoundError
        If the practice has no such order.
    """
    allowed = require(actor, Action.IMPORT)
    held = theirs.read()
    with deed(actor, Action.IMPORT, "take_order_state", Subject.ORDER, uuid) as done:
        order = own(WorkOrder, allowed, uuid, locked=True)
        if OrderStep(order.step) in CLOSED:
            what = f"the work order {order.number} is {order.step}"
            raise input_problem(what, "Leave theirs, or write a further order.")
        order.step, order.due_on = held.state, held.due_on
        _add(done, order, theirs, theirs.part.said or why)
    return uuid


def _free_number(actor: Actor, number: str, sender: str) -> str:
    taken = set(WorkOrder.objects.of(actor.practice_id).values_list("number", flat=True))
    plain = number.strip()[:_LONGEST_NUMBER] or "0"
    named = f"{plain} ({sender})"[:_LONGEST_NUMBER]
    counted = (f"{plain[:30]} ({k})" for k in range(2, len(taken) + 3))
    return next(one for one in (plain, named, *counted) if one not in taken)


def _add(done: Deed, order: WorkOrder, theirs: TakenOrder, said: str) -> None:
    order.revision += 1
    order.save()
    OrderState.objects.create(
        order=order,
        number=order.revision,
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        step=order.step,
        said=said[:500],
        mended=list(theirs.part.mended),
        checked_mm=list(theirs.part.checked_mm),
        schema_id=check_record(theirs.document, Subject.ORDER),
        document=theirs.document.text,
        sha256=theirs.document.sha256,
    )


def take_visit(
    actor: Actor | None,
    part: VisitPart,
    horse: uuids.UUID,
    saddles: Mapping[str, uuids.UUID],
    label: str,
) -> uuids.UUID:
    """Take another practice's visit on as a finished one, with those of its answers that are known here.

    Parameters
    ----------
    horse : the one here
    saddles : those here, by the pack's names for them
    label : what the visit is called, so that nobody takes it for one's own
    """
    allowed = require(actor, Action.IMPORT)
    visit = start_visit(
        allowed,
        on=part.day,
        purpose=_purpose(part.purpose),
        zone=Practice.objects.get(pk=allowed.practice_id).zone,
        horse=horse,
        state=VisitState.FINISHED,
        label=label,
        uuid=uuids.uuid4(),
    )
    _enter(allowed, Subject.VISIT, visit.uuid, part.answers, VISIT_FIELDS)
    for one in part.tried:
        saddle = saddles.get(one.saddle)
        if saddle is not None:
            tried = try_saddle(allowed, visit.uuid, saddle)
            _enter(allowed, Subject.VISIT_SADDLE, tried.uuid, one.answers, VISIT_SADDLE_FIELDS)
    return visit.uuid


def _purpose(told: str) -> Purpose:
    return Purpose(told) if told in set(Purpose) else Purpose.SECOND_OPINION


def _enter(
    actor: Actor,
    subject: Subject,
    uuid: uuids.UUID,
    answers: Mapping[str, Value],
    fields: Mapping[str, Field],
) -> None:
    known = [(name, value) for name, value in _known(answers.items(), fields)]
    if known:
        entries = [Entered(field=name, value=value, key=uuids.uuid4(), seen=0) for name, value in known]
        enter(actor, subject, uuid, entries)


def _known(answers: Iterable[tuple[str, Value]], fields: Mapping[str, Field]) -> Iterable[tuple[str, Value]]:
    """Yield the answers that this version's form has; another's may have other fields, or other choices."""
    for name, value in answers:
        field = fields.get(name)
        if field is None or value is None or is_about_people(field):
            continue
        try:
            yield name, read_value(field, value)
        except InputProblemsError:
            continue
