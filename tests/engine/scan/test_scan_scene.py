"""An invented horse in an invented scene, turned any way and in any unit, is found, level and straight."""

import numpy as np
import pytest
import trimesh

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.shapes import LEFT_SHOULDER, PLAIN
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.back.scan_find import find_back
from saddlebench.engine.scan.planes import find_planes
from saddlebench.engine.scan.sample import thinned
from saddlebench.engine.scan.skin import lay_skin, smoothed


def in_shape(played, points):
    """Return points of the scan's own axes and unit where the shape has them [mm]."""
    return (points / played.units_per_mm - played.translation_mm) @ played.rotation


def off_by(found, played):
    """Return how far up and forward lie off the true ones [deg]."""
    up, forward = played.rotation.T @ found.standing.up, played.rotation.T @ found.standing.forward
    return np.degrees(np.arccos(min(1.0, up[2]))), np.degrees(np.arctan2(forward[1], forward[0]))


@pytest.fixture(scope="module")
def found():
    played = play_scan(*whole_horse(PLAIN), seed=3)
    return played, find_back(played.vertices, played.faces)


def test_up_and_head_are_found_among_ground_bale_person_and_wall(found):
    played, back = found
    tilt, turn = off_by(back, played)
    assert tilt < 0.3
    assert abs(turn) < 1.0
    assert back.head_clear


def test_only_the_horse_is_taken(found):
    played, back = found
    points = in_shape(played, back.points)
    # Its own half breadth is 310 mm; bale and person stand from 650 mm on; the ground lies at −1510 mm.
    assert np.abs(points[:, 1]).max() < 400.0
    assert points[:, 2].max() < 560.0
    assert points[:, 0].min() > -1150.0


def test_the_lowest_point_and_the_height_are_the_shapes(found):
    played, back = found
    lowest = in_shape(played, back.suggestions.marks[ScanMark.LOWEST][None])[0]
    vertices, _ = whole_horse(PLAIN)
    top = vertices[(np.abs(vertices[:, 1]) < 1.0) & (vertices[:, 2] > -200.0)]
    between = top[(top[:, 0] < -120.0) & (top[:, 0] > -500.0)]
    assert lowest[0] == pytest.approx(between[np.argmin(between[:, 2]), 0], abs=25.0)
    height = back.suggestions.withers_height / played.units_per_mm
    assert height == pytest.approx(1500.0, abs=60.0)


def test_a_cloud_of_the_same_scene_gives_the_same(found):
    played, _ = found
    used = played.vertices[np.unique(played.faces)]
    back = find_back(used, np.zeros((0, 3), dtype=np.int32))
    tilt, turn = off_by(back, played)
    assert tilt < 0.3
    assert abs(turn) < 1.0


def test_without_ground_a_stated_up_is_taken():
    played = play_scan(*whole_horse(PLAIN), seed=4, playing=Playing(ground=False, clutter=False))
    back = find_back(played.vertices, played.faces, up=played.rotation[:, 2])
    assert back.standing.ground is None
    assert abs(off_by(back, played)[1]) < 1.0
    assert back.suggestions.withers_height is None


def test_a_box_alone_is_not_taken_for_a_horse():
    box = trimesh.creation.box(extents=(900.0, 450.0, 450.0)).subdivide_to_size(40.0)
    back = find_back(np.asarray(box.vertices), np.asarray(box.faces, dtype=np.int32))
    assert back is None or not back.like_a_horse


def skin_of(back, played):
    mm = 1.0 / played.units_per_mm
    origin = played.carried(np.array([[-180.0, 0.0, -60.0]]))[0] * mm
    return lay_skin(back.points * mm, back.standing.to_trunk, origin, (-750.0, 200.0))


def top_at(vertices, x):
    return vertices[(np.abs(vertices[:, 0] - x) < 15.0), 2].max()


def off_the_shape(shape, points):
    up = points[:, 2] - shape.axis_z_mm
    phi, r = np.arctan2(points[:, 1], up), np.hypot(points[:, 1], up)
    saddle = (points[:, 0] < -80.0) & (points[:, 0] > -460.0) & (np.abs(phi) < np.deg2rad(75.0))
    return (r - shape.radius(-points[:, 0], phi))[saddle]


