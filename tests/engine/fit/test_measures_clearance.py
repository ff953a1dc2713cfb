"""Clearances above a cylinder, whose distances are radii."""

from dataclasses import replace

import numpy as np
import pytest
from simple_pairs import INNER_MM, MARKS, RADIUS_MM, cylinder, plain_saddle, settled

from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.batch import Solutions, pair_of
from saddlebench.engine.fit.measures.clearance import clearance_columns, spine_clearance
from saddlebench.engine.fit.measures.feet import feet_of
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Side
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import PadCut, PadLayer

UP = State.RIDER_UP
SADDLE = plain_saddle()
FELT = Material(name="felt", stiffness_kpa_mm=5.0, source="assumption")


def radial(y, z):
    return np.hypot(y, z + RADIUS_MM) - RADIUS_MM


def columns_at(height_mm, pads=(), surface=None, marks=MARKS, sideways_mm=0.0):
    pair = pair_of(surface or cylinder(), marks, SADDLE, pads)
    state = settled(SADDLE, at_mm=(0.0, sideways_mm, height_mm))
    return clearance_columns(pair, Solutions.of([state]))


def read(columns, name, side=Side.BOTH):
    return float(columns[MeasureKey(name=name, state=UP, side=side)][0])


def test_top_of_the_withers():
    # The arch's top is level at 50 mm above the panels; straight above the axis it is closest.
    assert read(columns_at(5.0), MeasureName.WITHERS_TOP) == pytest.approx(55.0, abs=1e-6)


def test_sides_of_the_withers_take_the_closest_of_the_upper_sixty_millimetres():
    # Both ends of the upper 60 mm: the corner's lower end, 10 mm below the panels, at 40 mm from the midline.
    expected = min(radial(40.0, 5.0 - 10.0), radial(16.0, 55.0))
    for side in (Side.NEAR, Side.OFF):
        assert read(columns_at(5.0), MeasureName.WITHERS_SIDE, side) == pytest.approx(expected, abs=1e-6)


def test_height_over_the_spine_is_to_the_closest_of_the_strip():
    assert read(columns_at(5.0), MeasureName.SPINE_HEIGHT) == pytest.approx(50.0, abs=1e-6)


def test_pad_pulled_down_on_the_spine_takes_its_thickness_and_a_free_one_nothing():
    pad = PadLayer(name="felt", thickness_mm=(8.0, 8.0, 8.0, 8.0), material=FELT)
    free = columns_at(5.0, (pad,))
    down = columns_at(5.0, (replace(pad, cut=PadCut.PULLED_DOWN),))
    assert read(free, MeasureName.WITHERS_TOP) == pytest.approx(55.0, abs=1e-6)
    assert read(down, MeasureName.WITHERS_TOP) == pytest.approx(47.0, abs=1e-6)
    assert read(down, MeasureName.SPINE_HEIGHT) == pytest.approx(42.0, abs=1e-6)


def test_channel_edges_beyond_the_spine_strip():
    shifted = columns_at(5.0, sideways_mm=6.0)
    half_strip = 22.0
    assert read(shifted, MeasureName.SPINE_MARGIN, Side.NEAR) == pytest.approx(INNER_MM + 6.0 - half_strip)
    assert read(shifted, MeasureName.SPINE_MARGIN, Side.OFF) == pytest.approx(INNER_MM - 6.0 - half_strip)


def test_no_strip_felt_is_said():
    columns = columns_at(5.0, marks=Landmarks())
    assert isinstance(
        columns[MeasureKey(name=MeasureName.SPINE_MARGIN, state=UP, side=Side.NEAR)], NotMeasured
    )


def test_unmeasured_back_under_the_arch_is_said_with_its_place():
    columns = columns_at(5.0, surface=cylinder(measured_to_mm=-100.0))
    answer = columns[MeasureKey(name=MeasureName.WITHERS_TOP, state=UP)]
    assert isinstance(answer, NotMeasured)
    assert "shoulder mark" in answer.reason


def test_profile_along_the_channel():
    pair = pair_of(cylinder(measured_to_mm=200.0), MARKS, SADDLE, ())
    profile = spine_clearance(pair, Solutions.of([settled(SADDLE, at_mm=(0.0, 0.0, 5.0))]))
    np.testing.assert_allclose(profile.s_mm, np.linspace(10.0, 390.0, 39))
    assert profile.clearance_mm[0] == pytest.approx(50.0, abs=1e-6)
    assert isinstance(profile.clearance_mm[-1], NotMeasured)


def test_feet_are_where_the_segment_meets_the_back_at_a_right_angle():
    """On an uneven back: displace points of the surface along its normal and find the way home."""
    surface = PLAIN.surface()
    pair = pair_of(surface, Landmarks(), SADDLE, ())
    s, phi = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 450, 10), np.linspace(-0.9, 0.9, 7)))
    radius, slope_s, slope_phi = surface.spline.radius(s, phi).T[:3]
    turn = slope_phi / radius
    normal = np.stack([slope_s, np.sin(phi) - turn * np.cos(phi), np.cos(phi) + turn * np.sin(phi)], axis=1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    on_back = surface.grid.cartesian(s, phi, radius)
    feet = feet_of(pair, (on_back + 8.0 * normal)[None])
    # 8 mm is within every concave radius of this back, so the way home is the one back along the normal.
    np.testing.assert_allclose(feet.distance_mm[0], 8.0, atol=1e-6)
    np.testing.assert_allclose(feet.s_mm[0], s, atol=1e-3)
