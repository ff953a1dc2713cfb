"""A scan of an invented back, turned every way, must give that back again."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.shapes import GUTTERED_NATIVE, LEFT_SHOULDER, PLAIN
from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.scan import (
    ScanMark,
    cut_scan,
    default_distances,
    points_from_scan,
    readings_from_scan,
)
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_checks import check_scan
from saddlebench.engine.back.scan_midline import find_midline, turn_about_vertical
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Weight
from saddlebench.engine.frames import rotation_from_vector
from support.meshes import marks_of, scan_of, top, trunk


def off_the_back(shape, points_back):
    """Return radial distances of points from an invented back."""
    up = points_back[:, 2] - shape.axis_z_mm
    phi, r = np.arctan2(points_back[:, 1], up), np.hypot(points_back[:, 1], up)
    # Below 96° the made-up trunk is round, unlike the closed form.
    return (r - shape.radius(-points_back[:, 0], phi))[np.abs(phi) < np.deg2rad(95.0)]


@settings(max_examples=12, deadline=None)
@given(
    turn=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    yaw=st.floats(-18.0, 18.0),
)
def test_any_axes_and_a_heading_some_way_off_give_the_same_back(turn, yaw):
    scan = scan_of(trunk(), rotation_from_vector(np.array(turn)), yaw_deg=yaw)
    aligned = align_scan(scan)
    off = off_the_back(PLAIN, points_from_scan(aligned).points_back)
    # Facets of 20 mm on a 100 mm curve lie up to 20²/(8·100) = 0.5 mm inside; the yaw is found to 0.05°.
    assert np.sqrt(np.mean(off**2)) < 0.5
    assert np.degrees(aligned.midline.yaw_rad) == pytest.approx(-yaw, abs=0.1)


def test_the_winding_of_the_faces_does_not_matter():
    mesh = trunk()
    inside_out = mesh.copy()
    inside_out.invert()
    points = [points_from_scan(align_scan(scan_of(m))).points_back for m in (mesh, inside_out)]
    np.testing.assert_allclose(points[0], points[1], atol=1e-9)


def test_mirroring_the_mesh_swaps_left_and_right():
    mesh = trunk(LEFT_SHOULDER)
    mirrored = mesh.copy()
    mirrored.vertices = mesh.vertices * [1.0, -1.0, 1.0]
    cuts = [
        cut_scan(align_scan(scan_of(m, shape=LEFT_SHOULDER)), np.array([-60.0, 40.0]))
        for m in (mesh, mirrored)
    ]
    for one, other in zip(*cuts, strict=True):
        np.testing.assert_allclose(one.outline.radius_mm, other.outline.radius_mm[::-1], atol=1e-6)


def test_a_bigger_shoulder_stays_bigger_and_is_not_turned_away():
    cut = cut_scan(align_scan(scan_of(trunk(LEFT_SHOULDER), shape=LEFT_SHOULDER)), np.array([-100.0]))[0]
    phi = cut.outline.phi
    truth = LEFT_SHOULDER.radius(-100.0, phi)
    middle = len(phi) // 2
    found = (cut.outline.radius_mm - cut.outline.radius_mm[::-1])[middle + 8 : middle + 18]
    wanted = (truth - truth[::-1])[middle + 8 : middle + 18]
    assert wanted.max() > 4.0
    # The plane of symmetry gives way by a tenth or two of a one-sided bump, no more.
    assert np.abs(found - wanted).max() < 0.3 * wanted.max()


def test_a_guttered_back_keeps_its_midline_in_the_gutter():
    scan = scan_of(trunk(GUTTERED_NATIVE), shape=GUTTERED_NATIVE, yaw_deg=10.0)
    off = off_the_back(GUTTERED_NATIVE, points_from_scan(align_scan(scan)).points_back)
    assert np.sqrt(np.mean(off**2)) < 0.6


def test_landmarks_and_stations_count_from_the_shoulder_mark():
    aligned = align_scan(scan_of(trunk(), rotation_from_vector(np.array([0.3, -1.0, 2.0]))))
    assert aligned.landmarks.last_rib.value_mm == pytest.approx(PLAIN.landmarks.last_rib.value_mm, abs=0.5)
    assert aligned.landmarks.withers.value_mm == pytest.approx(PLAIN.landmarks.withers.value_mm, abs=0.5)
    assert isinstance(aligned.landmarks.girth_groove, NotMeasured)
    points = points_from_scan(aligned, np.array([120.0, -30.0, 300.0]))
    assert [(s.number, s.distance_mm) for s in points.stations] == [(1, -30.0), (2, 120.0), (3, 300.0)]
    assert np.allclose(-points.points_back[:, 0], np.array([-30.0, 120.0, 300.0])[points.station], atol=1e-9)


def test_default_sections_reach_from_before_the_withers_to_behind_the_last_rib():
    marks = PLAIN.landmarks
    distances = default_distances(marks)
    assert distances[0] == marks.withers.value_mm - 60.0
    assert distances[-1] == marks.last_rib.value_mm + 60.0
    assert 25.0 <= np.diff(distances).max() <= 40.0


def test_errors_of_the_registration_are_shared_and_the_facets_add_to_the_noise():
    coarse, fine = (
        points_from_scan(align_scan(scan_of(trunk(ds_mm=ds, dphi_deg=dphi))))
        for ds, dphi in ((45.0, 9.0), (12.0, 3.0))
    )
    assert coarse.noise_mm[0] > fine.noise_mm[0] >= 3.0
    heading = next(error for error in fine.frame_errors if error.source == "scan, heading")
    yaw = heading.moves(fine.points_back, 0.0 * fine.points_back)
    expected = np.stack([-fine.points_back[:, 1], fine.points_back[:, 0], 0 * yaw[:, 0]], axis=1)
    np.testing.assert_allclose(yaw, expected, atol=1e-9)


def test_a_hole_leaves_a_gap_that_is_told():
    mesh = trunk()
    centre = mesh.triangles_center
    hole = (np.abs(-centre[:, 0] - 200.0) < 60.0) & (centre[:, 1] > 60.0) & (centre[:, 1] < 140.0)
    hole &= centre[:, 2] > -200.0
    holed = trimesh.Trimesh(mesh.vertices, mesh.faces[~hole], process=False)
    aligned = align_scan(scan_of(holed))
    cut = cut_scan(aligned, np.array([200.0]))[0]
    inside = (cut.outline.phi > np.deg2rad(32.0)) & (cut.outline.phi < np.deg2rad(44.0))
    assert not cut.outline.found[inside].any()
    assert cut.outline.found[cut.outline.phi > np.deg2rad(60.0)].any()
    assert any(
        "hole at" in problem.what or "has a hole" in problem.what for problem in check_scan(aligned, [cut])
    )


def test_a_bare_horse_is_not_questioned():
    aligned = align_scan(scan_of(trunk()))
    assert check_scan(aligned, cut_scan(aligned)) == ()


@pytest.mark.parametrize(("radius", "height"), [(110.0, 420.0), (70.0, 200.0)])
def test_something_on_the_back_is_questioned(radius, height):
    mesh = trunk(ds_mm=10.0, dphi_deg=2.0)
    # A rider grown together with the horse: the surface is lifted, as a scan would show the two.
    vertices = np.array(mesh.vertices)
    flat = np.hypot(vertices[:, 0] + 250.0, vertices[:, 1])
    lifted = (vertices[:, 2] > -150.0) & (flat < radius)
    vertices[lifted, 2] += height
    aligned = align_scan(scan_of(trimesh.Trimesh(vertices, mesh.faces, process=False)))
    words = " ".join(problem.what for problem in check_scan(aligned, cut_scan(aligned)))
    assert "above the line from withers to last rib" in words
    assert "step" in words or "turns back on itself" in words


def test_suggested_marks_are_told_as_suggestions():
    scan = scan_of(trunk())
    marks = {m: p for m, p in scan.marks.items() if m in (ScanMark.SHOULDER, ScanMark.LAST_RIB)}
    aligned = align_scan(replace(scan, marks=marks, suggest=frozenset({ScanMark.WITHERS, ScanMark.LOWEST})))
    assert aligned.landmarks.withers.value_mm == pytest.approx(PLAIN.landmarks.withers.value_mm, abs=30.0)
    assert aligned.landmarks.lowest.value_mm == pytest.approx(PLAIN.landmarks.lowest.value_mm, abs=20.0)
    assert aligned.landmarks.withers.sd_mm > 20.0
    told = [problem.what for problem in check_scan(aligned, cut_scan(aligned))]
    assert sum("nobody felt for it" in what for what in told) == 2


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({ScanMark.SHOULDER: 500.0, ScanMark.LAST_RIB: 0.0}, "in front of the shoulder mark"),
        ({ScanMark.LAST_RIB: 40.0}, "which no horse has"),
        ({ScanMark.WITHERS: 640.0}, "withers lie behind the last-rib mark"),
    ],
)
def test_marks_in_an_impossible_order_are_refused(marks, words):
    scan = scan_of(trunk())
    moved = {**scan.marks, **{mark: top(PLAIN, s) for mark, s in marks.items()}}
    with pytest.raises(InputProblemsError, match=words):
        align_scan(replace(scan, marks=moved))


@pytest.mark.parametrize(
    ("mark", "point", "words"),
    [
        (ScanMark.LOWEST, top(PLAIN, 640.0), "does not lie between"),
        (ScanMark.WITHERS, top(PLAIN, 90.0), "withers lie 90 mm behind"),
        (ScanMark.WITHERS, top(PLAIN, -70.0) + np.array([0.0, 0.0, 90.0]), "off the mesh"),
        (ScanMark.LOWEST, np.array([-250.0, 130.0, -105.0]), "left of the midline"),
        (ScanMark.SHOULDER_NEAR, top(PLAIN, 180.0), "near shoulder edge is 180 mm"),
        (ScanMark.GIRTH_GROOVE, top(PLAIN, 500.0), "girth groove"),
    ],
)
def test_marks_that_make_no_sense_are_questioned_and_measured_all_the_same(mark, point, words):
    scan = scan_of(trunk())
    aligned = align_scan(replace(scan, marks={**scan.marks, mark: point}))
    assert words in " | ".join(problem.what for problem in check_scan(aligned, cut_scan(aligned)))
    assert len(points_from_scan(aligned).stations) > 10


def test_marks_beside_the_mesh_are_refused_in_words():
    scan = scan_of(trunk())
    away = {mark: point + np.array([0.0, 0.0, 5000.0]) for mark, point in scan.marks.items()}
    with pytest.raises(InputProblemsError, match="marks do not lie on the mesh"):
        align_scan(replace(scan, marks=away))


def test_half_a_back_cannot_show_its_midline():
    mesh = trunk()
    left = mesh.faces[(mesh.triangles_center[:, 1] > 20.0)]
    scan = replace(scan_of(mesh), faces=np.asarray(left, dtype=np.int32))
    with pytest.raises(InputProblemsError, match="too few sections show both sides"):
        align_scan(scan)


def test_sections_asked_for_beyond_the_mesh_are_left_out_and_told():
    aligned = align_scan(scan_of(trunk()))
    distances = np.array([0.0, 200.0, 400.0, 2500.0])
    assert [s.distance_mm for s in readings_from_scan(aligned, distances).stations] == [0.0, 200.0, 400.0]
    told = check_scan(aligned, cut_scan(aligned, distances))
    assert any("2500 mm behind the shoulder mark: left out" in problem.what for problem in told)


def test_the_midline_of_a_symmetric_trunk_is_known_well_and_says_so():
    mesh = trunk()
    vertices = turn_about_vertical(np.asarray(mesh.vertices), np.deg2rad(7.0)) + np.array([0.0, 33.0, 0.0])
    starts = np.array([marks_of()[m] for m in (ScanMark.SHOULDER, ScanMark.LAST_RIB)])
    starts = turn_about_vertical(starts, np.deg2rad(7.0)) + np.array([0.0, 33.0, 0.0])
    found = find_midline(vertices, np.asarray(mesh.faces), (0.0, -540.0), starts)
    assert np.degrees(found.yaw_rad) == pytest.approx(7.0, abs=0.05)
    assert found.offset_mm == pytest.approx(33.0 / 1.0, abs=0.5)
    assert found.mismatch_mm < 0.5
    assert found.yaw_sd_rad < np.deg2rad(0.1)
    assert isinstance(PLAIN.landmarks.withers, Mark)


def lifted_trunk(height_mm: float) -> trimesh.Trimesh:
    mesh = trunk(ds_mm=10.0, dphi_deg=2.0)
    vertices = np.array(mesh.vertices)
    on_top = (vertices[:, 2] > -150.0) & (np.hypot(vertices[:, 0] + 250.0, vertices[:, 1]) < 110.0)
    vertices[on_top, 2] += height_mm
    return trimesh.Trimesh(vertices, mesh.faces, process=False)


@pytest.mark.parametrize(("height", "stops"), [(420.0, True), (120.0, False)])
def test_a_rider_stops_the_work_and_a_hump_does_not(height, stops):
    aligned = align_scan(scan_of(lifted_trunk(height)))
    told = check_scan(aligned, cut_scan(aligned))
    assert any(problem.weight is Weight.ERROR for problem in told) is stops
    assert told
