"""Find the back in a scan of a whole scene: the horse on its ground, and landmarks proposed on it."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.back.scan_suggest import UNLIKE_A_HORSE, Suggestions, suggest_marks
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.sample import even_points
from saddlebench.engine.scan.standing import Standing, find_standing, other_way_round

SEED = 20
"""Which points stand for the scan is left to chance, always the same."""
_OF_SCENE, _OF_ANIMAL = 60_000, 300_000
_HEAD_CLEAR = 1.6
"""One way round must misfit so many times more than the other for the head's end to be clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundBack:
    """A horse's back in a scene, in the scan's own axes and unit."""

    standing: Standing
    suggestions: Suggestions
    points: FloatArray
    """(n, 3) float, instrument frame, the scan's unit: the animal's points, about even."""
    head_clear: bool
    """Whether the shape tells which end is the head's."""

    @property
    def like_a_horse(self) -> bool:
        """Whether its proportions are a horse's."""
        return self.suggestions.unlikeness < UNLIKE_A_HORSE


def find_back(
    points: FloatArray,
    faces: Faces,
    *,
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
) -> FoundBack | None:
    """Find the horse in a scene and propose its landmarks; None where nothing stands there like an animal.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit
    faces : (m, 3) int, vertex indices; m = 0 for a cloud
    up, forward : (3,) float, instrument frame, where a person stated them; up good to 10°, forward to 60°
    """
    rng = np.random.default_rng(SEED)
    sparse = even_points(points, faces, _OF_SCENE, rng)
    standing = find_standing(sparse, rng, up=up, forward=forward)
    if standing is None:
        return None
    own = _animals(points, faces, sparse, standing, rng)
    marks = suggest_marks(standing, own)
    if forward is None and (marks is None or marks.other_way < marks.unlikeness):
        turned = other_way_round(standing)
        again = suggest_marks(turned, own)
        if again is not None:
            standing, marks = turned, again
    if marks is None:
        return None
    clear = forward is not None or marks.other_way > _HEAD_CLEAR * marks.unlikeness
    return FoundBack(standing=standing, suggestions=marks, points=own, head_clear=clear)


def _animals(
    points: FloatArray, faces: Faces, sparse: FloatArray, standing: Standing, rng: np.random.Generator
) -> FloatArray:
    """Return many more points (n, 3) of the animal alone, instrument frame, the scan's unit."""
    reach = 0.12 * standing.trunk.half_width
    seeds = sparse[standing.animal]
    low, high = seeds.min(axis=0) - reach, seeds.max(axis=0) + reach
    inside = ((points > low) & (points < high)).all(axis=1)
    if len(faces):
        dense = even_points(points, faces[inside[faces].all(axis=1)], _OF_ANIMAL, rng)
    else:
        dense = even_points(points[inside], faces, _OF_ANIMAL, rng)
    apart, _ = cKDTree(seeds).query(dense, distance_upper_bound=reach)
    return dense[np.isfinite(apart)]
