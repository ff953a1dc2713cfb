"""The search for a plan: slopes of the settled state, bounded least squares inside, settling anew outside."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.alter.bounded import Priced, Ranges, least_in_ranges, least_within
from saddlebench.engine.alter.objective import Aimed, Lies, jacobian, lies, priced, quadratic
from saddlebench.engine.alter.variables import Kind, Variable
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray

MOST_ROUNDS = 8
FIRST_REACH_MM = 8.0
LEAST_REACH_MM = 0.5
DONE = 2e-3
"""A round that betters the objective by less than this part of it is the last."""
WORKSHOP_ROUNDS = 2
ALIKE_MM = 1.0
WORTH_TIDYING = 0.02
"""Part of the objective that a tidier plan may cost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the search came to."""

    start: Lies
    """As it is."""
    free: Lies
    """The best without regard to workable steps."""
    best: Lies
    """The best in workable steps."""
    model: Priced
    """The objective as foretold at the end, by which limits are named."""
    rounds: int


def search(aimed: Aimed, told: Callable[[str], None]) -> Found | Undetermined:
    """Find the least change for the best fit; a state that does not rest is never gone through."""
    k = len(aimed.variables)
    start = lies(aimed, np.zeros(k))
    if isinstance(start, Undetermined):
        return start
    first = jacobian(aimed, start)
    if isinstance(first, Undetermined):
        return first
    model = quadratic(aimed, start, first)
    if k == 0:
        return Found(start=start, free=start, best=start, model=model, rounds=0)
    free, model, rounds = _freely(aimed, start, model, told)
    best, model = _workably(aimed, start, free, model, told)
    return Found(start=start, free=free, best=best, model=model, rounds=rounds)


def _freely(
    aimed: Aimed, start: Lies, model: Priced, told: Callable[[str], None]
) -> tuple[Lies, Priced, int]:
    low = np.array([one.least for one in aimed.variables])
    high = np.array([one.most for one in aimed.variables])
    held, reach, rounds = start, FIRST_REACH_MM, 0
    while rounds < MOST_ROUNDS and reach > LEAST_REACH_MM:
        rounds += 1
        told(f"seeking, round {rounds}")
        x = least_within(model, np.maximum(low, held.x - reach), np.minimum(high, held.x + reach), held.x)
        trial = lies(aimed, x, held)
        if isinstance(trial, Undetermined) or priced(aimed, trial) >= priced(aimed, held):
            reach *= 0.4
            continue
        slopes = jacobian(aimed, trial)
        if isinstance(slopes, Undetermined):
            reach *= 0.4
            continue
        won = priced(aimed, held) - priced(aimed, trial)
        held, model = trial, quadratic(aimed, trial, slopes)
        if won < DONE * priced(aimed, held):
            break
    return held, model, rounds


def _workably(
    aimed: Aimed, start: Lies, free: Lies, model: Priced, told: Callable[[str], None]
) -> tuple[Lies, Priced]:
    """Return the best in workable steps and whole millimetres; leaving it as it is counts too."""
    ranges = [one.ranges for one in aimed.variables]
    best, near = start, free
    for _ in range(WORKSHOP_ROUNDS):
        told("fitting it to workable steps")
        x = _whole(least_in_ranges(model, ranges, near.x).x, ranges)
        if np.array_equal(x, best.x):
            break
        trial = lies(aimed, x, near)
        if isinstance(trial, Undetermined):
            break
        if priced(aimed, trial) < priced(aimed, best):
            best = trial
        slopes = jacobian(aimed, trial)
        if isinstance(slopes, Undetermined):
            break
        near, model = trial, quadratic(aimed, trial, slopes)
    return _tidied(aimed, _even_handed(aimed, best, model)), model


def _even_handed(aimed: Aimed, best: Lies, model: Priced) -> Lies:
    """Return the best plan that does the same near and off, where that costs next to nothing.

    On a back and saddle alike on both sides, which side gets 3 mm is decided by rounding.
    """
    places: dict[object, list[int]] = {}
    for k, one in enumerate(aimed.variables):
        places.setdefault((one.kind, one.zone, one.half, one.place, one.ranges), []).append(k)
    if len(places) == len(aimed.variables):
        return best
    tie = np.zeros((len(aimed.variables), len(places)))
    for column, rows in enumerate(places.values()):
        tie[rows, column] = 1.0
    tied = Priced(square=tie.T @ model.square @ tie, linear=tie.T @ model.linear, price=tie.T @ model.price)
    ranges = [aimed.variables[rows[0]].ranges for rows in places.values()]
    x = tie @ _whole(least_in_ranges(tied, ranges).x, ranges)
    if np.array_equal(x, best.x):
        return best
    return _if_cheap(aimed, x, best)


def _if_cheap(aimed: Aimed, x: FloatArray, best: Lies) -> Lies:
    trial = lies(aimed, x, best)
    if isinstance(trial, Undetermined) or priced(aimed, trial) > (1.0 + WORTH_TIDYING) * priced(aimed, best):
        return best
    return trial


def _tidied(aimed: Aimed, best: Lies) -> Lies:
    """Return the plan with amounts made alike that differ by a millimetre, where that costs next to nothing.

    Nobody works to a millimetre: the halves of a zone first, then the same place near and off.
    """
    x = best.x.copy()
    for alike in (_halves, _sides):
        groups: dict[object, list[int]] = {}
        for k, one in enumerate(aimed.variables):
            if one.kind is Kind.WOOL and x[k]:
                groups.setdefault(alike(one), []).append(k)
        for group in groups.values():
            if np.ptp(x[group]) <= ALIKE_MM:
                x[group] = np.rint(np.mean(x[group]))
    allowed = all(
        any(low <= value <= high for low, high in one.ranges)
        for one, value in zip(aimed.variables, x, strict=True)
    )
    if not allowed or np.array_equal(x, best.x):
        return best
    return _if_cheap(aimed, x, best)


def _halves(one: Variable) -> object:
    return one.on_left, one.zone


def _sides(one: Variable) -> object:
    return one.zone, one.half


def _whole(x: FloatArray, ranges: list[Ranges]) -> FloatArray:
    """Return whole millimetres within the allowed ranges."""
    out = []
    for value, allowed in zip(x, ranges, strict=True):
        low, high = next(one for one in allowed if one[0] - 1e-6 <= value <= one[1] + 1e-6)
        out.append(min(max(float(np.rint(value)), low), high))
    return np.array(out)
