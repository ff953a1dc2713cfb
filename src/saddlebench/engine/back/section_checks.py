"""What the shape of sections tells: kinks, chords too coarse, repeats that differ, swaps."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from saddlebench.engine.back.halves import Halves
from saddlebench.engine.back.outline import distance_to
from saddlebench.engine.back.rules import QualityRules
from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

HALF_WIDTH_STEP_MM = 20.0


def shape_problems(halves: Halves, rules: QualityRules, *, bends: bool = True) -> Iterator[Problem]:
    """Yield what is wrong with one section by itself; few points far apart say nothing of `bends`."""
    for side, path in (("left", halves.left), ("right", halves.right)):
        if len(path) > 1:
            yield from _size_problems(path, Where(station=halves.station.number, side=side), rules)
    if not bends:
        return
    across = np.vstack([halves.right[:0:-1] * np.array([-1.0, 1.0]), halves.left])
    found: set[str] = set()
    for i in range(1, len(across) - 1):
        side = {1.0: "left", -1.0: "right"}.get(float(np.sign(across[i, 0])), "")
        problem = _bend_problem(across, i, Where(station=halves.station.number, side=side), rules)
        if problem is not None and side not in found:
            found.add(side)
            yield problem


def _warning(what: str, cure: str, where: Where) -> Problem:
    return Problem(what=what, cure=cure, where=where, weight=Weight.WARNING)


def _size_problems(path: FloatArray, where: Where, rules: QualityRules) -> Iterator[Problem]:
    reach, drop = float(path[:, 0].max()), float(np.ptp(path[:, 1]))
    if reach < rules.narrowest_reach_mm:
        yield _warning(
            f"The section reaches only {reach:.0f} mm out from the midline",
            "Was it written in inches or centimetres? State the unit; or measure further out.",
            where,
        )
    elif reach > 100.0 and drop < rules.flattest_drop_mm:
        yield _warning(
            f"The section falls by only {drop:.0f} mm over {reach:.0f} mm",
            "Were the depths written in inches or centimetres? State the unit; or measure again.",
            where,
        )


def _bend_problem(across: FloatArray, i: int, where: Where, rules: QualityRules) -> Problem | None:
    """Judge a section's bend at one of its points, by the circle through it and points some way off."""
    away = np.linalg.norm(across - across[i], axis=1)
    before = np.flatnonzero(away[:i] >= rules.kink_step_mm)
    after = np.flatnonzero(away[i:] >= rules.kink_step_mm)
    if len(before) == 0 or len(after) == 0:
        return None
    come, go = across[i] - across[before[-1]], across[i + after[0]] - across[i]
    turn = _angle(come, go)
    radius = float(np.linalg.norm(come + go)) / (2.0 * np.sin(turn)) if turn > 1e-6 else np.inf
    place = f"{abs(across[i, 0]):.0f} mm out and {round(-across[i, 1])} mm down"
    beside_spine = abs(across[i, 0]) >= rules.spine_half_width_mm
    if beside_spine and turn > rules.kink_deg * DEGREE and radius < rules.tightest_radius_mm:
        return _warning(
            f"A kink no back has, {place}: it turns by {turn / DEGREE:.0f}°",
            f"Read the {where.side} side of this section again around that place.",
            where,
        )
    gap = float(np.linalg.norm(np.diff(across[i - 1 : i + 2], axis=0), axis=1).max())
    sagitta = gap * gap / (8.0 * radius)
    if sagitta > rules.coarse_sagitta_mm:
        return _warning(
            f"Too coarse for the curve, {place}: points are {gap:.0f} mm apart",
            f"Add points there: between them the back may lie {sagitta:.0f} mm off.",
            where,
        )
    return None


def _angle(come: FloatArray, go: FloatArray) -> float:
    cross = come[0] * go[1] - come[1] * go[0]
    return float(abs(np.arctan2(cross, come @ go)))


