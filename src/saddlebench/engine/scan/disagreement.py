"""Lay all pieces together at once, and say how sure that is and where they still lie apart.

The covariance is that of least squares, `σ² N⁻¹`, times a design effect: neighbouring points share what the
scanner got wrong, so whole patches, not points, are what is independent (L. Kish, *Survey Sampling*, 1965,
from memory: the variance of sums over clusters over that of as many independent points).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.facing import Facing
from saddlebench.engine.scan.lay import LEVER_MM, Partners, partners
from saddlebench.engine.scan.rigid import Rigid
from saddlebench.engine.scan.sample import cube_keys

REACHES_MM = (25.0, 18.0, 12.0)
_ROUNDS = 8
APART_REACH_MM = 60.0
PATCH_MM = 100.0
"""Side of the cubes that count as one patch of surface."""
_FEWEST_IN_PATCH = 10
_NEIGHBOURS_MM = 190.0
_OVERLAP_REACH_MM = 15.0
_AS_IT_CAME_OUT = 2.2
"""Of the variance: on ten played scenes of real meshes it came out 1.8 times larger: normals err, too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOverlap:
    """How one piece lies on the others."""

    share: float
    """Of its points, that have a partner on another piece."""
    unsure_mm: float
    """Standard deviation of how far off it may have been laid, where that is worst (95 %) [mm]."""
    apart_mm: float
    """Root mean square of what no rigid move explains, beyond the points' scatter [mm]."""
    most_mm: float
    """The patch that lies most apart [mm]."""
    most_at: FloatArray
    """(3,) float, instrument frame of the first piece [mm]: where."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Patches where two pieces show the same surface at different places."""

    places: FloatArray
    """(b, 3) float, instrument frame of the first piece [mm]."""
    apart: FloatArray
    """(b, 3) float, same frame [mm]: from the one piece's surface to the other's, beyond their scatter."""
    noise_mm: float
    """Robust standard deviation of one piece's points about the other's surface [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Information:
    """The normal equations of all pieces but the first."""

    about: FloatArray
    """(3,) float, instrument frame of the first piece [mm]."""
    normal: FloatArray
    """(m, m) float, m = 6·(k − 1), same frame; turns times the lever."""
    spread_mm: float
    design_effect: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Everything that is said of pieces laid together."""

    overlap: tuple[LaidOverlap, ...]
    covariance: FloatArray
    """(m, m) float, m = 6·(k − 1), instrument frame of the first piece: shift [mm], turn [rad]."""
    apart: Disagreement


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    i: int
    j: int
    found: Partners


