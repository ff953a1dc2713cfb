"""What becomes of a work order: its states, who moves it on, when it is late, and the check when it is back.

Rules only: nothing here touches a table.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from saddlebench.practice.enums import Role


class OrderStep(StrEnum):
    """Where a work order is, in the words people read."""

    BEING_WRITTEN = "being written"
    SENT = "sent"
    ACCEPTED = "accepted"
    IN_WORK = "in work"
    READY = "ready"
    CHECKED = "back and checked"
    DECLINED = "declined"
    WITHDRAWN = "withdrawn"


_FITTERS, _WORKSHOP = frozenset({Role.OWNER, Role.FITTER}), frozenset({Role.OWNER, Role.WORKSHOP})
_ANYONE = _FITTERS | _WORKSHOP
MOVES: dict[OrderStep, dict[OrderStep, frozenset[Role]]] = {
    OrderStep.BEING_WRITTEN: {OrderStep.SENT: _FITTERS, OrderStep.WITHDRAWN: _FITTERS},
    OrderStep.SENT: {
        OrderStep.ACCEPTED: _ANYONE,
        OrderStep.DECLINED: _ANYONE,
        OrderStep.BEING_WRITTEN: _FITTERS,
        OrderStep.WITHDRAWN: _FITTERS,
    },
    OrderStep.ACCEPTED: {
        OrderStep.IN_WORK: _WORKSHOP,
        OrderStep.DECLINED: _WORKSHOP,
        OrderStep.WITHDRAWN: _FITTERS,
    },
    OrderStep.IN_WORK: {OrderStep.READY: _WORKSHOP, OrderStep.DECLINED: _WORKSHOP},
    OrderStep.READY: {OrderStep.CHECKED: _FITTERS, OrderStep.IN_WORK: _ANYONE},
    OrderStep.DECLINED: {OrderStep.BEING_WRITTEN: _FITTERS, OrderStep.WITHDRAWN: _FITTERS},
    OrderStep.CHECKED: {},
    OrderStep.WITHDRAWN: {},
}
"""From where an order may go to where, and whose hand moves it."""
NOT_SENT = frozenset({OrderStep.BEING_WRITTEN.value, OrderStep.WITHDRAWN.value})
"""Nobody outside has seen it, or anybody is to see it any more."""
CLOSED = frozenset({OrderStep.CHECKED, OrderStep.WITHDRAWN})


@dataclass(frozen=True, slots=True, kw_only=True)
class NotMoved:
    """Why an order stays where it is."""

    reason: str


def may_move(
    step: OrderStep, to: OrderStep, role: Role, *, all_done: bool = False, sound: bool = True
) -> NotMoved | None:
    """Return why an order may not go on, or None where it may.

    Parameters
    ----------
    step : where it is
    to : where it is to go
    role : of the person who moves it
    all_done : whether every line says what was done
    sound : whether every unsafe thing on it is mended
    """
    ways = MOVES[step]
    if to not in ways:
        known = ", ".join(ways) or "nothing: it is closed"
        return NotMoved(reason=f"an order that is {step} cannot become {to}; it can become {known}")
    if role not in ways[to]:
        return NotMoved(reason=f"{to}: not for a {role} to say")
    if to is OrderStep.READY and not all_done:
        return NotMoved(reason="it is not said yet what was done, place by place")
    if to is OrderStep.CHECKED and not sound:
        return NotMoved(reason="an unsafe thing on it is not mended: the saddle stays off the horse")
    return None


def days_late(step: OrderStep, due_on: dt.date | None, today: dt.date) -> int:
    """Return by how many days an open order is late; 0 while it is not, or once it is closed or ready."""
    if due_on is None or step in CLOSED or step is OrderStep.READY:
        return 0
    return max(0, (today - due_on).days)


class CheckVerdict(StrEnum):
    """What the back-check says of one place."""

    AS_ASKED = "as asked"
    LESS = "less than asked"
    MORE = "more than asked"
    NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One place of an order."""

    place: str
    bench_mm: float
    tolerance_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One place of an order, back from the bench."""

    place: str
    asked_mm: float
    done_mm: float | None
    verdict: CheckVerdict

    @property
    def off_mm(self) -> float:
        """How much more was done than asked [mm]; 0 where nothing was measured."""
        return 0.0 if self.done_mm is None else self.done_mm - self.asked_mm


def back_check(asked: Sequence[Asked], done_mm: Sequence[float | None]) -> tuple[Checked, ...]:
    """Hold what was done against what was asked, place by place.

    Less and more are of the work asked for: taking out 2 mm where 6 were asked is less.

    Raises
    ------
    ValueError
        If the two do not have the same number of places.
    """
    return tuple(_checked(one, mm) for one, mm in zip(asked, done_mm, strict=True))


def _checked(asked: Asked, mm: float | None) -> Checked:
    if mm is None:
        verdict = CheckVerdict.NOT_MEASURED
    elif abs(mm - asked.bench_mm) <= asked.tolerance_mm:
        verdict = CheckVerdict.AS_ASKED
    else:
        way = 1.0 if asked.bench_mm >= 0.0 else -1.0
        verdict = CheckVerdict.MORE if way * (mm - asked.bench_mm) > 0.0 else CheckVerdict.LESS
    return Checked(place=asked.place, asked_mm=asked.bench_mm, done_mm=mm, verdict=verdict)
