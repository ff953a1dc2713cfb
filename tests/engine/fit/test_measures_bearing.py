"""Bridges, panel faces, reach and the front against closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from simple_pairs import COLUMNS, MARKS, RADIUS_MM, ROWS, STEP_MM, cylinder, plain_saddle, settled

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.batch import STRIDE_MM, Solutions, pair_of
from saddlebench.engine.fit.measures.bearing import (
    bridge_columns,
    face_columns,
    length_columns,
    longest_bridge,
)
from saddlebench.engine.fit.measures.front import front_columns, levelled
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Part, Side
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import Family, PadLayer

UP, GIRTHED = State.RIDER_UP, State.GIRTHED
SADDLE = plain_saddle()
PAIR = pair_of(cylinder(), MARKS, SADDLE, ())
BEARING = SADDLE.bearing
COLUMN_MM = (BEARING.column - (COLUMNS - 1) / 2) * STEP_MM


def key(name, side=Side.BOTH, part=Part.WHOLE, state=UP):
    return MeasureKey(name=name, state=state, side=side, part=part)


def one(function, pair=PAIR, **state):
    return function(pair, Solutions.of([settled(pair.saddle, **state)]))


def test_parabolic_bridge_between_bearing_ends():
    # gap = 6 − 6·(ξ/0.5)²: above 0 over the middle half of the length, 6 mm deep in its middle
    xi = (BEARING.row + 0.5) / ROWS - 0.5
    gap = 6.0 - 6.0 * (xi / 0.25) ** 2
    columns = one(bridge_columns, gap_mm=gap)
    assert columns[key(MeasureName.BRIDGE_LENGTH, Side.NEAR)][0] == pytest.approx(ROWS * STEP_MM / 2)
    # The rows lie 5 mm beside the middle: 6·(5/100)² short of the full depth.
    assert columns[key(MeasureName.BRIDGE_DEPTH, Side.OFF)][0] == pytest.approx(6.0 - 6.0 * 0.05**2)


def test_open_ends_are_no_bridge():
    gap = np.where((BEARING.row > 10) & (BEARING.row < 30), -4.0, 9.0)
    columns = one(bridge_columns, gap_mm=gap)
    assert columns[key(MeasureName.BRIDGE_DEPTH, Side.NEAR)][0] == 0.0
    assert columns[key(MeasureName.BRIDGE_LENGTH, Side.NEAR)][0] == 0.0


def test_a_row_that_touches_anywhere_across_is_closed():
    gap = np.where((BEARING.row > 10) & (BEARING.row < 20) & (BEARING.column > 0), 5.0, -1.0)
    assert one(bridge_columns, gap_mm=gap)[key(MeasureName.BRIDGE_LENGTH, Side.NEAR)][0] == 0.0


def test_one_sided_bridge_stays_on_its_side():
    gap = np.where((BEARING.row > 10) & (BEARING.row < 20) & (BEARING.side < 0), 5.0, -1.0)
    columns = one(bridge_columns, gap_mm=gap)
    assert columns[key(MeasureName.BRIDGE_LENGTH, Side.NEAR)][0] == 0.0
    assert columns[key(MeasureName.BRIDGE_LENGTH, Side.OFF)][0] == pytest.approx(90.0)


def test_two_bridges_give_the_deepest_and_the_longest():
    gap = np.array([[-1.0, 8.0, -1.0, 2.0, 3.0, -1.0], [-1.0] * 6])
    depth, length = longest_bridge(gap, np.full(6, 10.0))
    np.testing.assert_allclose(depth, [8.0, 0.0])
    np.testing.assert_allclose(length, [20.0, 0.0])


@pytest.mark.parametrize("slope", [-0.2, 0.0, 0.1])
def test_face_angle_is_the_arc_tangent_of_the_gaps_slope_across(slope):
    gap = -10.0 + slope * COLUMN_MM + 0.02 * BEARING.row
    columns = one(face_columns, gap_mm=gap)
    for part in (Part.FRONT, Part.MIDDLE, Part.REAR):
        for side in (Side.NEAR, Side.OFF):
            found = columns[key(MeasureName.FACE_ANGLE, side, part)][0]
            assert found == pytest.approx(np.arctan(slope), abs=1e-12)


def test_load_past_the_last_rib():
    # Front edge at 250 mm: the panels end at 650 mm, 150 mm past the mark at 500 mm.
    columns = one(length_columns, at_mm=(-250.0, 0.0, 0.0))
    assert columns[key(MeasureName.PAST_LAST_RIB)][0] == pytest.approx(150.0)
    assert columns[key(MeasureName.LOAD_PAST_LAST_RIB)][0] == pytest.approx(15 / ROWS)


def test_reach_onto_each_shoulder_blade():
    columns = one(length_columns, pressure_kpa=np.where(BEARING.row < 1, 0.5, 10.0), at_mm=(20.0, 0.0, 0.0))
    # Only rows from the second bear: the foremost that does begins 10 mm in front of the shoulder mark.
    assert columns[key(MeasureName.REACH_AT_REST, Side.NEAR)][0] == pytest.approx(10.0 + 10.0)
    assert columns[key(MeasureName.REACH_AT_REST, Side.OFF)][0] == pytest.approx(-5.0 + 10.0)
    stride = np.mean(STRIDE_MM)
    assert columns[key(MeasureName.REACH_FULL_STRIDE, Side.NEAR)][0] == pytest.approx(20.0 + stride)


def test_marks_not_felt_are_said():
    pair = pair_of(cylinder(), Landmarks(), SADDLE, ())
    columns = one(length_columns, pair)
    assert isinstance(columns[key(MeasureName.PAST_LAST_RIB)], NotMeasured)
    assert isinstance(columns[key(MeasureName.REACH_AT_REST, Side.OFF)], NotMeasured)


def saddle_with_points(y_mm, z_mm, lean_rad):
    upward = np.array([0.0, -np.sin(lean_rad), np.cos(lean_rad)])
    end = np.array([-30.0, y_mm, z_mm])
    points = tuple(
        replace(point, end_saddle=end * [1, sign, 1], upward_saddle=upward * [1, sign, 1], length_mm=80.0)
        for point, sign in zip(SADDLE.points, (1.0, -1.0), strict=True)
    )
    return replace(SADDLE, points=points)


@pytest.mark.parametrize("tilt_deg", [-8.0, 0.0, 6.0])
def test_point_angle_against_a_large_cylinder_is_the_angle_to_its_tangent(tilt_deg):
    # For a straight line whose middle lies at the angle φ the distance to a circle has the slope sin(tilt)
    # there, the tilt counted from the tangent.
    phi = 0.7
    middle = (RADIUS_MM + 15.0) * np.array([np.sin(phi), np.cos(phi)]) - np.array([0.0, RADIUS_MM])
    lean = np.pi / 2 - phi - np.deg2rad(tilt_deg)
    end = middle - 30.0 * np.array([-np.sin(lean), np.cos(lean)])
    pair = pair_of(cylinder(), MARKS, saddle_with_points(end[0], end[1], lean), ())
    columns = one(front_columns, pair, state=GIRTHED)
    for side in (Side.NEAR, Side.OFF):
        angle = columns[key(MeasureName.POINT_ANGLE, side, state=GIRTHED)][0]
        # The distance to a circle is a slope plus an even part about the middle; its cubic part leaves under
        # 2 % of the tilt over 60 mm on a circle of 215 mm. Steeper than the back: the end is closest.
        assert np.rad2deg(angle) == pytest.approx(tilt_deg, abs=0.02 * abs(tilt_deg) + 1e-6)


def test_width_is_the_horizontal_room_at_both_points_less_panel_and_pad():
    phi, room = 0.8, 25.0
    y, z = (RADIUS_MM + room) * np.sin(phi), (RADIUS_MM + room) * np.cos(phi) - RADIUS_MM
    saddle = saddle_with_points(y, z, 0.3)
    pad = PadLayer(
        name="felt",
        thickness_mm=(5.0, 5.0, 5.0, 5.0),
        material=Material(name="felt", stiffness_kpa_mm=5.0, source="assumption"),
    )
    columns = one(front_columns, pair_of(cylinder(), MARKS, saddle, (pad,)), state=GIRTHED)
    # 25 mm of room less 12 mm of panel and 5 mm of pad, pressed by 10 mm, along the normal, on each side
    assert columns[key(MeasureName.WIDTH_MISMATCH, state=GIRTHED)][0] == pytest.approx(
        2 * (25.0 - 17.0 + 10.0) / np.sin(phi), rel=1e-6
    )


def test_levelling_turns_back_about_the_centre_of_pressure():
    tilt = 0.05
    state = settled(SADDLE, turned=(0.0, -tilt, 0.0))
    solutions = Solutions.of([state])
    front = solutions.to_back(np.array([[[0.0, 0.0, 0.0], [-200.0, 0.0, 0.0]]]))
    level = levelled(PAIR, solutions, front)[0]
    np.testing.assert_allclose(level[1], front[0, 1], atol=1e-9)  # the centre itself stays
    np.testing.assert_allclose(level[0] - level[1], [200.0, 0.0, 0.0], atol=1e-9)


def test_points_behind_each_shoulder_edge():
    columns = one(front_columns, state=GIRTHED, at_mm=(-5.0, 0.0, 0.0))
    assert columns[key(MeasureName.BEHIND_SHOULDER, Side.NEAR, state=GIRTHED)][0] == pytest.approx(
        35.0 - 10.0
    )
    assert columns[key(MeasureName.BEHIND_SHOULDER, Side.OFF, state=GIRTHED)][0] == pytest.approx(35.0 + 5.0)


def test_bars_answer_with_their_front_ends():
    bars = plain_saddle(Family.BARS)
    pair = pair_of(cylinder(), MARKS, bars, ())
    gap = np.where(bars.bearing.row == 0, 9.0, -2.0)
    columns = one(front_columns, pair, state=GIRTHED, gap_mm=gap, at_mm=(3.0, 0.0, 0.0))
    assert columns[key(MeasureName.TIP_FLARE, Side.NEAR, state=GIRTHED)][0] == pytest.approx(-2.0)
    assert columns[key(MeasureName.BEHIND_SHOULDER, Side.NEAR, state=GIRTHED)][0] == pytest.approx(2.0 - 10.0)
