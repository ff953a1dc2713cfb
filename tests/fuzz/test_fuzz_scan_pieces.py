"""Pieces of no horse at all: whatever points two files hold, there is an answer or a sentence."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.scan.merge import Piece, merge
from support.pieces import as_piece, invented_pieces

RNG = np.random.default_rng(7)
N = 2000
WAYS = RNG.normal(size=(N, 3))
ALONG = np.linspace(-800.0, 800.0, N)[:, None]
SCENES = {
    "a line": ALONG * [1.0, 0.2, 0.1],
    "two lines": np.concatenate([ALONG[: N // 2] * [1.0, 0.0, 0.0], ALONG[: N // 2] * [0.0, 1.0, 0.0]]),
    "a floor": np.concatenate([RNG.uniform(-900.0, 900.0, (N, 2)), np.zeros((N, 1))], axis=1),
    "dust": RNG.uniform(-900.0, 900.0, (N, 3)),
    "a ball": 500.0 * WAYS / np.linalg.norm(WAYS, axis=1, keepdims=True),
    "a step in one place": np.repeat([[0.0, 0.0, 0.0], [500.0, 0.0, 0.0]], N // 2, axis=0),
    "far away": RNG.uniform(-900.0, 900.0, (N, 3)) + 1e7,
}


@pytest.mark.parametrize("name", list(SCENES))
def test_a_scene_laid_on_a_horse_is_refused(name):
    horse = as_piece(invented_pieces(9)[0], "horse.ply", n=15_000)
    other = Piece(name="other.ply", points=SCENES[name])
    for pieces in ([horse, other], [other, horse]):
        with pytest.raises(InputProblemsError):
            merge(pieces)


def answer(pieces):
    """Return what merging says: the sentences, or the moves and their covariance."""
    try:
        merged = merge(pieces)
    except InputProblemsError as error:
        return [str(problem) for problem in error.problems], np.zeros(1)
    return ["merged"], np.concatenate([merged.moves[1].shift, merged.covariance.ravel()])


@pytest.mark.parametrize("name", list(SCENES))
def test_a_scene_laid_on_itself_gives_an_answer_or_a_sentence(name):
    one = Piece(name="one.ply", points=SCENES[name])
    words, numbers = answer([one, replace(one, name="two.ply")])
    assert all(words)
    assert np.isfinite(numbers).all()
