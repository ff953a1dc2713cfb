"""Where pen lines meet: each is kept only as far as it is clear which goes on as which."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.traced import STEP_MM, TracedCurveOnSheet

MEETS_MM = 1.5
ENDS_AT_MM = 4.0
"""A line that ends so near to another may be what goes on as the other."""
ENDS_BEFORE_MM = 30.0
"""A line that is met flatly ends so far before the place at which the other may go on as it, at most."""
_LOOKED_MM = 2.0
CHORD_MM = 10.0
SKIPPED_MM = 3.0
"""Beside a meeting, where two strokes are one."""
CLEAR_TURN = np.radians(8.0)
"""By so much straighter a way has to be, to be the one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meeting:
    """Two lines at one place, each as the number of its points from the midline on one side."""

    at: int
    other_at: int
    other_ends: bool


def parted(
    curves: Sequence[TracedCurveOnSheet], uncut: Sequence[TracedCurveOnSheet]
) -> tuple[tuple[TracedCurveOnSheet, ...], bool]:
    """Return the curves, cut where it is not clear how they go on, and whether any was.

    Parameters
    ----------
    uncut : the same as they were before their forks were looked at: a line that was cut short of another may
        be what goes on as that one all the same
    """
    keeps = [[None, None] for _ in curves]  # type: list[list[int | None]]
    for side in (0, 1):
        arms = [_arm(curve, side) for curve in curves]
        others = [_arm(curve, side) for curve in uncut]
        for a, b in permutations(range(len(curves)), 2):
            meeting = _meeting(arms[a], others[b])
            if meeting is None or _is_clear(arms[a], others[b], meeting):
                continue
            keep = max(0, meeting.at - round(SKIPPED_MM / STEP_MM))
            before = keeps[a][side]
            keeps[a][side] = keep if before is None else min(before, keep)
    cut = tuple(_cut(curve, *keep) for curve, keep in zip(curves, keeps, strict=True))
    return cut, any(keep is not None for pair in keeps for keep in pair)


def _middle(curve: TracedCurveOnSheet) -> int:
    return int(np.abs(curve.points[:, 0]).argmin())


def _arm(curve: TracedCurveOnSheet, side: int) -> FloatArray:
    """Return a curve's points from the midline outward, (n, 2) float, sheet's frame [mm]."""
    at = _middle(curve)
    return curve.points[at:] if side else curve.points[at::-1]


def _meeting(arm: FloatArray, other: FloatArray) -> _Meeting | None:
    if len(arm) < 3 or len(other) < 3:
        return None
    off, at = cKDTree(arm).query(other)
    near = np.flatnonzero(off < MEETS_MM)
    if len(near):
        first = int(near[0])
        return _Meeting(at=int(at[first]), other_at=first, other_ends=False)
    if off[-1] < ENDS_AT_MM:
        return _Meeting(at=int(at[-1]), other_at=len(other) - 1, other_ends=True)
    return None


def _is_clear(arm: FloatArray, other: FloatArray, meeting: _Meeting) -> bool:
    """Tell whether a line goes on as itself by more than chance, where another meets it."""
    came, goes = _headings(arm, meeting.at)
    other_came, other_goes = _headings(other, meeting.other_at)
    if goes is None:
        # Too little goes on for a heading: it may be the other's end as well.
        return False
    if came is None or other_came is None:
        return True
    own = _turn(came, goes)
    if meeting.other_ends or other_goes is None:
        return own + CLEAR_TURN < _turn(other_came, goes) and _stays_clear(arm, meeting.at, other_came)
    swapped = _turn(came, other_goes) + _turn(other_came, goes)
    return own + _turn(other_came, other_goes) + CLEAR_TURN < swapped


def _stays_clear(arm: FloatArray, at: int, other_came: float) -> bool:
    """Tell whether nowhere further on a line turns into the heading of the one that ended beside it."""
    step = round(_LOOKED_MM / STEP_MM)
    for place in range(at + step, at + round(ENDS_BEFORE_MM / STEP_MM) + 1, step):
        came, goes = _headings(arm, place)
        if came is None or goes is None:
            break
        if _turn(came, goes) + CLEAR_TURN >= _turn(other_came, goes):
            return False
    return True


def _headings(arm: FloatArray, at: int) -> tuple[float | None, float | None]:
    """Return the headings of an arm (n, 2) float [mm] before and after a place [rad]; None past its ends."""
    skip, chord = round(SKIPPED_MM / STEP_MM), round(CHORD_MM / STEP_MM)
    near, far = max(at - skip, 0), at - skip - chord
    came = None if far < 0 else _heading(arm[far], arm[near])
    near, far = at + skip, at + skip + chord
    goes = None if far >= len(arm) else _heading(arm[near], arm[far])
    return came, goes


def _heading(start: FloatArray, end: FloatArray) -> float:
    return float(np.arctan2(end[1] - start[1], end[0] - start[0]))


def _turn(one: float, other: float) -> float:
    return float(np.abs((other - one + np.pi) % (2.0 * np.pi) - np.pi))


def _cut(curve: TracedCurveOnSheet, left: int | None, right: int | None) -> TracedCurveOnSheet:
    at = _middle(curve)
    first = 0 if left is None else max(0, at - left)
    last = len(curve.points) if right is None else min(len(curve.points), at + right + 1)
    return replace(curve, points=curve.points[first:last], seen=curve.seen[first:last])
