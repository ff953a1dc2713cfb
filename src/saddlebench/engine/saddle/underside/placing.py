"""Where the saddle lies in a scan: an underside of about its numbers is laid into the points from every side.

Trimmed iterative closest points (Besl & McKay 1992; Chetverikov et al. 2002) from turns spread evenly over
all there are (super-Fibonacci spirals, Alexa 2022). What is not the underside (stand, straps, hands, flaps)
is never asked for: each point of the pattern looks for the scan, not the other way round.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from saddlebench.engine.errors import input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.underside.cloud import (
    COARSE_MM,
    normals_of,
    things,
    thinned,
    without_tables,
)

STARTS = 220
KEPT_SHARE = 0.75
"""The pattern's points that lie nearest count; the rest may have no scan at all."""
FAR_MM = 40.0
TOO_FAR_MM = 12.0
"""A pattern that stays farther from the scan than this is not in it (judgement)."""
SURE = 1.25
"""The other way round has to lie so much farther off before the heading is taken without asking."""
_FIRST, _LAST = 120, 500
_AGREE = 0.8
_SLIDE_MM, _SLIDE_STEP_MM, _SLIDE_FAR_MM, _SLIDE_GAIN_MM = 66.0, 6.0, 30.0, 0.2
_PSI = 1.533751168755204288118041


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """How the saddle lies in the scan."""

    rotation: FloatArray
    """(3, 3) float: from the instrument's axes to the saddle's."""
    origin: FloatArray
    """(3,) float, instrument frame [mm]: the saddle's origin."""
    off_mm: float
    """How far the pattern lies off the scan, trimmed root mean square."""
    turned_off_mm: float
    """The same with pommel and cantle exchanged."""

    @property
    def heading_is_sure(self) -> bool:
        """Whether pommel and cantle can be told apart by the shape."""
        return self.turned_off_mm > SURE * self.off_mm

    def to_saddle(self, points: FloatArray) -> FloatArray:
        """Return points (n, 3) float, saddle frame [mm], of points (n, 3) float, instrument frame [mm]."""
        return (points - self.origin) @ self.rotation.T


def place(points: FloatArray, pattern: SaddleModel) -> Placed:
    """Return how a saddle of about this shape lies in a scan.

    Parameters
    ----------
    points : (n, 3) float, instrument frame [mm]
    pattern : a saddle of the same family with about the same numbers

    Raises
    ------
    InputProblemsError
        If no such saddle is found in it.
    """
    sought, sides = _sampled(pattern, _LAST)
    longest = float(np.ptp(sought[:, 0]))
    coarse = without_tables(thinned(points, COARSE_MM))
    starts = _starts([thing.mean(axis=0) for thing in things(coarse, 0.7 * longest)[:3]], sought)
    tree = cKDTree(coarse)
    facing = normals_of(coarse)
    few, _ = _sampled(pattern, _FIRST)
    best = _best_of(starts, few, tree)
    ends = [_closest_planes(one, sought, sides, tree, facing) for one in best]
    ends.sort(key=lambda one: one[0])
    off, rotation, shift = _outermost(ends[0], sought, sides, tree, facing)
    half_turn = np.diag([-1.0, -1.0, 1.0])
    middle = np.array([sought[:, 0].min() + sought[:, 0].max(), 0.0, 0.0])
    other = (rotation @ half_turn, shift + rotation @ middle)
    others = [one for one in ends if _is_turned(one[1], rotation)]
    others.append(_closest_planes(other, sought, sides, tree, facing))
    turned, turned_rotation, turned_shift = min(others, key=lambda one: one[0])
    if turned < off:
        off, rotation, shift, turned = turned, turned_rotation, turned_shift, off
    if off > TOO_FAR_MM:
        how_far = f": at best it lies {off:.0f} mm off" if np.isfinite(off) else ""
        what = f"no underside like this saddle’s is found in the scan{how_far}"
        raise input_problem(
            what,
            "Check the unit and the saddle’s numbers; scan the underside itself, from above, with the saddle "
            "upside down.",
        )
    shift = _slid(rotation, shift, sought, tree)
    return Placed(rotation=rotation.T, origin=shift, off_mm=off, turned_off_mm=turned)