def test_the_skin_is_the_shape_within_a_third_of_the_noise(found):
    played, back = found
    skin = skin_of(back, played)
    off = off_the_shape(PLAIN, in_shape(played, skin.vertices * played.units_per_mm))
    assert len(off) > 1500
    # Noise of 3 mm at corners some 14 mm apart, averaged over 70 mm; facets of 20 mm lie up to 0.5 mm inside.
    assert np.sqrt(np.mean(off**2)) < 1.5
    assert np.percentile(np.abs(off), 95.0) < 3.0
    assert skin.noise_mm == pytest.approx(2.0, abs=0.8)


def test_holes_stay_holes(found):
    played, back = found
    skin = skin_of(back, played)
    assert 0.7 < skin.measured < 0.92
    whole = play_scan(*whole_horse(PLAIN), seed=3, playing=Playing(holes=0.0))
    assert skin_of(find_back(whole.vertices, whole.faces), whole).measured > 0.97


def test_a_hand_on_one_side_is_left_out_and_told():
    vertices, faces = whole_horse(PLAIN)
    bumped = vertices.copy()
    up = vertices[:, 2] - PLAIN.axis_z_mm
    phi = np.rad2deg(np.arctan2(vertices[:, 1], up))
    hand = (np.abs(vertices[:, 0] + 250.0) < 60.0) & (np.abs(phi - 40.0) < 14.0)
    bumped[hand] += 30.0 * np.array([0.0, np.sin(np.deg2rad(40.0)), np.cos(np.deg2rad(40.0))])
    played = play_scan(bumped, faces, seed=5, playing=Playing(holes=0.0, noise_mm=2.0))
    skin = skin_of(find_back(played.vertices, played.faces), played)
    [patch] = skin.foreign
    # Seen from 220 mm below the topline, where the skin's own axis lies.
    middle = vertices[hand].mean(axis=0)
    expected = np.arctan2(middle[1], middle[2] - (top_at(vertices, -250.0) - 220.0))
    assert np.rad2deg(patch.phi) == pytest.approx(np.rad2deg(expected), abs=5.0)
    assert patch.height_mm == pytest.approx(30.0, abs=8.0)
    off = off_the_shape(PLAIN, in_shape(played, skin.vertices * played.units_per_mm))
    assert off.max() < 12.0


def test_a_bigger_shoulder_is_not_taken_for_a_hand():
    played = play_scan(*whole_horse(LEFT_SHOULDER), seed=6, playing=Playing(holes=0.0))
    assert skin_of(find_back(played.vertices, played.faces), played).foreign == ()


def test_smoothing_gives_a_quadratic_back_exactly_and_never_fills_a_hole():
    u, v = np.meshgrid(np.arange(30.0), np.arange(40.0), indexing="ij")
    radius = 220.0 + 0.3 * u - 0.2 * v + 0.01 * u**2 - 0.02 * u * v + 0.03 * v**2
    there = np.ones(radius.shape, dtype=bool)
    there[10:14, 20:25] = False
    out, kept = smoothed(np.where(there, radius, 0.0), there)
    assert not kept[~there].any()
    np.testing.assert_allclose(out[kept], radius[kept], atol=1e-3)


def test_a_plane_is_found_to_a_hundredth_of_a_degree():
    rng = np.random.default_rng(0)
    flat = np.concatenate([rng.uniform(-2.0, 2.0, (4000, 2)), rng.normal(0.0, 0.003, (4000, 1))], axis=1)
    stray = rng.uniform(-2.0, 2.0, (4000, 3))
    [plane, *_] = find_planes(np.concatenate([flat, stray]), 0.012, rng)
    assert np.degrees(np.arccos(abs(plane.normal[2]))) < 0.05
    assert plane.near[:4000].mean() > 0.98


def test_thinning_covers_everything_with_few_points():
    rng = np.random.default_rng(1)
    points = rng.normal(size=(50_000, 3))
    few = thinned(points, 2_000)
    assert 500 < len(few) <= 2_000
    assert np.abs(few.mean(axis=0)).max() < 0.3
