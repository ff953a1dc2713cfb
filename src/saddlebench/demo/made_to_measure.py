"""An invented saddle made for one horse and rider: cut to the back, tried on, corrected.

The faces are cut with the pad between and the arch with room for what the saddle sinks under a rider; then it
is tried on with the rider up, and its rear raised or lowered in workable steps until the seat is level.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from saddlebench.demo.cutting import panelled_for
from saddlebench.demo.shapes import BackShape
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.settle import settle
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.saddle.fittings import Fittings, SeatNumbers
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers

OVER_WITHERS_MM = 60.0
"""Above the withers when it is laid on: the middle of what is usual girthed (55 mm), and what girthing
takes."""
LEVEL_DEG = 1.0
"""Half of what is still fine."""
STEP_MM = 3.0
"""Smaller steps are not workable."""
_COB_CHANNEL_MM = (84.0, 84.0, 86.0)
_USUAL_LENGTH_MM = 430.0
_TRIALS = 8
_POINTS = 600


def made_to_measure(
    back: BackShape, label: str, *, seat_in: float, rider: Rider, pads: Sequence[PadLayer]
) -> PanelledNumbers:
    """Return a panelled saddle (invented) made for a back and a rider.

    Parameters
    ----------
    back : the back, as it is
    label : its name
    seat_in : size of the seat; panels are 20 mm longer for each inch
    rider : who sits on it when it is tried on
    pads : what lies under it
    """
    length = _USUAL_LENGTH_MM + 20.0 * (seat_in - 17.5)
    thickness = float(sum(np.mean(pad.thickness_mm) for pad in pads))
    cut = panelled_for(back, label, length_mm=length, over_withers_mm=OVER_WITHERS_MM, pad_mm=thickness)
    usual = SeatNumbers()
    seat = SeatNumbers(
        size_in=seat_in,
        lowest_behind_mm=usual.lowest_behind_mm * length / _USUAL_LENGTH_MM,
        rear_behind_mm=length + 10.0,
    )
    numbers = replace(cut, panel=replace(cut.panel, channel_mm=_COB_CHANNEL_MM), fittings=Fittings(seat=seat))
    for _ in range(_TRIALS):
        tilt = _tilt_deg(numbers, back, rider, pads)
        if abs(tilt) <= LEVEL_DEG:
            break
        rise = numbers.panel.rear_rise_mm - STEP_MM * float(np.sign(tilt))
        numbers = replace(numbers, panel=replace(numbers.panel, rear_rise_mm=rise))
    return numbers


def _tilt_deg(numbers: PanelledNumbers, back: BackShape, rider: Rider, pads: Sequence[PadLayer]) -> float:
    """Return how far the seat tips back with the rider up."""
    settings = SettleSettings(both_positions=False, coarse_points=0)
    model = model_from_numbers(numbers, _POINTS)
    found = settle(back.surface(), back.landmarks, model, pads, rider, cases=(HALT,), settings=settings)
    up = found.at(HALT.name, Position.PUT)
    if isinstance(up, Undetermined):
        return 0.0
    return float(np.rad2deg(np.arcsin(np.clip(up.saddle_to_back.rotation[2, 0], -1.0, 1.0))))
