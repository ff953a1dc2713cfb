"""Taking work orders and visits from a pack: as they stood there, to be gone on with here."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import OrderPart, VisitPart
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, Purpose, Subject, VisitState
from saddlebench.practice.handover.comparing_visits import answers_now, known_answers, tried_here
from saddlebench.practice.models import Plan, Practice, WorkOrder
from saddlebench.practice.orders import CLOSED, OrderStep
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.entering import Entered, enter
from saddlebench.practice.services.order_rows import add_order, add_order_state
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
        order = add_order(done, plan, uuid, number=number, step=held.state, due_on=held.due_on)
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
    part = theirs.part
    add_order_state(
        done, order, theirs.document, said=said[:500], mended=part.mended, checked_mm=part.checked_mm
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
    go_on_with_visit(allowed, part, visit.uuid, saddles)
    return visit.uuid


def go_on_with_visit(
    actor: Actor, part: VisitPart, visit: uuids.UUID, saddles: Mapping[str, uuids.UUID]
) -> None:
    """Enter what a pack says of a visit, beside what was entered before, which stays in its entries.

    Parameters
    ----------
    visit : the one here
    saddles : those here, by the pack's names for them
    """
    trials = tried_here(saddles, part, visit)
    for one in part.tried:
        if one.saddle not in trials and one.saddle in saddles:
            trials[one.saddle] = try_saddle(actor, visit, saddles[one.saddle]).uuid
    now = answers_now([visit, *trials.values()])
    _enter(actor, Subject.VISIT, visit, known_answers(part.answers.items(), VISIT_FIELDS), now)
    for one in part.tried:
        if one.saddle in trials:
            known = known_answers(one.answers.items(), VISIT_SADDLE_FIELDS)
            _enter(actor, Subject.VISIT_SADDLE, trials[one.saddle], known, now)


def _purpose(told: str) -> Purpose:
    return Purpose(told) if told in set(Purpose) else Purpose.SECOND_OPINION


def _enter(
    actor: Actor,
    subject: Subject,
    uuid: uuids.UUID,
    answers: Iterable[tuple[str, Value]],
    now: Mapping[tuple[uuids.UUID, str], tuple[Value, int]],
) -> None:
    entries = []
    for name, value in answers:
        mine, revision = now.get((uuid, name), (None, 0))
        if mine != value:
            entries.append(Entered(field=name, value=value, key=uuids.uuid4(), seen=revision))
    if entries:
        enter(actor, subject, uuid, entries)
