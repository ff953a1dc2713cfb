"""Find the back in a scan of a whole scene: the horse on its ground, and landmarks proposed on it."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.back.scan_suggest import UNLIKE_A_HORSE, Suggestions, suggest_marks
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.by_axis import stood_by_axis
from saddlebench.engine.scan.level import LevelBy, gravity_axis
from saddlebench.engine.scan.sample import even_points
from saddlebench.engine.scan.skin import AXIS_DEPTH_MM, HALF_WIDTH_MM
from saddlebench.engine.scan.standing import Standing, other_way_round, standings
from saddlebench.engine.scan.trunk import straightened

SEED = 20
"""Which points stand for the scan is left to chance, always the same."""
_OF_SCENE, _OF_ANIMAL = 60_000, 300_000
_HEAD_CLEAR = 1.6
"""One way round must misfit so many times more than the other for the head's end to be clear …"""
_HEAD_APART = 0.5
"""… and by so much: what fits both ways round is no horse, but something as long as one."""
_SURELY_A_HORSE = 0.35
"""Unlikeness below which no other way to stand is tried."""
_MOST_TRIED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundBack:
    """A horse's back in a scene, in the scan's own axes and unit."""

    standing: Standing
    suggestions: Suggestions
    points: FloatArray
    """(n, 3) float, instrument frame, the scan's unit: the animal's points, about even."""
    head_stated: bool

    @property
    def head_clear(self) -> bool:
        """Whether the shape tells which end is the head's, or a person does."""
        return self.head_stated or _told_apart(self.suggestions)

    @property
    def like_a_horse(self) -> bool:
        """Whether its proportions are a horse's, one way round and not the other."""
        return self.suggestions.unlikeness < UNLIKE_A_HORSE and _told_apart(self.suggestions)


def _told_apart(marks: Suggestions) -> bool:
    return marks.other_way > max(_HEAD_CLEAR * marks.unlikeness, marks.unlikeness + _HEAD_APART)


def find_back(
    points: FloatArray,
    faces: Faces,
    *,
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
    level_by: LevelBy | None = None,
) -> FoundBack | None:
    """Find the horse in a scene and propose its landmarks; None where nothing stands there like an animal.

    What looks most like an animal on its legs is tried first; unless its proportions are surely a horse's,
    the other pieces and ways to stand are tried, too; one that is more like a horse is taken.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit
    faces : (m, 3) int, vertex indices; m = 0 for a cloud
    up, forward : (3,) float, instrument frame, where a person stated them; up good to 10°, forward to 60°
    level_by : AXIS or LEVEL_GROUND where a person chose; else what the ground says
    """
    rng = np.random.default_rng(SEED)
    sparse = even_points(points, faces, _OF_SCENE, rng)
    best: FoundBack | None = None
    for standing in standings(sparse, rng, up=up, forward=forward)[:_MOST_TRIED]:
        own = _animals(points, faces, sparse, standing, rng)
        found = _with_marks(standing, own, head_stated=forward is not None)
        if found is None:
            continue
        if best is None or _better(found, best):
            best = found
        if found.like_a_horse and found.suggestions.unlikeness < _SURELY_A_HORSE:
            break
    if best is None:
        return None
    if level_by is LevelBy.LEVEL_GROUND and best.standing.ground is not None:
        best = replace(best, standing=replace(best.standing, level_by=level_by))
    on_ground = best.standing.ground is not None
    axis = gravity_axis(best.standing.up, on_ground=on_ground, stated=up, wanted=level_by)
    return _straight(best if axis is None else _by_axis(best, sparse, axis))


def _better(one: FoundBack, other: FoundBack) -> bool:
    """Whether one is a horse, and more so than the other; between two that are none the first one stays."""
    if one.like_a_horse and other.like_a_horse:
        return one.suggestions.unlikeness < other.suggestions.unlikeness
    return one.like_a_horse


def _with_marks(standing: Standing, own: FloatArray, *, head_stated: bool) -> FoundBack | None:
    marks = suggest_marks(standing, own)
    if not head_stated and (marks is None or marks.other_way < marks.unlikeness):
        turned = other_way_round(standing)
        again = suggest_marks(turned, own)
        if again is not None:
            standing, marks = turned, again
    if marks is None:
        return None
    return FoundBack(standing=standing, suggestions=marks, points=own, head_stated=head_stated)


def _by_axis(found: FoundBack, sparse: FloatArray, axis: FloatArray) -> FoundBack:
    """Level it by the scan's own axis, and mark it anew."""
    standing = stood_by_axis(found.standing, sparse, axis)
    if standing.trunk is found.standing.trunk:
        return replace(found, standing=standing)
    again = _with_marks(standing, found.points, head_stated=True)
    return found if again is None else replace(again, head_stated=found.head_stated)


def _straight(found: FoundBack) -> FoundBack:
    """Turn to the midline of the part between the marks, as the back's own frame has it, and mark it anew."""
    marks, mm = found.suggestions.marks, found.suggestions.mm_per_unit
    if ScanMark.SHOULDER not in marks or ScanMark.LAST_RIB not in marks:
        return found
    standing = found.standing
    front, rear = (standing.points(marks[m][None])[0, 0] for m in (ScanMark.SHOULDER, ScanMark.LAST_RIB))
    placed = standing.points(found.points)
    trunk = straightened(
        standing.trunk, placed, (float(rear), float(front)), (HALF_WIDTH_MM / mm, AXIS_DEPTH_MM / mm)
    )
    if trunk is standing.trunk:
        return found
    again = _with_marks(replace(standing, trunk=trunk), found.points, head_stated=True)
    return found if again is None else replace(again, head_stated=found.head_stated)


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
