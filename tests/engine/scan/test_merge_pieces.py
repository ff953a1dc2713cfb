"""Partial scans of one horse: laid where they belong, with an honest error, or refused in words."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.scanned import Cut, Playing, play_pieces
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.scan.merge import merge
from support.pieces import QUICK, as_piece, bent, invented_pieces, true_move

VERTICES, FACES = whole_horse()
TRUNK = VERTICES[(np.abs(VERTICES[:, 0]) < 500.0) & (VERTICES[:, 2] > -450.0)]


def sentence(pieces):
    with pytest.raises(InputProblemsError) as caught:
        merge(pieces)
    return " | ".join(str(problem) for problem in caught.value.problems)


def off_mm(merged, played, k):
    """Return how far the trunk lies from where it belongs, by the move found for a piece (n,) [mm]."""
    points = played[k].carried(TRUNK)
    true = true_move(played[0], played[k])
    return np.linalg.norm(merged.moves[k].points(points) - true.points(points), axis=1)


@pytest.mark.parametrize(("cut", "seed"), [(Cut.SIDES, 1), (Cut.ENDS, 2)])
def test_pieces_in_any_axes_are_laid_where_they_belong(cut, seed):
    played = invented_pieces(seed, cut=cut)
    told = []
    merged = merge(
        [as_piece(one, f"{k}.ply", n=100_000) for k, one in enumerate(played)],
        lambda *told_now: told.append(told_now),
    )
    off = off_mm(merged, played, 1)
    assert off.mean() < 1.5
    assert off.max() < 3.0
    assert told == [(2, 2, "laying 1.ply on the others")]
    assert merged.moves[0].shift.tolist() == [0.0, 0.0, 0.0]
    assert 0.2 < merged.overlap[1].share < 0.7
    # Noise of 3 mm a corner is no disagreement.
    assert merged.overlap[1].apart_mm < 2.0
    assert 1.0 < merged.apart.noise_mm < 4.0
    assert merged.overlap[0].unsure_mm == 0.0
    assert 0.1 < merged.overlap[1].unsure_mm < 2.0


def test_the_stated_error_grows_as_the_overlap_shrinks():
    unsure = []
    for overlap in (0.4, 0.2):
        played = invented_pieces(3, overlap=overlap)
        merged = merge([as_piece(one, f"{k}.ply") for k, one in enumerate(played)])
        unsure.append(merged.overlap[1].unsure_mm)
        values = np.linalg.eigvalsh(merged.covariance)
        assert values.min() > 0.0
    assert unsure[1] > 1.2 * unsure[0]


def test_too_little_in_common_is_refused():
    told = sentence([as_piece(one, f"{k}.ply") for k, one in enumerate(invented_pieces(4, overlap=0.02))])
    assert "1.ply" in told
    assert "a third of each piece on the next one" in told


def test_a_horse_that_moved_is_refused_with_how_much_and_where():
    played = invented_pieces(5, cut=Cut.ENDS, overlap=0.5)
    moved = play_pieces(bent(VERTICES, 22.0), FACES, 5, QUICK, cut=Cut.ENDS, overlap=0.5)
    told = sentence([as_piece(played[0], "first.ply"), as_piece(moved[1], "second.ply")])
    assert "mm apart where both show the horse" in told
    assert "no turn or shift explains that" in told
    assert any(place in told for place in ("third", "mid-back"))


def test_common_points_lay_pieces_that_nothing_else_could():
    # Without ground, and the second piece's axes turned any way: what is up in it, nobody said.
    played = invented_pieces(6, playing=replace(QUICK, ground=False), overlap=0.5)
    common = np.array([[100.0, 0.0, 60.0], [-450.0, 0.0, 40.0], [-100.0, 60.0, 0.0], [-150.0, -60.0, -20.0]])
    rough = np.random.default_rng(1).normal(0.0, 8.0, common.shape)
    pieces = [
        replace(as_piece(one, f"{k}.ply"), common=one.carried(common + k * rough), up=one.rotation[:, 2])
        for k, one in enumerate(played)
    ]
    merged = merge(pieces)
    assert off_mm(merged, played, 1).max() < 4.0
    swapped = replace(pieces[1], common=pieces[1].common[[1, 0, 2, 3]])
    assert "from its partner" in sentence([pieces[0], swapped])
    in_line = [replace(one, common=np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])) for one in pieces]
    assert "in one line" in sentence(in_line)


def test_one_piece_or_seven_are_no_merge():
    one = as_piece(invented_pieces(7)[0], "one.ply", n=1000)
    assert "two to 6" in sentence([one])
    assert "two to 6" in sentence([one] * 7)
    nearly_empty = replace(one, name="empty.ply", points=one.points[:50])
    assert "empty.ply: the piece has only 50 points" in sentence([one, nearly_empty])


def test_the_same_pieces_give_the_same_answer():
    pieces = [
        as_piece(one, f"{k}.ply", n=20_000)
        for k, one in enumerate(
            invented_pieces(8, playing=Playing(clutter=False, scaled=False, edge_mm=30.0))
        )
    ]
    one, again = merge(pieces), merge(pieces)
    np.testing.assert_array_equal(one.moves[1].shift, again.moves[1].shift)
    np.testing.assert_array_equal(one.covariance, again.covariance)
