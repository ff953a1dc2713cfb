"""When a horse should be seen again. Common practice; a practice may set its own weeks."""

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from saddlebench.practice.enums import RecheckReason

_WEEKS: dict[RecheckReason, tuple[int, int]] = {
    RecheckReason.YOUNG: (6, 8),
    RecheckReason.REHAB: (6, 8),
    RecheckReason.CHANGING_WEIGHT: (6, 8),
    RecheckReason.NEW_FLOCK: (6, 12),
}
_STEADY_MONTHS = 6
_A_HORSE_THAT_IS = {
    RecheckReason.STEADY: "steady and adult",
    RecheckReason.YOUNG: "young",
    RecheckReason.REHAB: "in rehabilitation",
    RecheckReason.CHANGING_WEIGHT: "changing weight",
    RecheckReason.NEW_FLOCK: "in a saddle with new flock",
}
REASONS = tuple(_A_HORSE_THAT_IS)
"""Reasons that a window follows from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecheckWindow:
    """From when to when a re-check is due, and the reason that asks for it soonest."""

    due_from: date
    due_by: date
    reason: RecheckReason


def words_of_reason(reason: RecheckReason) -> str:
    """Return a reason as it stands after “a horse that is”."""
    return _A_HORSE_THAT_IS[reason]


def add_months(day: date, months: int) -> date:
    """Return the same day some months later, or that month's last day where it has no such day."""
    month_index = day.year * 12 + day.month - 1 + months
    year, month = divmod(month_index, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def recheck_window(visited_on: date, reasons: Iterable[RecheckReason] = ()) -> RecheckWindow:
    """Return the window of the reason that ends soonest; without a reason a steady adult's six months."""
    windows = [
        RecheckWindow(
            due_from=visited_on + timedelta(weeks=_WEEKS[reason][0]),
            due_by=visited_on + timedelta(weeks=_WEEKS[reason][1]),
            reason=reason,
        )
        for reason in sorted(set(reasons) & set(_WEEKS))
    ]
    if windows:
        return min(windows, key=lambda window: (window.due_by, window.due_from))
    day = add_months(visited_on, _STEADY_MONTHS)
    return RecheckWindow(due_from=day, due_by=day, reason=RecheckReason.STEADY)