def laid_together(pieces: list[Facing], starts: list[Rigid]) -> tuple[list[Rigid], Information]:
    """Move all pieces but the first until every one lies on every other it meets.

    Parameters
    ----------
    pieces : Facing, each in its own axes
    starts : good to some 10 mm
    """
    moves = list(starts)
    about = np.mean(
        [move.points(one.points).mean(axis=0) for one, move in zip(pieces, moves, strict=True)], axis=0
    )
    n = 6 * (len(pieces) - 1)
    for reach in REACHES_MM:
        for _ in range(_ROUNDS):
            normal, right, _ = _equations(pieces, moves, about, reach)
            step = -np.linalg.solve(normal + 1e-7 * max(float(np.trace(normal)), 1.0) * np.eye(n), right)
            for k in range(1, len(pieces)):
                part = step[6 * (k - 1) : 6 * k]
                moves[k] = moves[k].turned_by(part[3:] / LEVER_MM, part[:3], about)
            if float(np.abs(step).max()) < 0.01:
                break
    normal, _, scores = _equations(pieces, moves, about, REACHES_MM[-1])
    return moves, Information(
        about=about, normal=normal, spread_mm=_spread(scores), design_effect=_design_effect(normal, scores)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scores:
    """What each pair of partners says, kept for the design effect."""

    at: FloatArray
    each: FloatArray
    """(m, n) float, each partner's share of the equations' right side."""
    weights: FloatArray
    off_mm: FloatArray


def _pairs(pieces: list[Facing], moves: list[Rigid], reach: float) -> list[_Pair]:
    laid = [one.moved(move) for one, move in zip(pieces, moves, strict=True)]
    found = []
    for i, one in enumerate(pieces):
        for j, other in enumerate(laid):
            if i != j:
                here = partners(one, other, moves[i], reach)
                if len(here.of):
                    found.append(_Pair(i=i, j=j, found=here))
    return found


def _equations(
    pieces: list[Facing], moves: list[Rigid], about: FloatArray, reach: float
) -> tuple[FloatArray, FloatArray, _Scores]:
    n = 6 * (len(pieces) - 1)
    normal, right = np.zeros((n, n)), np.zeros(n)
    at, each, weights, off = [], [], [], []
    for pair in _pairs(pieces, moves, reach):
        design = np.zeros((len(pair.found.of), n))
        own = pair.found.design(about)
        if pair.i > 0:
            design[:, 6 * (pair.i - 1) : 6 * pair.i] = own
        if pair.j > 0:
            design[:, 6 * (pair.j - 1) : 6 * pair.j] = -own
        w = pair.found.weights
        weighted = design * w[:, None]
        normal += weighted.T @ design
        right += weighted.T @ pair.found.off_mm
        at.append(pair.found.points)
        each.append(weighted * pair.found.off_mm[:, None])
        weights.append(w)
        off.append(pair.found.off_mm)
    if not at:
        return (
            normal,
            right,
            _Scores(at=np.zeros((0, 3)), each=np.zeros((0, n)), weights=np.zeros(0), off_mm=np.zeros(0)),
        )
    return (
        normal,
        right,
        _Scores(
            at=np.concatenate(at),
            each=np.concatenate(each),
            weights=np.concatenate(weights),
            off_mm=np.concatenate(off),
        ),
    )


def _spread(scores: _Scores) -> float:
    total = float(scores.weights.sum())
    return float(np.sqrt((scores.weights * scores.off_mm**2).sum() / total)) if total > 0.0 else 0.0


def _design_effect(normal: FloatArray, scores: _Scores) -> float:
    """Return by how much sums over patches vary more than as many independent points would."""
    if len(scores.at) == 0:
        return 1.0
    inverse = np.linalg.pinv(normal, hermitian=True)
    _, patch = np.unique(cube_keys(scores.at, PATCH_MM), return_inverse=True)
    sums = np.zeros((int(patch.max()) + 1, normal.shape[0]))
    np.add.at(sums, patch, scores.each)
    together = float(np.einsum("bi,ij,bj->", sums, inverse, sums))
    alone = float(np.einsum("bi,ij,bj->", scores.each, inverse, scores.each))
    return max(1.0, together / alone) if alone > 0.0 else 1.0


def compare(pieces: list[Facing], moves: list[Rigid], information: Information) -> Compared:
    """Say how pieces lie on each other.

    Parameters
    ----------
    pieces : Facing, each in its own axes
    moves : to the first one's axes
    information : of `laid_together`
    """
    covariance = _covariance(information)
    pairs = _pairs(pieces, moves, APART_REACH_MM)
    places, vectors, which, noise = _patches(pairs)
    overlap = []
    for k, (one, move) in enumerate(zip(pieces, moves, strict=True)):
        partnered = np.zeros(len(one.points), dtype=bool)
        for pair in pairs:
            if pair.i == k:
                close = np.abs(pair.found.off_mm) < _OVERLAP_REACH_MM
                partnered[pair.found.of[close]] = True
        mine = (which == k).any(axis=1)
        apart = np.linalg.norm(vectors[mine], axis=1)
        worst = int(apart.argmax()) if apart.size else 0
        overlap.append(
            LaidOverlap(
                share=float(partnered[one.smooth].mean()) if one.smooth.any() else 0.0,
                unsure_mm=_unsure(one.moved(move), k, covariance, information.about),
                apart_mm=float(np.sqrt(np.mean(apart**2))) if apart.size else 0.0,
                most_mm=float(apart[worst]) if apart.size else 0.0,
                most_at=places[mine][worst] if apart.size else information.about,
            )
        )
    return Compared(
        overlap=tuple(overlap),
        covariance=covariance,
        apart=Disagreement(places=places, apart=vectors, noise_mm=noise),
    )


def _covariance(information: Information) -> FloatArray:
    n = len(information.normal)
    scale = np.tile(np.concatenate([np.ones(3), np.full(3, 1.0 / LEVER_MM)]), n // 6)
    # What nothing pins is free by far: 100 mm, not infinite.
    free = 1e-4 * information.spread_mm**2 * information.design_effect
    inverse = np.linalg.inv(information.normal + max(free, 1e-9) * np.eye(n))
    full = _AS_IT_CAME_OUT * information.spread_mm**2 * information.design_effect * inverse
    return full * scale[:, None] * scale[None, :]


def _unsure(laid: Facing, k: int, covariance: FloatArray, about: FloatArray) -> float:
    if k == 0 or len(laid.points) == 0:
        return 0.0
    own = covariance[6 * (k - 1) : 6 * k, 6 * (k - 1) : 6 * k]
    design = np.concatenate([laid.normals, np.cross(laid.points - about, laid.normals)], axis=1)
    return float(np.sqrt(np.percentile(np.einsum("ni,ij,nj->n", design, own, design), 95.0)))


def _patches(pairs: list[_Pair]) -> tuple[FloatArray, FloatArray, NDArray[np.int64], float]:
    """Return patches' places (b, 3), how far apart (b, 3), of which two pieces (b, 2), and the scatter."""
    places, vectors, which, scatter = [], [], [], []
    for pair in pairs:
        # Each pair of pieces once: the points of the later on the earlier.
        if pair.i < pair.j:
            continue
        found = pair.found
        _, patch = np.unique(cube_keys(found.points, PATCH_MM), return_inverse=True)
        order = np.argsort(patch, kind="stable")
        for rows in np.split(order, np.flatnonzero(np.diff(patch[order])) + 1):
            if len(rows) < _FEWEST_IN_PATCH:
                continue
            normals, off = found.normals[rows], found.off_mm[rows]
            facing_way = normals[0] if len(rows) else normals
            signs = np.where(normals @ facing_way < 0.0, -1.0, 1.0)
            signed = signs * off
            middle = float(np.median(signed))
            rough = 1.4826 * float(np.median(np.abs(signed - middle)))
            # The median of so many scattered points is itself off by this much: not what lies apart.
            own = 1.2533 * rough / np.sqrt(len(rows))
            beyond = np.sign(middle) * np.sqrt(max(0.0, middle**2 - own**2))
            normal = (signs[:, None] * normals).mean(axis=0)
            places.append(found.points[rows].mean(axis=0))
            vectors.append(beyond * normal / max(float(np.linalg.norm(normal)), 1e-9))
            which.append([pair.j, pair.i])
            scatter.append(rough)
    if not places:
        return np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 2), dtype=np.int64), 0.0
    held = np.array(places), np.array(vectors), np.array(which)
    return held[0], _among_neighbours(*held), held[2], float(np.median(scatter))


def _among_neighbours(places: FloatArray, vectors: FloatArray, which: NDArray[np.int64]) -> FloatArray:
    """Return how far patches lie apart, as the middle of their neighbours says.

    A horse that moved moves over a hand's breadth and more. One patch that stands alone has met another
    surface: the far side of a thin part, a fold, something inside.
    """
    out = np.zeros_like(vectors)
    for k, place in enumerate(places):
        near = (np.linalg.norm(places - place, axis=1) < _NEIGHBOURS_MM) & (which == which[k]).all(axis=1)
        out[k] = np.median(vectors[near], axis=0)
    return out
