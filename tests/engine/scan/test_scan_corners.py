"""Corners of a coarse mesh, laid among each other: noise goes, shape and strays stay."""

import numpy as np
import pytest

from saddlebench.engine.scan.corners import lay_corners

STEP_MM = 50.0
NOISE_MM = 3.0
AXIS = (np.array([-800.0, 200.0]), np.array([-220.0, -220.0]))
ENDS = (-700.0, 100.0)


def trunk(noise_mm, seed=1):
    """Return a trunk's corners some 50 mm apart, its faces, and which way each corner's radius points."""
    rng = np.random.default_rng(seed)
    x = np.arange(-750.0, 151.0, STEP_MM)
    phi = np.deg2rad(np.arange(-120.0, 121.0, 11.0))
    along, around = np.meshgrid(x, phi, indexing="ij")
    radius = 250.0 + 25.0 * np.cos(along / 160.0) * np.cos(2.0 * around) + 0.04 * along * np.sin(around) ** 2
    outward = np.stack([np.zeros_like(around), np.sin(around), np.cos(around)], axis=-1)
    points = outward * radius[..., None] + np.stack(
        [along, np.zeros_like(along), np.full_like(along, -220.0)], axis=-1
    )
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(len(phi) - 1), indexing="ij")
    a = (i * len(phi) + j).ravel()
    b, c, d = a + 1, a + len(phi), a + len(phi) + 1
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)]).astype(np.int32)
    clean = points.reshape(-1, 3)
    return clean, clean + rng.normal(0.0, noise_mm, clean.shape), faces, outward.reshape(-1, 3)


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
