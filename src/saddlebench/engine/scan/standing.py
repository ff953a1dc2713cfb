"""Find in a scene the animal that stands in it: the ground, which way is up, where the head is."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import LevelBy, levelled
from saddlebench.engine.scan.pieces import pieces
from saddlebench.engine.scan.planes import Plane, find_planes
from saddlebench.engine.scan.polar_grid import PolarGrid
from saddlebench.engine.scan.trunk import AXIS_DEPTH, Trunk, find_trunk

TOLERANCE = 0.004
"""How far a point may lie off its plane, in diagonals of the scene (16 mm of 4 m)."""
FLAT = 0.4
"""A piece of which one plane holds more is no animal: a wall, a floor, the side of a box."""
CLEAR = 0.9
"""Likeness above which a plane is the ground, and no other way to stand is tried."""
LEVEL_WITHIN = np.cos(np.deg2rad(12.0))
"""A stated direction and a plane nearer to it than 12° are taken to mean the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What an animal stands on: the plane `up · p = offset`; level or not."""

    up: FloatArray
    """(3,) float, instrument frame [1]: its normal."""
    offset: float
    share: float
    """Share of the scene's points that lie on it."""

    def height(self, point: FloatArray, up: FloatArray) -> float:
        """Return how high a point (3,), instrument frame, lies above it along `up` (3,); the scan's unit."""
        return (float(self.up @ point) - self.offset) / float(self.up @ up)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """An animal found in a scene; lengths in the scan's own unit."""

    up: FloatArray
    """(3,) float, instrument frame [1]."""
    ground: Ground | None
    level: FloatArray
    """(3, 3) rotation from the instrument frame to the levelled one."""
    level_by: LevelBy
    trunk: Trunk
    """Its frame has x to the head where `head_sure` is large."""
    animal: NDArray[np.bool_]
    """(n,) which points belong to it."""
    head_sure: float
    """How much more reaches out beyond the trunk at the head's end; below 0.2 it is doubtful."""
    largest: float
    """Its share of the points that lie neither on the ground nor on a wall."""
    legs: float
    """Filled area near the ground over that of the trunk, seen from above; below 0.5 it stands on legs."""

    @property
    def to_trunk(self) -> FloatArray:
        """(3, 3) rotation from the instrument to the trunk frame."""
        return self.trunk.turn @ self.level

    @property
    def forward(self) -> FloatArray:
        """(3,) float, instrument frame [1], along the midline to the head."""
        return self.to_trunk[0]

    def points(self, instrument: FloatArray) -> FloatArray:
        """Return points (n, 3), instrument frame, in the trunk frame (n, 3)."""
        return self.trunk.points(instrument @ self.level.T)

    def back(self, placed: FloatArray) -> FloatArray:
        """Return points (n, 3), trunk frame, in the instrument frame (n, 3)."""
        return (placed - self.trunk.shift) @ self.to_trunk


def find_standing(
    points: FloatArray,
    rng: np.random.Generator,
    *,
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
) -> Standing | None:
    """Return what looks most like the animal of a scene; None where nothing does.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit, about even
    rng : for the hypotheses
    up, forward : (3,) float, instrument frame, where a person stated them; up good to 10°, forward to 60°
    """
    found = standings(points, rng, up=up, forward=forward)
    return found[0] if found else None


def standings(
    points: FloatArray,
    rng: np.random.Generator,
    *,
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
) -> list[Standing]:
    """Return what in a scene may be an animal, and how it may stand, the likeliest first; none for none.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, any unit, about even
    rng : for the hypotheses
    up, forward : (3,) float, instrument frame, where a person stated them; up good to 10°, forward to 60°
    """
    diagonal = float(np.linalg.norm(np.ptp(np.percentile(points, [0.5, 99.5], axis=0), axis=0)))
    if not diagonal > 0.0:
        return []
    tolerance = TOLERANCE * diagonal
    planes = find_planes(points, tolerance, rng)
    tries = [one for k in range(len(planes)) for one in _stand_on(points, planes, k, tolerance)]
    if up is not None:
        up = up / np.linalg.norm(up)
        tries = [one for one in tries if float(one.up @ up) > LEVEL_WITHIN]
        if not tries:
            tries = _stand_free(points, planes, up, tolerance)
    elif not any(_likeness(one) > CLEAR for one in tries):
        tries += [one for way in _hull_ways(points) for one in _stand_free(points, planes, way, tolerance)]
    tries.sort(key=_likeness, reverse=True)
    return [_headed(one, points, forward) for one in tries]


def _likeness(one: Standing) -> float:
    """Score how much something looks like an animal on its legs: ground, legs, two like sides, its size."""
    on_ground = 0.0 if one.ground is None else 0.6 * one.ground.share**0.25
    # A trunk alone, or a box hung in the air, has nothing under it; an animal has less than its trunk.
    legs = 0.25 if one.legs < 0.01 else max(0.0, one.legs - 0.25)
    return on_ground - min(legs, 1.5) - 6.0 * min(one.trunk.mismatch, 0.2) + one.largest


def _stand_on(points: FloatArray, planes: list[Plane], k: int, tolerance: float) -> list[Standing]:
    """Take one plane for the ground."""
    plane = planes[k]
    height = plane.height(points)
    sign = 1.0 if (height > 3.0 * tolerance).sum() >= (height < -3.0 * tolerance).sum() else -1.0
    up, offset = sign * plane.normal, sign * plane.offset
    height = sign * height
    if (height < -3.0 * tolerance).mean() > 0.06 or plane.evenness < 0.5:
        return []
    ground = Ground(up=up, offset=offset, share=float(plane.near.mean()))
    return _stand(points, planes, up, height > 1.5 * tolerance, ground, tolerance)


