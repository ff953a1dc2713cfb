"""Meshes that nobody here made, played as a phone's scan: turned, noised, holed, on ground, among clutter."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.varied import BUILDS, NO_GROUND, SCENES
from saddlebench.engine.back.scan import ScanMark, cut_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_find import find_back
from saddlebench.engine.units import Length
from saddlebench.exchange.scans import look_at_scan, marks_text, read_scan

pytestmark = pytest.mark.real_data
POSES_APART_MM = 70.0
"""Along their own axes, where cut sections of both agree best (1.6 mm rms; 10.5 mm at no shift)."""
CLEAN = Playing(noise_mm=0.0, holes=0.0, clutter=False, turned=False, scaled=False)


def shape_of(real_backs, name):
    aligned = align_scan(read_scan(*real_backs[name]))
    return aligned.vertices_back, np.asarray(aligned.scan.faces)


# Both are held out: the proportions are those of two other meshes.
@pytest.mark.parametrize("name", ["horse-a", "horse-b-pose14"])
def test_a_played_scan_gives_the_back_of_the_clean_mesh(real_backs, tmp_path, name):
    shape, faces = shape_of(real_backs, name)
    played = play_scan(shape, faces, seed=4)
    path, marks = tmp_path / "scan.ply", tmp_path / "marks.toml"
    metres = played.vertices / played.units_per_mm / 1000.0
    trimesh.Trimesh(metres, played.faces, process=False).export(path)
    looked = look_at_scan(path)
    assert looked.like_a_horse
    assert looked.head_clear
    assert looked.likely == (Length.M,)
    marks.write_text(marks_text(looked, unit=Length.M), encoding="utf-8")
    aligned = align_scan(read_scan(path, marks))

    # The clean mesh, with the same marks, aligned by what was there before.
    place = {
        mark: played.rotation.T @ (point * 1000.0 - played.translation_mm)
        for mark, point in looked.marks.items()
    }
    plain = replace(
        aligned.scan,
        vertices_instrument=shape,
        faces=faces.astype(np.int32),
        up=np.array([0.0, 0.0, 1.0]),
        forward=np.array([1.0, 0.0, 0.0]),
        marks=place,
    )
    turn = align_scan(plain).scan_to_back.rotation @ (aligned.scan_to_back.rotation @ played.rotation).T
    assert np.degrees(np.arccos(min(1.0, turn[2, 2]))) < 0.1
    assert abs(np.degrees(np.arctan2(turn[0, 1], turn[0, 0]))) < 0.3

    true = aligned.scan_to_back.points(shape @ played.rotation.T + played.translation_mm)
    unspoilt = replace(aligned, vertices_back=true, faces=faces.astype(np.int32))
    off = []
    for ours, its in zip(cut_scan(aligned), cut_scan(unspoilt), strict=True):
        both = ours.outline.found & its.outline.found
        both &= ours.outline.radius_mm * np.cos(ours.outline.phi) > -80.0
        off.append((ours.outline.radius_mm - its.outline.radius_mm)[both])
    off = np.concatenate(off)
    assert len(off) > 700
    assert np.sqrt(np.mean(off**2)) < 1.5
    assert np.percentile(np.abs(off), 95.0) < 3.0

    clean = play_scan(shape, faces, 0, CLEAN)
    still = find_back(clean.vertices, clean.faces).suggestions.marks
    for mark in (ScanMark.LOWEST, ScanMark.LAST_RIB, ScanMark.WITHERS, ScanMark.SHOULDER):
        assert place[mark][0] == pytest.approx(still[mark][0], abs=15.0), mark


@pytest.mark.parametrize("name", ["not-a-horse-cow", "not-a-horse-camel"])
def test_another_animal_is_found_and_questioned(real_backs, name):
    shape, faces = shape_of(real_backs, name)
    played = play_scan(shape, faces, seed=4)
    back = find_back(played.vertices, played.faces)
    assert back is not None
    assert not back.like_a_horse
    assert (played.rotation.T @ back.standing.up)[2] > np.cos(np.deg2rad(1.5))


def found_in(played):
    """Return the back found in a played scan, and how far off its up and heading are [deg]."""
    back = find_back(played.vertices, played.faces)
    up, ahead = played.rotation.T @ back.standing.up, played.rotation.T @ back.standing.forward
    return back, np.degrees(np.arccos(min(1.0, up[2]))), np.degrees(np.arctan2(ahead[1], ahead[0]))


def played_as(real_backs, name, build, scene):
    shape, faces = shape_of(real_backs, name)
    there = scene not in NO_GROUND
    playing = Playing(edge_mm=25.0, ground=there, clutter=there)
    return play_scan(*SCENES[scene](BUILDS[build](shape), faces), seed=31, playing=playing)


# None of these was looked at while the proportions were chosen.
@pytest.mark.parametrize(
    ("name", "build", "scene"),
    [
        ("horse-c-reference", "draught", "whole"),
        ("horse-c-reference", "neck up", "no head"),
        ("horse-b-pose14", "short", "person touching"),
    ],
)
def test_other_builds_and_scenes_are_found_level_and_the_right_way_round(real_backs, name, build, scene):
    back, tilt, turn = found_in(played_as(real_backs, name, build, scene))
    assert back.like_a_horse
    assert back.head_clear
    assert tilt < 1.5
    assert abs(turn) < 1.5


def test_the_same_back_keeps_its_marks_when_the_neck_is_raised(real_backs):
    """Two poses of one horse whose backs are the same within 2 mm, 70 mm apart along their own axes."""
    places = []
    for name in ("horse-b-pose0", "horse-b-pose14"):
        shape, faces = shape_of(real_backs, name)
        clean = play_scan(shape, faces, 0, CLEAN)
        places.append(find_back(clean.vertices, clean.faces).suggestions.marks[ScanMark.SHOULDER][0])
    assert places[1] - places[0] == pytest.approx(POSES_APART_MM, abs=15.0)


# Seen from one side; a walking horse cut off above the ground; a foal among things larger than itself.
@pytest.mark.parametrize(
    ("name", "build", "scene"),
    [
        ("horse-c-reference", "as it is", "one side only"),
        ("horse-b-pose6", "long", "no legs below the knee"),
        ("horse-b-pose6", "foal", "whole"),
    ],
)
def test_what_hides_the_horse_is_seen_through_or_said(real_backs, name, build, scene):
    back, tilt, turn = found_in(played_as(real_backs, name, build, scene))
    right = tilt < 1.5 and abs(turn) < 1.5
    assert right or not (back.like_a_horse and back.head_clear)
