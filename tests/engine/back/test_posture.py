"""How a horse stood: a known twist or bend of an invented back is found; one that stands square is let be."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import GUTTERED_NATIVE, LEFT_SHOULDER, PLAIN
from saddlebench.engine.back.posture import Posture, posture_of, standing_words
from saddlebench.engine.back.scan import cut_scan, record_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_checks import check_scan
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import rotation_from_vector
from saddlebench.engine.scan.level import LevelBy
from support.meshes import scan_of, trunk
from support.standing import stood_otherwise


def posture(shape=PLAIN, *, twist_deg=0.0, bend_mm=0.0):
    aligned = align_scan(scan_of(trunk(shape), shape=shape))
    found = posture_of(align_scan(stood_otherwise(aligned, twist_deg=twist_deg, bend_mm=bend_mm)))
    assert isinstance(found, Posture)
    return found


@pytest.mark.parametrize("shape", [PLAIN, GUTTERED_NATIVE, LEFT_SHOULDER], ids=lambda shape: shape.name)
def test_a_back_that_stands_square_is_let_be(shape):
    found = posture(shape)
    assert not found.is_twisted
    assert not found.is_bent
    assert list(standing_words(found)) == []


@pytest.mark.parametrize("twist", [-5.0, 4.0])
def test_a_twist_is_found_with_its_side_and_size(twist):
    found = posture(twist_deg=twist)
    assert found.is_twisted
    assert found.twist_deg.value == pytest.approx(twist, abs=found.twist_deg.half_width)
    assert found.twist_deg.half_width < 2.0
    ((what, cure), *_) = standing_words(found)
    assert ("left (near) hind" if twist > 0.0 else "right (off) hind") in what
    assert "± " in what
    assert "repeat the scan" in cure


@pytest.mark.parametrize("bend", [-25.0, 20.0])
def test_a_bend_is_found_with_its_side_and_size(bend):
    found = posture(bend_mm=bend)
    assert found.is_bent
    assert not found.is_twisted
    assert found.bend_mm.value == pytest.approx(bend, abs=found.bend_mm.half_width)
    ((what, _), *_) = standing_words(found)
    assert ("to the left (near)" if bend > 0.0 else "to the right (off)") in what


def test_a_mirrored_horse_rests_the_other_leg():
    one, other = posture(twist_deg=4.0), posture(twist_deg=-4.0)
    assert one.twist_deg.value == pytest.approx(-other.twist_deg.value, abs=0.1)
    assert one.twist_deg.half_width == pytest.approx(other.twist_deg.half_width, rel=0.05)


def test_what_it_looks_like_is_said_with_the_scan_and_never_corrected():
    aligned = align_scan(scan_of(trunk()))
    twisted = align_scan(stood_otherwise(aligned, twist_deg=5.0))
    told = [str(one) for one in check_scan(twisted, cut_scan(twisted))]
    assert any("weight off the left (near) hind" in one for one in told)
    # It is measured as it stood: turned and shifted as a whole, and nothing else.
    as_it_stood = twisted.scan_to_back.points(twisted.scan.vertices_instrument)
    np.testing.assert_allclose(as_it_stood, twisted.vertices_back, atol=1e-6)


def test_one_side_alone_says_nothing():
    aligned = align_scan(scan_of(trunk()))
    near = aligned.vertices_back[:, 1] > -20.0
    half = replace(aligned, faces=aligned.faces[near[aligned.faces].all(axis=1)])
    found = posture_of(half)
    assert isinstance(found, NotMeasured)
    assert "both sides" in found.reason


@pytest.mark.parametrize("lean", [-3.0, 6.0])
def test_a_lean_is_told_with_its_side_and_is_no_turned_neck(lean):
    scan = scan_of(trunk(PLAIN), shape=PLAIN)
    about_heading = scan.forward / np.linalg.norm(scan.forward) * np.deg2rad(lean)
    found = posture_of(align_scan(replace(scan, up=rotation_from_vector(about_heading) @ scan.up)))
    assert found.is_leaning
    assert found.lean_deg.value == pytest.approx(lean, abs=0.3)
    assert not found.is_bent
    assert not found.is_twisted
    [(what, cure)] = standing_words(found)
    assert ("left (near)" if lean > 0.0 else "right (off)") in what
    assert "own axis" in cure


@pytest.mark.parametrize(
    ("level_by", "sd_deg"),
    [
        (None, 0.0),
        (LevelBy.AXIS, 0.0),
        (LevelBy.LEVEL_GROUND, 0.0),
        (LevelBy.GROUND, 1.0),
        (LevelBy.BODY, 1.5),
    ],
    ids=str,
)
def test_ground_that_nobody_called_level_leaves_the_record_in_doubt_of_it(level_by, sd_deg):
    scan = replace(scan_of(trunk(PLAIN), shape=PLAIN), level_by=level_by)
    record = record_from_scan(align_scan(scan), label="mare", measured_on=dt.date(2026, 3, 1))
    assert record.stance.sd_deg == sd_deg
