"""A plan made into a work order, with what the fitter adds to it."""

import datetime as dt
from dataclasses import dataclass

from saddlebench.engine.alter import ReplicaCheck
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.planning import arch_part, unsafe_of
from saddlebench.exchange.records.order import OrderDocument, SaddlePart, order_parts
from saddlebench.exchange.records.plan import PlanDocument


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the fitter says besides the plan."""

    number: str
    written_on: dt.date
    due_on: dt.date | None = None
    practice: str = ""
    workshop: str = ""
    seat: str = ""
    colour: str = ""
    photos: tuple[str, ...] = ()
    unsafe: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    price_limit: str = ""
    loan: str = ""
    notes: str = ""


def order_of(
    plan: PlanDocument, saddle: SaddleRecord, check: ReplicaCheck | Undetermined, wishes: Wishes
) -> OrderDocument:
    """Return the work order of a plan; `check` is what the saddle should do on the hard replica."""
    work, others, panel_off = order_parts(plan.alteration)
    return OrderDocument(
        number=wishes.number,
        written_on=wishes.written_on,
        due_on=wishes.due_on,
        practice=wishes.practice,
        workshop=wishes.workshop,
        horse=plan.inputs.back_label or "not named",
        saddle=SaddlePart(
            label=saddle.label,
            serial=saddle.serial,
            seat=wishes.seat,
            colour=wishes.colour,
            photos=wishes.photos,
        ),
        unsafe_first=unsafe_of(wishes.unsafe),
        panel_off=panel_off,
        work=work,
        others=others,
        arch=arch_part(saddle, plan.alteration),
        alteration=plan.alteration,
        do_not_touch=wishes.leave,
        price_limit=wishes.price_limit,
        loan_saddle=wishes.loan,
        on_replica=None if isinstance(check, Undetermined) else check,
        no_replica=check if isinstance(check, Undetermined) else None,
        inputs=plan.inputs,
        cautions=plan.cautions,
        notes=wishes.notes,
    )