def turned_round(placed: Placed, length_mm: float) -> Placed:
    """Return the placing with pommel and cantle exchanged; `length_mm` is the length of the panels [mm]."""
    half_turn = np.diag([-1.0, -1.0, 1.0])
    return Placed(
        rotation=half_turn @ placed.rotation,
        origin=placed.origin + placed.rotation.T @ np.array([-length_mm, 0.0, 0.0]),
        off_mm=placed.turned_off_mm,
        turned_off_mm=placed.off_mm,
    )


_Pose = tuple[FloatArray, FloatArray]
_End = tuple[float, FloatArray, FloatArray]


def _sampled(pattern: SaddleModel, count: int) -> tuple[FloatArray, FloatArray]:
    bearing = pattern.bearing
    pick = np.random.default_rng(3).permutation(len(bearing.points_saddle))[:count]
    return bearing.points_saddle[pick], bearing.normals_saddle[pick]


def _is_turned(one: FloatArray, other: FloatArray) -> bool:
    return float(one[:, 0] @ other[:, 0]) < -0.7 and float(one[:, 2] @ other[:, 2]) > 0.7


def _starts(middles: list[FloatArray], sought: FloatArray) -> _Pose:
    """Return rotations (k, 3, 3) float and shifts (k, 3) float, instrument frame [mm], to begin from."""
    step = np.arange(STARTS) + 0.5
    share = step / STARTS
    alpha, beta = 2.0 * np.pi * step / np.sqrt(2.0), 2.0 * np.pi * step / _PSI
    near, far = np.sqrt(share), np.sqrt(1.0 - share)
    spread = np.stack(
        [near * np.sin(alpha), near * np.cos(alpha), far * np.sin(beta), far * np.cos(beta)], axis=1
    )
    turns = Rotation.from_quat(spread).as_matrix()
    rotations = np.concatenate([turns] * len(middles))
    own = sought.mean(axis=0)
    shifts = np.concatenate([middle - turns @ own for middle in middles])
    return rotations, shifts


def _best_of(starts: _Pose, sought: FloatArray, tree: cKDTree) -> list[_Pose]:
    """Return the starts that lie best after a few steps point to point, nearly equal ones once."""
    rotations, shifts = starts
    scan = np.asarray(tree.data)
    cost = np.zeros(len(shifts))
    for _ in range(12):
        moved = np.einsum("kij,nj->kni", rotations, sought) + shifts[:, None]
        distance, nearest = tree.query(moved.reshape(-1, 3))
        distance = distance.reshape(len(shifts), -1)
        limit = np.quantile(distance, KEPT_SHARE, axis=1, keepdims=True)
        weight = (distance <= limit).astype(float)
        weight /= weight.sum(axis=1, keepdims=True)
        cost = np.sqrt((weight * distance**2).sum(axis=1))
        target = scan[nearest].reshape(len(shifts), -1, 3)
        here = weight @ sought
        there = np.einsum("kn,kni->ki", weight, target)
        spread = np.einsum("kn,kni,knj->kij", weight, sought[None] - here[:, None], target - there[:, None])
        left, _, right = np.linalg.svd(spread)
        mirror = np.ones((len(shifts), 3))
        mirror[:, 2] = np.linalg.det(np.swapaxes(right, 1, 2) @ np.swapaxes(left, 1, 2))
        rotations = np.einsum("kji,kj,klj->kil", right, mirror, left)
        shifts = there - np.einsum("kij,kj->ki", rotations, here)
    chosen: list[int] = []
    for k in np.argsort(cost):
        if all(
            np.trace(rotations[k].T @ rotations[j]) < 2.9 or np.linalg.norm(shifts[k] - shifts[j]) > 25.0
            for j in chosen
        ):
            chosen.append(int(k))
        if len(chosen) == 14:
            break
    return [(rotations[k], shifts[k]) for k in chosen]


