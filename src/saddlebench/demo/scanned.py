"""A phone's scan of a horse, played: a shape among its surroundings, turned, scaled, noised, holed."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from trimesh.remesh import subdivide_to_size

from saddlebench.engine.frames import FloatArray, rotation_from_vector

Faces = NDArray[np.integer]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedScan:
    """What a scanner would give, and how it came about."""

    vertices: FloatArray
    """(n, 3) float, instrument frame, the scan's own unit."""
    faces: Faces
    """(m, 3) int, vertex indices."""
    rotation: FloatArray
    """(3, 3) from the shape's own axes to the instrument's."""
    translation_mm: FloatArray
    """(3,) float, instrument frame [mm]."""
    units_per_mm: float

    def carried(self, points_mm: FloatArray) -> FloatArray:
        """Return points (k, 3) of the shape [mm] where the scan has them, in its own unit."""
        return (points_mm @ self.rotation.T + self.translation_mm) * self.units_per_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Playing:
    """What is done to a shape."""

    noise_mm: float = 3.0
    holes: float = 0.2
    """Share of the surface that is missing, in round patches."""
    hole_mm: float = 60.0
    """Radius of a patch [mm]."""
    ground: bool = True
    clutter: bool = True
    turned: bool = True
    scaled: bool = True
    edge_mm: float = 14.0
    """Faces are made so fine first, as a scanner's are; 0 leaves them as they are [mm]."""
    falls_deg: tuple[float, float] = (0.0, 0.0)
    """How the ground falls to the shape's left and to its tail; legs reach down to it, the trunk stays."""
    gravity_kept: bool = False
    """Turned about the upright only, with y or z upwards: as phones write what they feel."""


PHONE = Playing()


class Cut(StrEnum):
    """Which way a shape is parted into pieces."""

    SIDES = "near and off side"
    ENDS = "front and rear"


def play_scan(vertices_mm: FloatArray, faces: Faces, seed: int, playing: Playing = PHONE) -> PlayedScan:
    """Play the scan of a shape.

    Parameters
    ----------
    vertices_mm : (n, 3) float, z up, on the ground where it is lowest [mm]
    faces : (m, 3) int, vertex indices
    seed : for everything that is left to chance
    playing : what is done to it
    """
    rng = np.random.default_rng(seed)
    vertices, triangles = _fine(_on_slope(vertices_mm, playing), faces, playing.edge_mm)
    horse = _holed(vertices, triangles, playing, rng)
    return _as_scanned([horse, *_surroundings(vertices_mm, playing, rng)], playing, rng)


def play_pieces(
    vertices_mm: FloatArray,
    faces: Faces,
    seed: int,
    playing: Playing = PHONE,
    *,
    cut: Cut = Cut.SIDES,
    pieces: int = 2,
    overlap: float = 0.3,
) -> list[PlayedScan]:
    """Play partial scans of a shape among one and the same surroundings, each with axes and noise of its own.

    Parameters
    ----------
    vertices_mm : (n, 3) float, x along the shape, z up, on the ground where it is lowest [mm]
    faces : (m, 3) int, vertex indices
    seed : for everything that is left to chance
    playing : what is done to each piece
    cut : which way the shape is parted
    pieces : how many
    overlap : share of the surface that lies on two neighbouring pieces
    """
    rng = np.random.default_rng(seed)
    vertices, triangles = _fine(vertices_mm, faces, playing.edge_mm)
    around = _surroundings(vertices_mm, playing, rng)
    corners = vertices[triangles]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    middle = corners.mean(axis=1)[:, 1 if cut is Cut.SIDES else 0]
    order = np.argsort(-middle, kind="stable")
    share = np.zeros(len(order))
    share[order] = np.cumsum(area[order]) / area.sum()
    played = []
    for k in range(pieces):
        own = np.random.default_rng([seed, k])
        low, high = k / pieces - 0.5 * overlap, (k + 1) / pieces + 0.5 * overlap
        inside = (share >= low) & (share <= high)
        horse = _holed(*_used(vertices, triangles[inside]), playing, own)
        played.append(_as_scanned([horse, *around], playing, own))
    return played


