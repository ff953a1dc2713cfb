"""Falling ground: level is the scan's own axis where that may hold gravity, else the ground, or as stated."""

import numpy as np
import pytest

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.shapes import PLAIN
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.back.scan_find import find_back
from saddlebench.engine.frames import rotation_from_vector
from saddlebench.engine.scan.level import LevelBy, axis_near, gravity_axis

FALLS = [(0.0, 0.0), (1.0, 0.0), (-3.0, 0.0), (6.0, 0.0), (0.0, 1.0), (0.0, 3.0), (0.0, -6.0)]


def found(falls_deg, seed=9, *, kept=True, **stated):
    playing = Playing(falls_deg=falls_deg, gravity_kept=kept, clutter=False, holes=0.05, edge_mm=30.0)
    played = play_scan(*whole_horse(PLAIN), seed=seed, playing=playing)
    return played, find_back(played.vertices, played.faces, **stated)


def tilt_deg(played, back):
    return np.degrees(np.arccos(min(1.0, float(played.rotation[:, 2] @ back.standing.up))))


def falls_of(back):
    x, y, z = back.standing.to_trunk @ back.standing.ground.up
    return np.degrees(np.arctan2(y, z)), np.degrees(np.arctan2(-x, z))


@pytest.mark.parametrize("falls", FALLS)
def test_level_is_gravitys_where_a_person_says_that_the_scan_holds_it(falls):
    played, back = found(falls, level_by=LevelBy.AXIS)
    assert back.standing.level_by is LevelBy.AXIS
    assert tilt_deg(played, back) < 0.05
    assert falls_of(back) == pytest.approx(falls, abs=0.3)
    # By the shape of its trunk the horse is as it was, however its legs stand.
    assert back.like_a_horse
    heading = played.rotation.T @ back.standing.forward
    assert abs(np.degrees(np.arctan2(heading[1], heading[0]))) < 1.5


@pytest.mark.parametrize("kept", [True, False])
@pytest.mark.parametrize("falls", [(3.0, 0.0), (0.0, 6.0)])
def test_unasked_level_is_the_grounds_whether_an_axis_is_near_or_not(falls, kept):
    played, back = found(falls, kept=kept)
    assert back.standing.level_by is LevelBy.GROUND
    assert tilt_deg(played, back) == pytest.approx(max(falls), abs=0.1)
    assert (axis_near(back.standing.up) is not None) is kept


def test_a_person_may_have_level_taken_from_the_ground_or_from_an_axis():
    played, back = found((3.0, 0.0), level_by=LevelBy.LEVEL_GROUND)
    assert back.standing.level_by is LevelBy.LEVEL_GROUND
    assert tilt_deg(played, back) == pytest.approx(3.0, abs=0.1)
    # Another axis than y or z is not thought of by itself.
    playing = Playing(falls_deg=(3.0, 0.0), turned=False, clutter=False, holes=0.05, edge_mm=30.0)
    played = play_scan(*whole_horse(PLAIN), seed=9, playing=playing)
    about = rotation_from_vector(np.array([0.0, np.pi / 2.0, 0.0]))
    vertices = played.vertices @ about.T
    assert find_back(vertices, played.faces).standing.level_by is LevelBy.GROUND
    for stated in ({"level_by": LevelBy.AXIS}, {"up": np.array([1.0, 0.0, 0.0])}):
        back = find_back(vertices, played.faces, **stated)
        assert back.standing.level_by is LevelBy.AXIS
        assert back.standing.up == pytest.approx([1.0, 0.0, 0.0])


def test_the_withers_height_is_measured_upright_on_a_slope_as_with_a_stick():
    played, back = found((0.0, 6.0), level_by=LevelBy.AXIS)
    place = back.suggestions.marks[ScanMark.WITHERS] / played.units_per_mm - played.translation_mm
    x, _, z = place @ played.rotation
    ground = float(whole_horse(PLAIN)[0][:, 2].min()) + np.tan(np.deg2rad(6.0)) * x
    assert back.suggestions.withers_height / played.units_per_mm == pytest.approx(z - ground, abs=6.0)


@pytest.mark.parametrize("degrees", [0.3, 2.0, 6.0])
@pytest.mark.parametrize("axis", [(0.0, 0.0, 1.0), (0.0, 1.0, 0.0)], ids=["z", "y"])
def test_an_axis_near_the_normal_is_named_and_taken_where_both_agree_or_a_person_says_so(degrees, axis):
    up = np.array(axis)
    normal = rotation_from_vector(np.array([np.deg2rad(degrees), 0.0, 0.0])) @ up
    assert axis_near(normal) == pytest.approx(up)
    assert (gravity_axis(normal) is not None) is (degrees < 0.5)
    assert (gravity_axis(normal, on_ground=False) is not None) is (degrees < 4.5)
    assert gravity_axis(normal, wanted=LevelBy.AXIS) == pytest.approx(up)
    assert gravity_axis(normal, wanted=LevelBy.LEVEL_GROUND) is None


def test_an_axis_far_off_or_seldom_used_is_not():
    for normal in ([0.0, 0.2, 1.0], [1.0, 0.02, 0.0], [0.0, -1.0, 0.02]):
        assert axis_near(np.array(normal) / np.linalg.norm(normal)) is None
    unit = np.array([0.0, 0.15, 1.0]) / np.hypot(1.0, 0.15)
    assert axis_near(unit) is None
    assert gravity_axis(unit, stated=np.array([0.0, 0.0, 2.0])) == pytest.approx([0.0, 0.0, 1.0])
    # Read off by eye, a direction is no axis.
    assert gravity_axis(unit, stated=np.array([0.0, 0.1, 2.0])) is None
