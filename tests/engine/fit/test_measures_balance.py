"""Tilt, seat, line, straps, rocking and stiffness against closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from simple_pairs import MARKS, cylinder, plain_saddle, settled

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.balance import balance_columns, rocking_column
from saddlebench.engine.fit.measures.batch import Solutions, pair_of
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Side
from saddlebench.engine.fit.measures.saddle_alone import rider_and_tack, saddle_columns
from saddlebench.engine.saddle.model import Family

UP, GIRTHED = State.RIDER_UP, State.GIRTHED
SADDLE = plain_saddle()
PAIR = pair_of(cylinder(), MARKS, SADDLE, ())


def read(name, pair=PAIR, **state):
    return balance_columns(pair, Solutions.of([settled(pair.saddle, **state)]))[
        MeasureKey(name=name, state=UP)
    ]


@pytest.mark.parametrize("degrees", [-3.0, 0.0, 4.0])
def test_seat_tilt_is_the_pitch_nose_up_positive(degrees):
    # Turning about y by +θ lowers the front (right-handed, x forward, z up).
    tilt = read(MeasureName.SEAT_TILT, turned=(0.0, -np.deg2rad(degrees), 0.0))[0]
    assert np.rad2deg(tilt) == pytest.approx(degrees, abs=1e-12)


def test_lean_to_the_near_side_is_positive():
    assert read(MeasureName.LEAN, turned=(-0.05, 0.0, 0.0))[0] == pytest.approx(0.05)


def test_lowest_point_of_a_parabolic_seat_moves_by_its_radius_times_the_slope():
    # z = 60 + (x + 230)²/800 has its lowest place where z' equals −tan(tilt): 400·tan(tilt) further back.
    tilt = 0.04
    shift = read(MeasureName.SEAT_SHIFT, turned=(0.0, -tilt, 0.0))[0]
    assert shift == pytest.approx(400.0 * np.tan(tilt), abs=1e-9)
    assert read(MeasureName.SEAT_SHIFT)[0] == pytest.approx(0.0, abs=1e-9)


def test_cantle_off_the_midline_adds_shift_and_yaw():
    yaw = 0.02
    off = read(MeasureName.OFF_LINE, turned=(0.0, 0.0, yaw), at_mm=(0.0, 3.0, 0.0))[0]
    assert off == pytest.approx(3.0 - 420.0 * np.sin(yaw))
    assert read(MeasureName.YAW, turned=(0.0, 0.0, yaw))[0] == pytest.approx(yaw)


def test_straps_against_the_girth_groove():
    # Straps hang on average 130 mm behind the panels' front; the groove is at 90 mm behind the shoulder mark.
    assert read(MeasureName.STRAPS_FROM_GROOVE, at_mm=(25.0, 0.0, 0.0))[0] == pytest.approx(90.0 - 105.0)
    unmarked = pair_of(cylinder(), Landmarks(), SADDLE, ())
    assert isinstance(read(MeasureName.STRAPS_FROM_GROOVE, unmarked), NotMeasured)


def test_even_foundation_has_the_pitch_stiffness_of_full_bearing():
    bearing = SADDLE.bearing
    k, x = 0.6, bearing.points_saddle[:, 0] + 200.0
    stiffness = np.zeros((6, 6))
    weight = k * bearing.area_mm2
    stiffness[2, 2] = weight.sum()
    stiffness[2, 4] = stiffness[4, 2] = -(weight * x).sum()
    stiffness[4, 4] = (weight * x * x).sum()
    assert read(MeasureName.PITCH_STIFFNESS_RATIO, stiffness=stiffness)[0] == pytest.approx(1.0)


def test_middle_half_alone_bears_an_eighth_of_the_pitch_stiffness_per_length():
    bearing = SADDLE.bearing
    x = bearing.points_saddle[:, 0] + 200.0
    bears = np.abs(x) < 100.0
    weight = 0.6 * bearing.area_mm2 * bears
    stiffness = np.zeros((6, 6))
    stiffness[2, 2], stiffness[4, 4] = weight.sum(), (weight * x * x).sum()
    ratio = read(
        MeasureName.PITCH_STIFFNESS_RATIO, stiffness=stiffness, pressure_kpa=np.where(bears, 10.0, 0.0)
    )
    # Stiffness per area alike, half the length: (1/2)³ of Σ A x², here on a lattice of 20 of 40 rows.
    lattice = (20**3 - 20) / (40**3 - 40)
    assert ratio[0] == pytest.approx(lattice)


def test_rocking_is_the_cantles_rise():
    turn = 0.03
    girthed = Solutions.of([settled(SADDLE, GIRTHED)])
    pressed = Solutions.of([settled(SADDLE, turned=(0.0, turn, 0.0))])
    rear_x, rear_z = 420.0, 60.0 + 190.0**2 / 800.0
    rise = rocking_column(PAIR, girthed, pressed)[MeasureKey(name=MeasureName.ROCKING, state=GIRTHED)][0]
    assert rise == pytest.approx(rear_x * np.sin(turn) + rear_z * (np.cos(turn) - 1.0))


def alone(saddle, name):
    return saddle_columns(pair_of(cylinder(), MARKS, saddle, ()), 1)[MeasureKey(name=name)]


def test_narrowest_channel():
    channel = SADDLE.channel
    narrow = channel.half_width_left_mm.copy()
    narrow[20] = 27.0
    saddle = replace(SADDLE, channel=replace(channel, half_width_left_mm=narrow))
    assert alone(saddle, MeasureName.CHANNEL_WIDTH)[0] == pytest.approx(67.0)


def test_near_against_off_of_the_saddle():
    left, right = SADDLE.points
    moved = replace(right, end_saddle=right.end_saddle + np.array([0.0, -3.0, 4.0]))
    assert alone(replace(SADDLE, points=(left, moved)), MeasureName.SADDLE_POINTS_UNEQUAL)[
        0
    ] == pytest.approx(5.0)
    assert alone(SADDLE, MeasureName.SADDLE_POINTS_UNEQUAL)[0] == pytest.approx(0.0)
    bearing = SADDLE.bearing
    dropped = bearing.points_saddle.copy()
    dropped[(bearing.side < 0) & (bearing.zone == 3), 2] -= 6.0
    saddle = replace(SADDLE, bearing=replace(bearing, points_saddle=dropped))
    assert alone(saddle, MeasureName.SADDLE_PANELS_UNEQUAL)[0] == pytest.approx(6.0)


def test_a_side_saddle_is_not_compared_with_itself():
    saddle = replace(SADDLE, family=Family.SIDE_SADDLE)
    assert isinstance(alone(saddle, MeasureName.SADDLE_PANELS_UNEQUAL), Undetermined)


def test_rider_and_tack():
    assert rider_and_tack(68.0, 7.0, 500.0) == pytest.approx(0.15)
    assert Side.NEAR.mirrored is Side.OFF
