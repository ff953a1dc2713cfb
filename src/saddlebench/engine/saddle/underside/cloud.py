"""The points of a scan: thinned, what it stands on taken away, split into things that do not touch."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from saddlebench.engine.errors import InputProblemsError, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import Length

FINE_MM = 1.8
COARSE_MM = 8.0
WIDE_MM2 = 45.0
"""A face with more area than this has points put between its corners."""
TOUCHING_MM = 16.0
"""Points nearer than this belong to one thing."""
SADDLE_MM = (300.0, 2500.0)
"""Longest measure of a scan with a saddle in it: from a child's saddle alone to one with stand and girth
(common practice)."""
MOST_POINTS = 2_000_000
FEWEST_POINTS = 500
ROOM_MM = (200.0, 20_000.0)
"""Longest measure of a scan that is looked at all: from part of a saddle to a hall (judgement)."""
_TABLE_MM = 450.0
_TABLE_OFF_MM = 9.0
_TRIES = 400
_NEIGHBOURS = 14
Faces = NDArray[np.integer]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitGuess:
    """How long the scan would be, read in one unit."""

    unit: Length
    longest_mm: float
    is_likely: bool


def unit_guesses(points: FloatArray) -> tuple[UnitGuess, ...]:
    """Return what each unit would make of a scan; nothing is decided.

    Parameters
    ----------
    points : (n, 3) float, the scan's own axes and unit
    """
    longest = _longest(points)
    low, high = SADDLE_MM
    return tuple(
        UnitGuess(unit=unit, longest_mm=longest * unit.in_mm, is_likely=low <= longest * unit.in_mm <= high)
        for unit in Length
    )


def refuse_absurd(points: FloatArray, name: str) -> None:
    """Refuse what cannot be a scan of a saddle, before any work is put into it.

    Parameters
    ----------
    points : (n, 3) float, instrument frame [mm]
    name : the file's

    Raises
    ------
    InputProblemsError
        If there are hardly any points, or all together are far too small or too large.
    """
    if len(points) < FEWEST_POINTS:
        what = f"the scan has {len(points)} points: too few to show an underside"
        raise input_problem(
            what,
            "Scan the whole underside, closely enough that its points lie within 10 mm.",
            Where(file=name),
        )
    longest = _longest(points)
    if not ROOM_MM[0] <= longest <= ROOM_MM[1]:
        what = f"in this unit the scan’s longest measure is {longest:,.4g} mm: there is no saddle in it"
        raise input_problem(what, "Check the unit.", Where(file=name, field="unit"))


def _longest(points: FloatArray) -> float:
    """Return the longest measure that 98 % of points (n, 3) float span, any frame [any unit]."""
    if len(points) < 2:
        return 0.0
    centred = points[:: max(1, len(points) // 20_000)]
    centred = centred - centred.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    along = centred @ axes[:, -1]
    return float(np.subtract(*np.percentile(along, [99.0, 1.0])))


def surface_points(vertices: FloatArray, faces: Faces | None) -> FloatArray:
    """Return points spread over a mesh closely enough, or a point cloud as it is.

    Parameters
    ----------
    vertices : (v, 3) float, instrument frame [mm]
    faces : (f, 3) int, or None for a point cloud

    Returns
    -------
    (n, 3) float, instrument frame [mm]
    """
    if faces is None or not len(faces):
        return vertices
    first, second, third = (vertices[faces[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(second - first, third - first), axis=1)
    wide = np.flatnonzero(area > WIDE_MM2)
    if not len(wide):
        return vertices
    # Corners of a scan are its readings, and what lies between two of them repeats their errors; only where
    # faces are wide (a drawn solid, a wall) are there too few of them.
    sizes = area[wide]
    wanted = int(min(MOST_POINTS, sizes.sum() / FINE_MM**2))
    # Evenly along the running area, so that every patch gets its share; the seed makes it repeatable.
    random = np.random.default_rng(1)
    at = np.searchsorted(np.cumsum(sizes), (np.arange(wanted) + 0.5) / wanted * sizes.sum())
    at = wide[np.minimum(at, len(wide) - 1)]
    u, v = random.random((2, wanted))
    over = u + v > 1.0
    u[over], v[over] = 1.0 - u[over], 1.0 - v[over]
    between = first[at] + u[:, None] * (second[at] - first[at]) + v[:, None] * (third[at] - first[at])
    return np.concatenate([vertices, between])


def thinned(points: FloatArray, cell_mm: float) -> FloatArray:
    """Return one mean point for each cell that holds any: points (n, 3) float, instrument frame [mm]."""
    keys = np.floor((points - points.min(axis=0)) / cell_mm).astype(np.int64)
    counts = keys.max(axis=0) + 1
    flat = (keys[:, 0] * counts[1] + keys[:, 1]) * counts[2] + keys[:, 2]
    _, cell, held = np.unique(flat, return_inverse=True, return_counts=True)
    return np.stack([np.bincount(cell, weights=points[:, k]) / held for k in range(3)], axis=1)


def normals_of(points: FloatArray) -> FloatArray:
    """Return unit normals without a side, (n, 3) float, of points (n, 3) float, instrument frame [mm]."""
    _, near = cKDTree(points).query(points, k=min(_NEIGHBOURS, len(points)))
    around = points[near] - points[near].mean(axis=1, keepdims=True)
    _, axes = np.linalg.eigh(np.einsum("nki,nkj->nij", around, around))
    return axes[:, :, 0]


def without_tables(points: FloatArray) -> FloatArray:
    """Return points (n, 3) float, instrument frame [mm], without the flat things larger than any saddle.

    A table, floor or wall is a plane that reaches 450 mm and more both ways, with all else on one side.
    """
    for _ in range(3):
        flat = _largest_plane(points) if len(points) >= FEWEST_POINTS else None
        if flat is None:
            return points
        points = points[~flat]
    return points


def _largest_plane(points: FloatArray) -> Bools | None:
    random = np.random.default_rng(2)
    sample = points[random.permutation(len(points))[:4000]]
    best: tuple[int, FloatArray, float] | None = None
    for _ in range(_TRIES):
        a, b, c = sample[random.integers(0, len(sample), 3)]
        normal = np.cross(b - a, c - a)
        size = float(np.linalg.norm(normal))
        if size < 1e4:
            continue
        normal = normal / size
        count = int((np.abs((sample - a) @ normal) < _TABLE_OFF_MM).sum())
        if best is None or count > best[0]:
            best = (count, normal, float(a @ normal))
    if best is None:
        return None
    normal, level = best[1], best[2]
    for _ in range(4):
        inside = np.abs(points @ normal - level) < _TABLE_OFF_MM
        middle = points[inside].mean(axis=0)
        _, axes = np.linalg.eigh(np.cov((points[inside] - middle).T))
        normal, level = axes[:, 0], float(middle @ axes[:, 0])
    height = points @ normal - level
    inside = np.abs(height) < _TABLE_OFF_MM
    spread = np.subtract(*np.percentile((points[inside] - middle) @ axes[:, 1:], [96.0, 4.0], axis=0))
    beyond = [int((height > _TABLE_OFF_MM).sum()), int((height < -_TABLE_OFF_MM).sum())]
    if min(spread) < _TABLE_MM or min(beyond) > 0.15 * max(beyond):
        return None
    return inside


def things(points: FloatArray, least_mm: float) -> list[FloatArray]:
    """Return the points of each thing that is large enough, the largest first.

    Parameters
    ----------
    points : (n, 3) float, instrument frame [mm]
    least_mm : diagonal of its bounding box [mm]

    Raises
    ------
    InputProblemsError
        If nothing is.
    """
    found: list[FloatArray] = []
    if not len(points):
        raise _nothing_large(least_mm)
    pairs = cKDTree(points).query_pairs(TOUCHING_MM, output_type="ndarray")
    links = coo_array(
        (np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points))
    )
    _, label = connected_components(links, directed=False)
    for one in np.argsort(-np.bincount(label))[:8]:
        mine = points[label == one]
        if float(np.linalg.norm(np.ptp(mine, axis=0))) >= least_mm:
            found.append(mine)
    if not found:
        raise _nothing_large(least_mm)
    return found


def _nothing_large(least_mm: float) -> InputProblemsError:
    return input_problem(
        f"besides table and floor, nothing in the scan is as large as a saddle ({least_mm:.0f} mm)",
        "Check the unit; scan the whole underside, closely enough that its points lie within 10 mm.",
        Where(field="unit"),
    )
