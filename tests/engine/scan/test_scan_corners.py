"""Corners of a coarse mesh, laid among each other: noise goes, shape and strays stay."""

import numpy as np
import pytest

from saddlebench.engine.scan.corners import lay_corners
from support.coarse_trunk import AXIS, ENDS, NOISE_MM, trunk


def inside(points):
    return (points[:, 0] > ENDS[0] + 60.0) & (points[:, 0] < ENDS[1] - 60.0) & (points[:, 2] > -220.0)


def test_the_noise_of_coarse_corners_is_told_and_more_than_halved():
    clean, noisy, faces, outward = trunk(NOISE_MM)
    laid = lay_corners(noisy, faces, AXIS, ENDS)
    before = ((noisy - clean) * outward).sum(axis=1)[inside(clean)]
    after = ((laid.vertices - clean) * outward).sum(axis=1)[inside(clean)]
    assert laid.noise_mm == pytest.approx(NOISE_MM, rel=0.2)
    assert np.sqrt(np.mean(after**2)) < 0.5 * np.sqrt(np.mean(before**2))
    # What is said to be left is what is left.
    assert laid.left_mm == pytest.approx(np.sqrt(np.mean(after**2)), rel=0.4)


def test_a_clean_smooth_mesh_has_no_noise_and_is_hardly_moved():
    clean, _, faces, _ = trunk(0.0)
    laid = lay_corners(clean, faces, AXIS, ENDS)
    assert laid.noise_mm < 1.5
    assert np.abs(laid.vertices - clean).max() < 1.0


def test_a_corner_of_something_else_stays_where_it_is_and_pulls_nobody():
    clean, noisy, faces, outward = trunk(NOISE_MM)
    stray = int(np.argmin(np.linalg.norm(clean - [-300.0, 0.0, 30.0], axis=1)))
    spoilt = noisy.copy()
    spoilt[stray] += 60.0 * outward[stray]
    laid = lay_corners(spoilt, faces, AXIS, ENDS)
    np.testing.assert_array_equal(laid.vertices[stray], spoilt[stray])
    near = inside(clean) & (np.linalg.norm(clean - clean[stray], axis=1) < 80.0)
    near[stray] = False
    assert np.abs(((laid.vertices - clean) * outward).sum(axis=1)[near]).max() < 6.0


def test_too_few_corners_are_left_alone():
    _, noisy, faces, _ = trunk(NOISE_MM)
    assert lay_corners(noisy, faces[:40], AXIS, ENDS) is None