def _closest_planes(
    start: _Pose, sought: FloatArray, sides: FloatArray, tree: cKDTree, facing: FloatArray
) -> _End:
    """Return distance [mm], rotation and shift after steps from points to planes (Chen & Medioni 1991)."""
    rotation, shift = start
    scan = np.asarray(tree.data)
    off = np.inf
    for _ in range(30):
        moved, outward = sought @ rotation.T + shift, sides @ rotation.T
        distance, nearest = tree.query(moved)
        plane = facing[nearest]
        agree = np.abs(np.einsum("ij,ij->i", plane, outward)) > _AGREE
        across = np.einsum("ij,ij->i", scan[nearest] - moved, plane)
        cost = np.where(agree, np.minimum(distance, FAR_MM), FAR_MM)
        kept = (cost <= np.quantile(cost, KEPT_SHARE)) & agree
        off = float(np.sqrt(np.sort(cost**2)[: int(KEPT_SHARE * len(cost))].mean()))
        if kept.sum() < 30:
            return np.inf, rotation, shift
        middle = moved[kept].mean(axis=0)
        lever = np.cross(moved[kept] - middle, plane[kept])
        rows = np.concatenate([lever, plane[kept]], axis=1)
        hold = np.diag([1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3]) * 1e-3 * kept.sum()
        step = np.linalg.solve(rows.T @ rows + hold, rows.T @ across[kept])
        turn = Rotation.from_rotvec(np.clip(step[:3], -0.2, 0.2)).as_matrix()
        rotation = turn @ rotation
        shift = turn @ (shift - middle) + middle + step[3:]
        if np.abs(step[:3]).max() < 1e-4 and np.abs(step[3:]).max() < 0.02:
            break
    return off, rotation, shift


def _slid(rotation: FloatArray, shift: FloatArray, sought: FloatArray, tree: cKDTree) -> FloatArray:
    """Return the shift after sliding along the saddle to where the fewest points hang over an end.

    Straight panels look alike all along: trimmed, the pattern may lie some centimetres too far along.
    """
    forward = rotation[:, 0]
    by = np.arange(-_SLIDE_MM, _SLIDE_MM + 1.0, _SLIDE_STEP_MM)
    moved = sought @ rotation.T + shift
    cost = [float(np.minimum(tree.query(moved + step * forward)[0], _SLIDE_FAR_MM).mean()) for step in by]
    best = int(np.argmin(cost))
    # What is gained has to be more than what the scan's own grain makes.
    gained = cost[len(by) // 2] - cost[best]
    return shift + by[best] * forward if gained > _SLIDE_GAIN_MM else shift


def _outermost(end: _End, sought: FloatArray, sides: FloatArray, tree: cKDTree, facing: FloatArray) -> _End:
    """Move on to the faces towards the horse where the scan holds a panel's other face as well.

    Each panel is asked for itself: a pattern may lie on the right face of one and on the wrong one of the
    other.
    """
    off, rotation, shift = end
    reach = np.arange(12.0, 61.0, 6.0)
    moved, outward = sought @ rotation.T + shift, sides @ rotation.T
    seen = np.stack([tree.query(moved + far * outward)[0] < 5.0 for far in reach], axis=1)
    rows, further = [], []
    for mine in (sought[:, 1] > 0.0, sought[:, 1] < 0.0):
        share = seen[mine].mean(axis=0)
        rows.append(sides[mine].mean(axis=0)[1:])
        further.append(float(reach[int(np.argmax(share))]) if share.max() > 0.5 else 0.0)
    if not any(further):
        return end
    by = np.linalg.solve(np.array(rows) / np.linalg.norm(rows, axis=1)[:, None], np.array(further))
    start = shift + rotation @ np.array([0.0, *by])
    other = _closest_planes((rotation, start), sought, sides, tree, facing)
    return other if other[0] < max(1.5 * off, 6.0) else end
