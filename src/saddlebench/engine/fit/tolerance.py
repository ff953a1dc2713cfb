"""How much a back may change before a finding that is fine now no longer is.

First order and geometry only, by common practice: a millimetre of back is a millimetre of the finding, except
where a note says otherwise. The saddle is not settled anew; the change study does that on a real later back.
"""

from collections.abc import Callable, Sequence
from math import inf

from saddlebench.engine.back.quantities import (
    DEEPEST_HEIGHT,
    LENGTH,
    WITHERS_ANGLE,
    WITHERS_WIDTH,
    Quantity,
    Tolerance,
)
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import Finding, Judged
from saddlebench.engine.fit.measures.names import MeasureName
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.verdicts import Limit, Verdict

DROP_PER_WIDTH = 0.5
"""10 mm between back and arch let the front drop 5 mm at 90° included.

Common practice: 7, 5, 3.5 mm at 70, 90, 110°.
"""

Room = tuple[float, float]
"""How far a finding's number may fall and rise before it leaves "fine"; infinite where it may go at will."""


def _width(room: Room) -> Room:
    """Turn the room over: a wider back makes the saddle narrower against it."""
    return -room[1], -room[0]


def _angle(room: Room) -> Room:
    """Double the room: both sides open together, and either way counts."""
    nearest = min(abs(room[0]), abs(room[1]))
    return -2.0 * nearest, 2.0 * nearest


def _withers(room: Room) -> Room:
    return room[0] / DROP_PER_WIDTH, inf


def _bridge(room: Room) -> Room:
    """Let a dip go as much deeper as the bridge may open."""
    return -room[1], inf


def _length(room: Room) -> Room:
    return -room[1], inf


ROWS: tuple[tuple[FindingName, MeasureName, Quantity, Callable[[Room], Room]], ...] = (
    (FindingName.FRONT_WIDTH, MeasureName.WIDTH_MISMATCH, WITHERS_WIDTH, _width),
    (FindingName.WITHERS_TOP, MeasureName.WITHERS_TOP, WITHERS_WIDTH, _withers),
    (FindingName.FRONT_ANGLE, MeasureName.POINT_ANGLE, WITHERS_ANGLE, _angle),
    (FindingName.BRIDGING, MeasureName.BRIDGE_DEPTH, DEEPEST_HEIGHT, _bridge),
    (FindingName.LAST_RIB, MeasureName.PAST_LAST_RIB, LENGTH, _length),
)


def tolerances_of(findings: Sequence[Finding]) -> tuple[Tolerance, ...]:
    """Return how much the back may change under this saddle, one entry a finding that is fine now.

    Parameters
    ----------
    findings : of the present saddle on the last back
    """
    held: dict[tuple[FindingName, Quantity], Tolerance] = {}
    for finding in findings:
        for name, measure, quantity, turned in ROWS:
            rooms = [room_of(judged) for judged in finding.all_judged if judged.limit.measure.name is measure]
            if finding.name is not name or finding.as_computed is not Verdict.FINE:
                continue
            for lower, upper in (turned(room) for room in rooms if room is not None):
                before = held.get((name, quantity))
                held[name, quantity] = Tolerance(
                    quantity=quantity,
                    lower=lower if before is None else max(lower, before.lower),
                    upper=upper if before is None else min(upper, before.upper),
                    why=f"beyond it, “{finding.name}” is no longer fine",
                )
    return tuple(held.values())


def room_of(judged: Judged) -> Room | None:
    """Return how far a fine number may fall (0 or below) and rise; None where it is not fine."""
    if not isinstance(judged.limit, Limit) or not isinstance(judged.measure, Measure):
        return None
    low, high = judged.limit.levels.fine
    shown = judged.measure.shown
    return (low - shown, high - shown) if low <= shown <= high else None
