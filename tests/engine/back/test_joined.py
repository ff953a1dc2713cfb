"""What the joining of a scan's pieces may be off by, at points of the back, in any frame."""

import numpy as np
import pytest

from saddlebench.engine.back.joined import JoinedPieces, modes_of
from saddlebench.engine.frames import Frame, Pose, rotation_from_vector

# The first piece saw the right side, the second the left; on top both did, 4 mm apart.
PLACES = ((0.0, -150.0, -100.0), (0.0, 0.0, 0.0), (0.0, 150.0, -100.0))
HALVES = JoinedPieces(
    names=("right.ply", "left.ply"),
    modes=((0.0, 0.0, 2.0, 0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 0.01, 0.0, 0.0)),
    places_mm=PLACES,
    shares=((1.0, 0.0), (0.5, 0.5), (0.0, 1.0)),
    apart_mm=((0.0, 0.0, 0.0), (0.0, 0.0, 4.0), (0.0, 0.0, 0.0)),
)


def test_a_point_moves_with_the_piece_that_saw_it():
    (_, shift), (_, turn), (words, apart) = HALVES.errors(np.array(PLACES))
    np.testing.assert_allclose(shift[:, 2], [0.0, 1.0, 2.0], atol=1e-6)
    # A turn about x lifts the left side: [x̂]× p = (0, −z, y).
    np.testing.assert_allclose(turn[2], [0.0, 1.0, 1.5], atol=1e-6)
    np.testing.assert_allclose(turn[0], 0.0, atol=1e-6)
    # Where they lie 4 mm apart, either may be right: 2 mm to either side of the middle.
    assert "apart" in words
    np.testing.assert_allclose(apart[:, 2], [0.0, 2.0, 0.0], atol=1e-6)


def test_another_frame_changes_nothing_but_the_axes():
    pose = Pose(
        source=Frame.INSTRUMENT,
        target=Frame.BACK,
        rotation=rotation_from_vector(np.array([0.3, -1.2, 0.7])),
        translation_mm=np.array([500.0, -800.0, 1200.0]),
    )
    points = np.random.default_rng(2).normal(0.0, 120.0, (20, 3))
    here = [moves for _, moves in HALVES.errors(points)]
    there = [moves for _, moves in HALVES.placed(pose).errors(pose.points(points))]
    for one, other in zip(here, there, strict=True):
        np.testing.assert_allclose(pose.directions(one), other, atol=0.02)


def test_another_size_scales_what_is_a_length():
    points = np.random.default_rng(3).normal(0.0, 120.0, (20, 3))
    for (_, one), (_, other) in zip(
        HALVES.errors(points), HALVES.sized(2.0).errors(2.0 * points), strict=True
    ):
        # The nearest places are weighed by distances of this size, which a large scale dulls.
        assert np.abs(other).max() == pytest.approx(2.0 * np.abs(one).max(), rel=0.6)
    exact = HALVES.sized(2.0).errors(2.0 * np.array(PLACES))
    np.testing.assert_allclose(exact[0][1], 2.0 * HALVES.errors(np.array(PLACES))[0][1], atol=1e-6)


def test_modes_are_the_covariance_again():
    root = np.random.default_rng(4).normal(size=(6, 6)) * np.array([1.0, 1.0, 1.0, 2e-3, 2e-3, 2e-3])
    covariance = root.T @ root
    modes = np.array(modes_of(covariance))
    np.testing.assert_allclose(modes.T @ modes, covariance, rtol=1e-3, atol=1e-6)


def test_places_elsewhere_are_left_out():
    near = HALVES.within(np.array([-10.0, -10.0, -10.0]), np.array([10.0, 200.0, 10.0]))
    assert near.places_mm == ((0.0, 0.0, 0.0),)


def test_tables_that_do_not_belong_together_are_refused():
    with pytest.raises(ValueError, match="do not belong together"):
        JoinedPieces(
            names=("a", "b"), modes=(), places_mm=PLACES, shares=HALVES.shares[:2], apart_mm=HALVES.apart_mm
        )
    with pytest.raises(ValueError, match="do not belong together"):
        JoinedPieces(
            names=("a", "b"),
            modes=((np.nan,) * 6,),
            places_mm=PLACES,
            shares=HALVES.shares,
            apart_mm=HALVES.apart_mm,
        )
