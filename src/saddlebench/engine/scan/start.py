"""Where to begin laying one piece on another: their heights above the ground, seen from above, compared.

Each piece is stood on its ground (or on what is stated to be up) and seen from above as a map of heights.
The one is turned through all headings; for each, all shifts are judged at once by Fourier transforms: cells
where both maps have the same height speak for a shift, cells where they differ against it. So that one cell
far off cannot outvote many, heights are compared through cosines of several wavelengths (A. Rahimi, B. Recht,
"Random features for large-scale kernel machines", NIPS 2007, here with fixed wavelengths).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.planes import Plane, find_planes
from saddlebench.engine.scan.rigid import Rigid
from saddlebench.engine.scan.standing import TOLERANCE

CELL_MM = 45.0
TURN = np.deg2rad(6.0)
_WAVES_MM, _WAVE_WEIGHTS = (900.0, 420.0, 250.0), (0.4, 0.35, 0.25)
_AGAINST = 0.45
"""What a cell seen by both must reach in likeness to speak for a place at all."""
_REACH_MM = 3500.0
_ABOVE_GROUND_MM = 250.0
_WALL_MM = 40.0
GROUND_MM = 120.0
"""Points so low above a piece's ground do not count when it is laid on another."""
_EVEN = 0.7
"""Evenness of a plane above which it is a floor, a wall or a board, and no flank."""
_RISES_MM = tuple(40.0 * k for k in range(-6, 7))
_CONVENTIONS = ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
"""Which way is up in most programs, tried where a piece shows no ground and nobody stated it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Footing:
    """One way to stand a piece upright."""

    upright: Rigid
    """From the piece's axes to one with z up [mm]; z = 0 is the ground where `on_ground`."""
    on_ground: bool
    walls: tuple[Plane, ...]
    """Flat parts that are no animal's: a wall fits a wall anywhere along it."""

    def free(self, points: FloatArray) -> NDArray[np.bool_]:
        """Return which of points (n, 3), instrument frame [mm], lie on none of them, (n,)."""
        free = np.ones(len(points), dtype=bool)
        for wall in self.walls:
            free &= np.abs(wall.height(points)) > _WALL_MM
        if self.on_ground:
            free &= self.upright.points(points)[:, 2] > GROUND_MM
        return free


@dataclass(frozen=True, slots=True, kw_only=True)
class Begin:
    """A place to begin from, and how much speaks for it."""

    move: Rigid
    score: float


def footings(points: FloatArray, up: FloatArray | None, rng: np.random.Generator) -> list[Footing]:
    """Return the ways a piece may stand: on its planes, or as stated.

    Parameters
    ----------
    points : (n, 3) float, instrument frame [mm], about even
    up : (3,) float, instrument frame, where a person stated it
    rng : for the planes' hypotheses
    """
    diagonal = float(np.linalg.norm(np.ptp(np.percentile(points, [0.5, 99.5], axis=0), axis=0)))
    tolerance = max(1.0, TOLERANCE * diagonal)
    found = []
    planes = find_planes(points, tolerance, rng, most=5, least_share=0.02)
    walls = tuple(plane for plane in planes if plane.evenness > _EVEN)
    for plane in planes:
        height = plane.height(points)
        sign = 1.0 if (height > 3.0 * tolerance).sum() >= (height < -3.0 * tolerance).sum() else -1.0
        if (sign * height < -3.0 * tolerance).mean() > 0.06 or plane.evenness < 0.5:
            continue
        way = sign * plane.normal
        if up is not None and float(way @ up) < np.cos(np.deg2rad(12.0)) * float(np.linalg.norm(up)):
            continue
        turn = _turn_up(way)
        upright = Rigid(rotation=turn, shift=np.array([0.0, 0.0, -sign * plane.offset]))
        found.append(Footing(upright=upright, on_ground=True, walls=walls))
    if not found:
        ways = [np.array(way) for way in _CONVENTIONS] if up is None else [up]
        for way in ways:
            turn = _turn_up(way / np.linalg.norm(way))
            top = float(np.percentile(points @ turn[2], 98.0))
            upright = Rigid(rotation=turn, shift=np.array([0.0, 0.0, 1500.0 - top]))
            found.append(Footing(upright=upright, on_ground=False, walls=walls))
    return found[:2]


