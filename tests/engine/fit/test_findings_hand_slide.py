"""What a hand would feel, for pressures whose stretches are known."""

import numpy as np
from simple_pairs import LENGTH_MM, MARKS, cylinder, plain_saddle, settled

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.hand_slide import HAND_MM, Feel, hand_slides
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.batch import Solutions, pair_of
from saddlebench.engine.fit.measures.names import Side

SADDLE = plain_saddle()
PAIR = pair_of(cylinder(), MARKS, SADDLE, ())
ROW, SIDE = SADDLE.bearing.row, SADDLE.bearing.side
POINT_MM = 30.0
"""The points' ends lie this far behind the panels' front edge."""


def felt(pressure):
    return hand_slides(PAIR, Solutions.of([settled(SADDLE, State.GIRTHED, pressure_kpa=pressure)]))


def test_even_pressure_feels_even_from_end_to_end():
    for slide in felt(3.0):
        assert slide.is_even
        assert [(one.from_mm, one.to_mm) for one in slide.stretches] == [(-POINT_MM, LENGTH_MM - POINT_MM)]


def test_a_bridge_feels_slack_where_it_is_on_its_own_side_only():
    near, off = felt(np.where((SIDE > 0) & (ROW >= 15) & (ROW < 28), 0.0, 3.0))
    (slack,) = [one for one in near.stretches if one.feel is Feel.SLACK]
    # Rows 15 to 28 are 150–280 mm behind the front. A hand that averages over 60 mm feels slack where
    # less than 0.4 of the mean is under it, which is some way inside each end of the gap.
    assert 150.0 - POINT_MM < slack.from_mm < 150.0 - POINT_MM + HAND_MM / 2
    assert 280.0 - POINT_MM - HAND_MM / 2 < slack.to_mm < 280.0 - POINT_MM
    assert off.is_even
    assert (near.side, off.side) == (Side.NEAR, Side.OFF)


def test_a_hard_place_feels_tight():
    _, off = felt(np.where((SIDE < 0) & (ROW >= 30), 12.0, 3.0))
    assert [one.feel for one in off.stretches] == [Feel.EVEN, Feel.TIGHT]


def test_a_spot_narrower_than_a_hand_is_not_felt_apart():
    near, _ = felt(np.where((SIDE > 0) & (ROW == 20), 0.0, 3.0))
    assert near.is_even


def test_nothing_to_feel_is_said():
    assert isinstance(felt(0.0), Undetermined)
