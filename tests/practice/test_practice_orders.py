"""What becomes of a work order: who moves it, when it is late, and the check when it is back."""

import datetime as dt

import pytest

from saddlebench.exchange.records.order import OrderState
from saddlebench.practice.enums import Role
from saddlebench.practice.orders import (
    CLOSED,
    MOVES,
    Asked,
    CheckVerdict,
    NotMoved,
    OrderStep,
    back_check,
    days_late,
    may_move,
)


def test_files_and_rules_know_the_same_states() -> None:
    assert set(OrderState.__args__) == {step.value for step in OrderStep}
    assert set(MOVES) == set(OrderStep)
    assert {step for step, ways in MOVES.items() if not ways} == CLOSED


def test_the_usual_way_through() -> None:
    way = (
        (OrderStep.BEING_WRITTEN, OrderStep.SENT, Role.FITTER),
        (OrderStep.SENT, OrderStep.ACCEPTED, Role.WORKSHOP),
        (OrderStep.ACCEPTED, OrderStep.IN_WORK, Role.WORKSHOP),
        (OrderStep.IN_WORK, OrderStep.READY, Role.WORKSHOP),
        (OrderStep.READY, OrderStep.CHECKED, Role.FITTER),
    )
    for step, to, role in way:
        assert may_move(step, to, role, all_done=True) is None


@pytest.mark.parametrize(
    ("step", "to", "role", "all_done", "sound", "said"),
    [
        (OrderStep.SENT, OrderStep.READY, Role.WORKSHOP, True, True, "cannot become"),
        (OrderStep.CHECKED, OrderStep.SENT, Role.OWNER, True, True, "it is closed"),
        (OrderStep.BEING_WRITTEN, OrderStep.SENT, Role.READER, True, True, "not for a reader"),
        (OrderStep.READY, OrderStep.CHECKED, Role.WORKSHOP, True, True, "not for a workshop"),
        (OrderStep.IN_WORK, OrderStep.READY, Role.WORKSHOP, False, True, "what was done"),
        (OrderStep.READY, OrderStep.CHECKED, Role.FITTER, True, False, "unsafe"),
    ],
)
def test_what_may_not_be_says_why(
    step: OrderStep, to: OrderStep, role: Role, all_done: bool, sound: bool, said: str
) -> None:
    told = may_move(step, to, role, all_done=all_done, sound=sound)
    assert isinstance(told, NotMoved)
    assert said in told.reason


def test_an_open_order_is_late_from_the_day_after() -> None:
    due = dt.date(2026, 12, 18)
    assert days_late(OrderStep.IN_WORK, due, due) == 0
    assert days_late(OrderStep.IN_WORK, due, due + dt.timedelta(days=3)) == 3
    assert days_late(OrderStep.READY, due, due + dt.timedelta(days=3)) == 0
    assert days_late(OrderStep.SENT, None, due) == 0


def test_the_back_check_counts_less_and_more_in_the_direction_of_the_work() -> None:
    asked = [Asked(place=place, bench_mm=mm, tolerance_mm=3.0) for place, mm in (("a", 8.0), ("b", -6.0))]
    verdicts = {
        (8.0, -6.0): (CheckVerdict.AS_ASKED, CheckVerdict.AS_ASKED),
        (4.0, -2.0): (CheckVerdict.LESS, CheckVerdict.LESS),
        (12.0, -10.0): (CheckVerdict.MORE, CheckVerdict.MORE),
        (None, -3.0): (CheckVerdict.NOT_MEASURED, CheckVerdict.AS_ASKED),
    }
    for done, expected in verdicts.items():
        assert tuple(one.verdict for one in back_check(asked, done)) == expected
    assert back_check(asked, (12.0, -10.0))[1].off_mm == -4.0
    with pytest.raises(ValueError, match="argument 2"):
        back_check(asked, (1.0,))