def _stand_free(points: FloatArray, planes: list[Plane], up: FloatArray, tolerance: float) -> list[Standing]:
    return _stand(points, planes, up, np.ones(len(points), dtype=bool), None, tolerance)


def _stand(
    points: FloatArray,
    planes: list[Plane],
    up: FloatArray,
    above: NDArray[np.bool_],
    ground: Ground | None,
    tolerance: float,
) -> list[Standing]:
    level = levelled(up)
    free = above.copy()
    for plane in planes:
        # Walls: flat, upright, and larger than a flank is flat.
        if abs(float(plane.normal @ up)) < 0.2 and plane.evenness > 0.75:
            free &= ~plane.near
    if free.sum() < 500:
        return []
    held = np.flatnonzero(free)
    placed = points[held] @ level.T
    # Pieces are told apart at a few spacings of the points.
    spacing = 0.02 * float(np.linalg.norm(np.ptp(np.percentile(placed, [1, 99], axis=0), axis=0)))
    number = pieces(placed, max(spacing, 2.0 * tolerance))
    found: list[Standing] = []
    for piece in range(min(3, int(number.max()) + 1)):
        inside = number == piece
        if inside.sum() < 0.12 * len(held):
            break
        own = placed[inside]
        if any(plane.near[held[inside]].mean() > FLAT for plane in planes):
            continue
        trunk = find_trunk(own, floor=None if ground is None else ground.offset)
        if trunk is None:
            continue
        animal = np.zeros(len(points), dtype=bool)
        animal[held[inside]] = True
        found.append(
            Standing(
                up=up,
                ground=ground,
                level=level,
                level_by=LevelBy.BODY if ground is None else LevelBy.GROUND,
                trunk=trunk,
                animal=animal,
                head_sure=0.0,
                largest=float(inside.mean()),
                legs=_legs(own, None if ground is None else ground.offset),
            )
        )
    return found


def _legs(points: FloatArray, floor: float | None) -> float:
    """Return the area filled near the ground over that filled at the trunk's height, seen from above."""
    top = float(np.percentile(points[:, 2], 98.0))
    low = float(points[:, 2].min()) if floor is None else floor
    share = (points[:, 2] - low) / (top - low)
    cell = float(np.ptp(points[:, :2], axis=0).max()) / 60.0
    areas = []
    for low_share, high_share in ((0.08, 0.33), (0.5, 0.9)):
        part = points[(share > low_share) & (share < high_share), :2]
        areas.append(len(np.unique(np.floor(part / cell).astype(np.int64), axis=0)))
    return areas[0] / max(1, areas[1])


def _hull_ways(points: FloatArray) -> list[FloatArray]:
    """Return directions (3,) in which a body could stand on what it touches: its hull's largest faces."""
    some = points[:: max(1, len(points) // 20_000)]
    try:
        hull = ConvexHull(some)
    except (QhullError, ValueError):
        return []
    corners = some[hull.simplices]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    ways: list[FloatArray] = []
    normals = -hull.equations[:, :3]
    left = area.copy()
    for _ in range(6):
        k = int(np.argmax(left))
        if left[k] <= 0.0:
            break
        alike = normals @ normals[k] > np.cos(np.deg2rad(8.0))
        way = (normals[alike] * area[alike, None]).sum(axis=0)
        ways.append(way / np.linalg.norm(way))
        left[alike] = 0.0
    return ways


def _headed(one: Standing, points: FloatArray, forward: FloatArray | None) -> Standing:
    """Turn the trunk so that x looks to the head, as stated or as the shape says."""
    placed = one.points(points[one.animal])
    balance = head_balance(placed, one.trunk)
    sure = abs(balance)
    turned = balance < 0.0
    if forward is not None:
        turned = float((one.to_trunk @ forward)[0]) < 0.0
        sure = 1.0
    return replace(other_way_round(one) if turned else one, head_sure=sure)


def other_way_round(one: Standing) -> Standing:
    """Return the same animal with its head at the other end."""
    half = np.diag([-1.0, -1.0, 1.0])
    trunk = one.trunk
    return replace(
        one,
        trunk=replace(
            trunk,
            turn=half @ trunk.turn,
            shift=half @ trunk.shift,
            grid=_turned_round(trunk.grid),
            core=(-trunk.core[1], -trunk.core[0]),
        ),
    )


def _turned_round(grid: PolarGrid) -> PolarGrid:
    def both(values: NDArray[Any]) -> NDArray[Any]:
        return values[::-1, ::-1]

    return replace(
        grid,
        x=-grid.x[::-1],
        axis_z=grid.axis_z[::-1],
        radius=both(grid.radius),
        count=both(grid.count),
        spread=both(grid.spread),
    )


def head_balance(placed: FloatArray, trunk: Trunk) -> float:
    """Return how much more reaches out at x > 0 than at x < 0, from −1 to 1: neck and head against the tail.

    Parameters
    ----------
    placed : (n, 3) float, trunk frame
    trunk : Trunk
    """
    w = trunk.half_width
    top = np.interp(placed[:, 0], trunk.grid.x, trunk.grid.axis_z) + AXIS_DEPTH * w
    base = float(np.median(top))
    # Legs reach out too, but low; a tail is thin, and hangs.
    high = placed[:, 2] > base - 1.3 * w
    ahead = high & (placed[:, 0] > trunk.core[1] + 1.2 * w)
    behind = high & (placed[:, 0] < trunk.core[0] - 1.2 * w)
    front = float((np.abs(placed[ahead, 0]) - trunk.core[1]).sum())
    rear = float((np.abs(placed[behind, 0]) + trunk.core[0]).sum())
    return (front - rear) / max(front + rear, 1e-12)
