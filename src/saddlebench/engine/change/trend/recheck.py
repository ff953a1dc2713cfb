"""When to look at a horse again: from how fast its back moves and what the present saddle tolerates."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.quantities import Quantity, Tolerance
from saddlebench.engine.change.trend.series import DAYS_A_YEAR
from saddlebench.engine.change.trend.smooth import Smooth
from saddlebench.engine.change.trend.study import Fitted
from saddlebench.engine.days import plain_day
from saddlebench.engine.frames import FloatArray

LEFT = 0.20
"""A saddle is looked at before more than this share of the paths ahead leaves what it tolerates."""
PATHS = 400
SOONEST_WEEKS = 4
"""Backs do not change measurably in less (common practice; published: differences show after two months)."""
LONGEST_WEEKS = 52


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """When one number may leave what the saddle tolerates."""

    quantity: Quantity
    why: str
    rate: float
    """Per quarter of a year, as it moves now."""
    lower: float | None = None
    """What the number may lose; None: at will."""
    upper: float | None = None
    """What it may gain; None: at will."""
    leaves_on: dt.date | None = None
    """First day on which a fifth of the paths ahead have left; None within a year."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecheckAdvice:
    """A day, and why."""

    day: dt.date
    reasons: tuple[str, ...]
    """The reasoning in words, step by step."""
    leaving: tuple[Leaving, ...]
    """Every number that was looked at, the first to leave first."""


def advise_recheck(
    fitted: Sequence[Fitted],
    tolerances: Sequence[Tolerance],
    *,
    due_from: dt.date,
    due_by: dt.date,
    reason: str,
    seed: int = 0,
) -> RecheckAdvice:
    """Return when to look again.

    Parameters
    ----------
    fitted : trends of one horse
    tolerances : what the present saddle tolerates
    due_from, due_by : the window of common practice for this horse
    reason : why that window: “a steady adult”
    seed : of the paths ahead
    """
    by_quantity = {one.trend.quantity: one for one in fitted}
    leaving = [
        _leaving(by_quantity[tolerance.quantity], tolerance, seed)
        for tolerance in tolerances
        if tolerance.quantity in by_quantity and isinstance(by_quantity[tolerance.quantity].smooth, Smooth)
    ]
    leaving.sort(key=lambda one: one.leaves_on or dt.date.max)
    last = max((one.last_day for one in fitted), default=due_from)
    soonest = last + dt.timedelta(weeks=SOONEST_WEEKS)
    window = f"Common practice for {reason}: look again " + (
        f"by {plain_day(due_by)}." if due_from == due_by else f"{plain_day(due_from)} to {plain_day(due_by)}."
    )
    first = next((one for one in leaving if one.leaves_on is not None), None)
    if not leaving:
        words = (
            "The trend has no number that the present saddle sets a limit to: only common practice speaks."
            if tolerances
            else "No fit check says what the present saddle tolerates: only common practice speaks."
        )
        return RecheckAdvice(day=due_by, reasons=(window, words), leaving=())
    if first is None or first.leaves_on is None or first.leaves_on >= due_by:
        words = "As the back moves now, nothing leaves what the saddle tolerates before then."
        return RecheckAdvice(day=due_by, reasons=(window, words), leaving=tuple(leaving))
    day = max(first.leaves_on, soonest)
    moved = (
        f"{first.quantity.words} moves by {first.rate:+.1f} {first.quantity.shown_unit} a quarter year; "
        f"with what is not known of that, one path in five leaves what the saddle tolerates ({_room(first)}) "
        f"by {plain_day(first.leaves_on)}: {first.why}."
    )
    ends = [window, moved]
    if day > first.leaves_on:
        ends.append(
            f"Sooner than {SOONEST_WEEKS} weeks after the last visit measuring shows little: "
            f"{plain_day(day)}."
        )
    return RecheckAdvice(day=day, reasons=tuple(ends), leaving=tuple(leaving))


def _room(one: Leaving) -> str:
    unit = one.quantity.shown_unit
    words = []
    if one.lower is not None:
        words.append(f"{one.lower:+.0f}")
    if one.upper is not None:
        words.append(f"{one.upper:+.0f}")
    return f"{' to '.join(words)} {unit}".replace("-", "\u2212").strip()


def _leaving(fitted: Fitted, tolerance: Tolerance, seed: int) -> Leaving:
    found = fitted.smooth
    weeks = np.arange(0, LONGEST_WEEKS + 1)
    gone: FloatArray = np.zeros(len(weeks))
    if isinstance(found, Smooth):
        paths = found.at(found.years[-1] + 7.0 * weeks / DAYS_A_YEAR).paths(PATHS, seed)
        gone = share_left(paths - paths[:, :1], tolerance.lower, tolerance.upper)
    over = np.flatnonzero(gone > LEFT)
    rate = fitted.trend.rate
    return Leaving(
        quantity=tolerance.quantity,
        why=tolerance.why,
        lower=tolerance.lower if np.isfinite(tolerance.lower) else None,
        upper=tolerance.upper if np.isfinite(tolerance.upper) else None,
        rate=getattr(rate, "value", 0.0),
        leaves_on=fitted.last_day + dt.timedelta(weeks=int(weeks[over[0]])) if len(over) else None,
    )


def share_left(paths: FloatArray, lower: float, upper: float) -> FloatArray:
    """Return the share of paths (p, k) float, any frame [unit], that have left by each time, (k,) [1]."""
    out = (paths < lower) | (paths > upper)
    return np.asarray(np.maximum.accumulate(out, axis=1).mean(axis=0))