def _turn_up(up: FloatArray) -> FloatArray:
    other = np.eye(3)[int(np.argmin(np.abs(up)))]
    x = np.cross(other, up)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(up, x), up])


def begins(moving: FloatArray, fixed: FloatArray, stood: Footing, on: Footing, most: int = 5) -> list[Begin]:
    """Return the likeliest places of one piece on another, from all headings and shifts.

    Parameters
    ----------
    moving, fixed : (n, 3) float, instrument frame, each its own axes [mm], about even
    stood, on : how each stands
    most : how many
    """
    a, b = stood.upright.points(moving[stood.free(moving)]), on.upright.points(fixed[on.free(fixed)])
    if stood.on_ground and on.on_ground:
        a, b = a[a[:, 2] > _ABOVE_GROUND_MM], b[b[:, 2] > _ABOVE_GROUND_MM]
    if len(a) < 50 or len(b) < 50:
        return []
    middle_a, middle_b = _middle(a), _middle(b)
    a, b = a - middle_a, b - middle_b
    reach = min(_REACH_MM, max(_radius(a), _radius(b)))
    size = fft.next_fast_len(2 * int(2.0 * reach / CELL_MM) + 2)
    waves = 2.0 * np.pi / np.array(_WAVES_MM)
    fixed_maps = [fft.fft2(m) for m in _maps(b, reach, size, waves)]
    rises = (0.0,) if stood.on_ground and on.on_ground else _RISES_MM
    found = []
    for heading in np.arange(0.0, 2.0 * np.pi - 1e-9, TURN):
        c, s = np.cos(heading), np.sin(heading)
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        products = [
            f * np.conj(fft.fft2(m))
            for m, f in zip(_maps(a @ turn.T, reach, size, waves), fixed_maps, strict=True)
        ]
        for rise in rises:
            total = -_AGAINST * products[0]
            for product, wave, weight in zip(products[1:], waves, _WAVE_WEIGHTS, strict=True):
                total = total + weight * np.exp(-1j * wave * rise) * product
            score = fft.ifft2(total).real
            best = np.unravel_index(int(np.argmax(score)), score.shape)
            by = [((k + size // 2) % size - size // 2) * CELL_MM for k in best]
            shift = np.array([by[0], by[1], rise])
            move = Rigid(rotation=turn, shift=shift + middle_b - turn @ middle_a)
            found.append(
                Begin(move=on.upright.inverse().after(move).after(stood.upright), score=float(score[best]))
            )
    return _apart(sorted(found, key=lambda one: -one.score), moving.mean(axis=0), most)


def _middle(points: FloatArray) -> FloatArray:
    middle = np.median(points, axis=0)
    middle[2] = 0.0
    return middle


def _radius(points: FloatArray) -> float:
    return float(np.percentile(np.abs(points[:, :2]), 99.0)) + 2.0 * CELL_MM


def _maps(points: FloatArray, reach: float, size: int, waves: FloatArray) -> list[FloatArray]:
    """Return which cells are seen, and the highest point of each as a phase for each wave."""
    index = np.floor((points[:, :2] + reach) / CELL_MM).astype(np.int64)
    inside = ((index >= 0) & (index < int(2.0 * reach / CELL_MM))).all(axis=1)
    cell = index[inside, 0] * size + index[inside, 1]
    top = np.full(size * size, -np.inf)
    np.maximum.at(top, cell, points[inside, 2])
    seen = np.isfinite(top)
    height = np.where(seen, top, 0.0)
    phases = [np.where(seen, np.exp(1j * wave * height), 0.0).reshape(size, size) for wave in waves]
    return [seen.astype(float).reshape(size, size), *phases]


def _apart(ordered: list[Begin], at: FloatArray, most: int) -> list[Begin]:
    kept: list[Begin] = []
    for one in ordered:
        if all(_differ(one.move, other.move, at) for other in kept):
            kept.append(one)
        if len(kept) == most:
            break
    return kept


def _differ(one: Rigid, other: Rigid, at: FloatArray) -> bool:
    turn, off = one.apart_from(other, at)
    return turn > np.deg2rad(20.0) or off > 350.0