def repeat_difference(first: Halves, again: Halves) -> float | None:
    """Return the root mean square distance of a repeated section from the first [mm], if they overlap."""
    off: list[FloatArray] = []
    for one, other in ((first.left, again.left), (first.right, again.right)):
        if len(one) > 2 and len(other) > 1:
            inside = other[1:][other[1:, 0] <= one[:, 0].max()]
            if len(inside):
                off.append(distance_to(one, inside))
    return float(np.sqrt(np.mean(np.concatenate(off) ** 2))) if off else None


def swap_problems(sections: Sequence[Halves], rules: QualityRules) -> Iterator[Problem]:
    """Yield neighbouring sections that look swapped, and a section whose sides do.

    Along a back sections change smoothly: each lies near the straight line between its neighbours. If trading
    two sections (or the sides of one) makes the row much smoother, they were probably written down swapped.
    """
    row = sorted(sections, key=lambda halves: halves.station.distance_mm)
    reach = min((min(h.left[:, 0].max(), h.right[:, 0].max()) for h in row), default=0.0)
    out = np.arange(1, int(0.9 * reach / HALF_WIDTH_STEP_MM) + 1) * HALF_WIDTH_STEP_MM
    profiles = [halves.heights(out) for halves in row]
    known = [(h, p) for h, p in zip(row, profiles, strict=True) if p is not None]
    if len(out) < 2 or len(known) < 3:
        return
    distances = np.array([h.station.distance_mm for h, _ in known])
    shapes = np.array([p for _, p in known])
    numbers = [h.station.number for h, _ in known]
    # Trading by chance what only errors set apart is not a find.
    least = max(rules.swap_mm, rules.swap_errors * float(np.mean([h.sd_mm for h, _ in known])))
    traded = _swapped_neighbours(distances, shapes, rules.swap_ratio, least) if len(known) >= 4 else None
    if traded is not None:
        one, other = numbers[traded], numbers[traded + 1]
        yield _warning(
            f"Stations {one} and {other} look swapped: traded, the back is smooth",
            "Check which section was written under which station, or measure both again.",
            Where(station=one),
        )
        return
    flipped = _swapped_sides(distances, shapes, rules.swap_ratio, least)
    if flipped is not None:
        yield _warning(
            "Left and right look swapped: its neighbours differ the other way round",
            "Check which side was called first here, or measure this section again.",
            Where(station=numbers[flipped]),
        )


def _unevenness(distances: FloatArray, shapes: FloatArray) -> float:
    """Root mean square of how far each inner section lies off the line between its neighbours [mm]."""
    share = (distances[1:-1] - distances[:-2]) / (distances[2:] - distances[:-2])
    share = share.reshape(-1, *(1,) * (shapes.ndim - 1))
    off = shapes[1:-1] - (1.0 - share) * shapes[:-2] - share * shapes[2:]
    return float(np.sqrt(np.mean(off * off)))


def _swapped_neighbours(
    distances: FloatArray, shapes: FloatArray, ratio: float, least_mm: float
) -> int | None:
    before = _unevenness(distances, shapes)
    after = []
    for i, j in pairwise(range(len(shapes))):
        order = np.arange(len(shapes))
        order[[i, j]] = j, i
        after.append(_unevenness(distances, shapes[order]))
    return _much_better(before, np.array(after), ratio, least_mm)


def _swapped_sides(distances: FloatArray, shapes: FloatArray, ratio: float, least_mm: float) -> int | None:
    left_less_right = shapes[:, 0] - shapes[:, 1]
    before = _unevenness(distances, left_less_right)
    after = []
    for i in range(len(shapes)):
        flipped = left_less_right.copy()
        flipped[i] *= -1.0
        after.append(_unevenness(distances, flipped))
    return _much_better(before, np.array(after), ratio, least_mm)


def _much_better(before: float, after: FloatArray, ratio: float, least_mm: float) -> int | None:
    best = int(np.argmin(after))
    better = before - after[best] > least_mm and before > ratio * after[best]
    return best if better else None