def _used(vertices: FloatArray, faces: Faces) -> tuple[FloatArray, Faces]:
    used = np.unique(faces)
    renumbered = np.zeros(len(vertices), dtype=np.int64)
    renumbered[used] = np.arange(len(used))
    return vertices[used], renumbered[faces]


def _surroundings(
    vertices_mm: FloatArray, playing: Playing, rng: np.random.Generator
) -> list[tuple[FloatArray, Faces]]:
    around = [_ground(vertices_mm, rng)] if playing.ground else []
    around += _clutter(vertices_mm, rng) if playing.clutter else []
    ground = 1 if playing.ground else 0
    # What stands on the ground stays upright.
    return [
        (points + _fall(points if k < ground else points.mean(axis=0), playing), faces)
        for k, (points, faces) in enumerate(around)
    ]


def _fall(points: FloatArray, playing: Playing) -> FloatArray:
    """Return how the ground moves points (…, 3) of the shape's own axes [mm], itself level at the middle."""
    left, tail = np.tan(np.deg2rad(playing.falls_deg))
    down = left * points[..., 1] - tail * points[..., 0]
    return np.stack([np.zeros_like(down), np.zeros_like(down), -down], axis=-1)


def _on_slope(vertices: FloatArray, playing: Playing) -> FloatArray:
    """Stand a shape (n, 3) [mm] on falling ground: legs longer or shorter, all above the elbow as it is."""
    low, high = vertices[:, 2].min(), np.percentile(vertices[:, 2], 98.0)
    share = np.clip((0.55 - (vertices[:, 2] - low) / (high - low)) / 0.3, 0.0, 1.0)
    return vertices + share[:, None] * _fall(vertices, playing)


def _as_scanned(
    parts: list[tuple[FloatArray, Faces]], playing: Playing, rng: np.random.Generator
) -> PlayedScan:
    points, faces = joined(parts)
    points = points + rng.normal(0.0, playing.noise_mm, points.shape)
    turn = _turn(playing, rng)
    units = float(np.exp(rng.uniform(np.log(1e-3), np.log(10.0)))) if playing.scaled else 1.0
    shift = rng.uniform(-3000.0, 3000.0, 3) if playing.turned else np.zeros(3)
    played = PlayedScan(
        vertices=np.zeros((0, 3)), faces=faces, rotation=turn, translation_mm=shift, units_per_mm=units
    )
    return replace(played, vertices=played.carried(points))


def _fine(vertices: FloatArray, faces: Faces, edge_mm: float) -> tuple[FloatArray, Faces]:
    if edge_mm <= 0.0:
        return vertices, faces
    fine, triangles = subdivide_to_size(vertices, faces, max_edge=1.6 * edge_mm, max_iter=12)
    keys, index = np.unique(np.round(fine, 3), axis=0, return_inverse=True)
    return keys, index[triangles]


def _holed(
    vertices: FloatArray, faces: Faces, playing: Playing, rng: np.random.Generator
) -> tuple[FloatArray, Faces]:
    middles = vertices[faces].mean(axis=1)
    kept = np.ones(len(faces), dtype=bool)
    while kept.mean() > 1.0 - playing.holes:
        at = middles[rng.integers(len(middles))]
        radius = playing.hole_mm * rng.uniform(0.4, 1.0)
        kept &= ((middles - at) ** 2).sum(axis=1) > radius**2
    return vertices, faces[kept]


def _ground(vertices: FloatArray, rng: np.random.Generator) -> tuple[FloatArray, Faces]:
    middle = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    x = np.arange(-2000.0, 2001.0, 40.0)
    across, along = np.meshgrid(x, x * 0.7, indexing="ij")
    lowest = float(vertices[:, 2].min())
    uneven = 4.0 * np.sin(across / 300.0 + rng.uniform(0, 6)) * np.sin(along / 400.0 + rng.uniform(0, 6))
    points = np.stack([across + middle[0], along + middle[1], lowest + uneven], axis=-1).reshape(-1, 3)
    return points, _grid_faces(*across.shape)


def _grid_faces(rows: int, columns: int) -> Faces:
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    a = i * columns + j
    b, c, d = a + 1, a + columns, a + columns + 1
    return np.concatenate(
        [np.stack([a, c, b], axis=-1).reshape(-1, 3), np.stack([b, c, d], axis=-1).reshape(-1, 3)]
    )


def _clutter(vertices: FloatArray, rng: np.random.Generator) -> list[tuple[FloatArray, Faces]]:
    """Return a bale, a bucket's worth of box, a person, a wall: beside the horse, none touching it."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    middle = 0.5 * (low + high)
    ground = float(low[2])
    side = 1.0 if rng.random() < 0.5 else -1.0
    beside = 0.5 * (high[1] - low[1]) + 350.0
    things = [
        (np.array([rng.uniform(-900, 900), side * (beside + 200.0), 225.0]), np.array([900.0, 450.0, 450.0])),
        (
            np.array([rng.uniform(-900, 900), -side * (beside + 100.0), 850.0]),
            np.array([300.0, 450.0, 1700.0]),
        ),
        (
            np.array([rng.uniform(-900, 900), -side * (beside + 500.0), 150.0]),
            np.array([300.0, 300.0, 300.0]),
        ),
    ]
    parts = [box(middle * [1, 1, 0] + [0, 0, ground] + at, size) for at, size in things]
    if rng.random() < 0.5:
        wall = np.array([0.0, side * (beside + 900.0), 1100.0])
        parts.append(box(middle * [1, 1, 0] + [0, 0, ground] + wall, np.array([3600.0, 60.0, 2200.0])))
    return parts


def box(middle: FloatArray, size: FloatArray) -> tuple[FloatArray, Faces]:
    """Return a box as a mesh about its middle (3,), with edges (3,), any frame [mm]."""
    steps = np.linspace(-0.5, 0.5, 20)
    u, v = np.meshgrid(steps, steps, indexing="ij")
    points: list[FloatArray] = []
    faces: list[Faces] = []
    for axis in range(3):
        for end in (-0.5, 0.5):
            face = np.zeros((*u.shape, 3))
            face[..., axis], face[..., (axis + 1) % 3], face[..., (axis + 2) % 3] = end, u, v
            faces.append(_grid_faces(*u.shape) + 400 * len(points))
            points.append(face.reshape(-1, 3) * size + middle)
    return np.concatenate(points), np.concatenate(faces)


def joined(parts: list[tuple[FloatArray, Faces]]) -> tuple[FloatArray, Faces]:
    """Return several meshes, vertices (n, 3) in one frame [mm] and faces, as one."""
    begins = np.cumsum([0] + [len(points) for points, _ in parts[:-1]])
    return (
        np.concatenate([points for points, _ in parts]),
        np.concatenate([faces + begin for (_, faces), begin in zip(parts, begins, strict=True)]),
    )


def _turn(playing: Playing, rng: np.random.Generator) -> FloatArray:
    if not playing.turned:
        return np.eye(3)
    if not playing.gravity_kept:
        return _any_turn(rng)
    about_upright = rotation_from_vector(np.array([0.0, 0.0, rng.uniform(-np.pi, np.pi)]))
    y_up = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    return about_upright if rng.random() < 0.5 else y_up @ about_upright


def _any_turn(rng: np.random.Generator) -> FloatArray:
    axis = rng.normal(size=3)
    return rotation_from_vector(axis / np.linalg.norm(axis) * rng.uniform(0.0, np.pi))
