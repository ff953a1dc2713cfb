"""Scans of saddles lying upside down, made up: from a saddle's model, or from solids that know no saddle.

Every scan is made in the saddle frame, so that the truth is known, then turned at random, made noisy, holed,
and set among other things.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import trimesh
from scipy.spatial.transform import Rotation

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT, side_patch
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers

WALL_MM = 26.0
FLAP_MM = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Upturned:
    """A made scan with its truth."""

    vertices: FloatArray
    """(v, 3) float, instrument frame [mm]."""
    faces: FloatArray
    rotation: FloatArray
    """(3, 3) float: from the saddle's axes to the scan's."""
    shift: FloatArray
    """(3,) float, instrument frame [mm]: the saddle's origin."""


def grid_faces(rows: int, columns: int) -> FloatArray:
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    a = (i * columns + j).ravel()
    b, c, d = a + 1, a + columns, a + columns + 1
    return np.concatenate([np.stack([a, c, b], axis=1), np.stack([b, c, d], axis=1)])


def sheet(points: FloatArray) -> trimesh.Trimesh:
    """Return the mesh of a grid of points (r, c, 3)."""
    return trimesh.Trimesh(points.reshape(-1, 3), grid_faces(*points.shape[:2]), process=False)


def between(first: FloatArray, last: FloatArray, spacing: float) -> trimesh.Trimesh:
    """Return the ruled sheet between two lines of as many points; it begins half a step past both."""
    steps = max(2, int(np.median(np.linalg.norm(last - first, axis=1)) / spacing) + 1)
    share = ((np.arange(steps) + 0.5) / steps)[None, :, None]
    return sheet(first[:, None] + share * (last - first)[:, None])


def underside_of(model: SaddleModel, spacing: float = 2.5) -> trimesh.Trimesh:
    """Return the underside of a model with walls, the channel's roof and flaps, saddle frame [mm].

    No corner of the mesh lies on an edge of the saddle, as none of a scan does.
    """
    parts, roofs = [], []
    channel = model.channel
    for side in (LEFT, RIGHT):
        mirror = np.array([1.0, float(side), 1.0])
        patch = side_patch(model.bearing, side)
        rows, columns = int(440 / spacing), int(120 / spacing)
        t, v = (np.arange(rows) + 0.5) / rows, (np.arange(columns) + 0.5) / columns

        def line(at_t: FloatArray, at_v: FloatArray) -> FloatArray:
            return patch(*np.broadcast_arrays(at_t, at_v)) * mirror  # noqa: B023 - used at once

        grid = line(np.repeat(t, columns), np.tile(v, rows)).reshape(rows, columns, 3)
        parts.append(sheet(grid))
        inner, outer = line(t, np.zeros(1)), line(t, np.ones(1))
        roof = inner.copy()
        roof[:, 2] = np.interp(-inner[:, 0], -channel.x_mm, channel.roof_z_mm)
        roofs.append(roof)
        parts.append(between(inner, roof, spacing))
        up = outer + np.array([0.0, 0.0, WALL_MM])
        parts += [
            between(outer, up, spacing),
            between(up, up + np.array([0.0, side * FLAP_MM, -15.0]), spacing),
        ]
        for end in (0.0, 1.0):
            edge = line(np.array([end]), v)
            parts.append(between(edge, edge + np.array([0.0, 0.0, WALL_MM]), spacing))
    parts.append(between(roofs[0], roofs[1], spacing))
    return trimesh.util.concatenate(parts)


def slabs(
    *,
    twist_deg: float = 0.0,
    channel_mm: float = 72.0,
    angle_deg: tuple[float, float] = (42.0, 28.0),
    length_mm: float = 430.0,
    width_mm: tuple[float, float] = (135.0, 100.0),
    dent: tuple[int, float, float, float, float] | None = None,
) -> trimesh.Trimesh:
    """Return two thick panels made of boxes, bent and twisted, saddle frame [mm].

    Parameters
    ----------
    twist_deg : how far the rear is turned about the long axis against the front
    dent : side, place behind the front edge, share of the width, depth and radius of a ball's cap pressed in
    """
    parts = []
    for side in (1, -1):
        box = trimesh.creation.box((length_mm, 1.0, 28.0))
        box.apply_translation([-0.5 * length_mm, 0.5, 14.0])
        # A unit wide, so that a taper can be put on afterwards; thick upwards from the underside at z = 0.
        box.apply_scale([1.0, width_mm[1], 1.0])
        box = box.subdivide_to_size(5.0)
        if dent is not None and dent[0] == side:
            _, behind, across, depth, radius = dent
            ball = (radius**2 + depth**2) / (2.0 * depth)
            sphere = trimesh.creation.icosphere(subdivisions=6, radius=ball)
            sphere.apply_translation([-behind, across * width_mm[1], depth - ball])
            box = trimesh.boolean.difference([box, sphere], engine="manifold")
            box = box.subdivide_to_size(5.0)
        points = np.array(box.vertices)
        t = -points[:, 0] / length_mm
        wide = np.interp(t, [0.0, 0.45, 1.0], [width_mm[0], width_mm[1], width_mm[1] + 15.0]) / width_mm[1]
        angle = np.radians(
            angle_deg[0] + (angle_deg[1] - angle_deg[0]) * np.clip(1.6 * t - 0.6 * t * t, 0.0, 1.0)
        )
        out, up = points[:, 1] * wide, points[:, 2]
        y = 0.5 * channel_mm + out * np.cos(angle) + up * np.sin(angle)
        z = -out * np.sin(angle) + up * np.cos(angle) + 40.0 * (t - 0.5) ** 2
        roll = np.radians(twist_deg) * t
        y = side * y
        across, height = y * np.cos(roll) - z * np.sin(roll), y * np.sin(roll) + z * np.cos(roll)
        turned = np.stack([points[:, 0], across, height], axis=1)
        parts.append(trimesh.Trimesh(turned, box.faces if side > 0 else box.faces[:, ::-1], process=False))
    return trimesh.util.concatenate(parts)


def table(spacing: float = 6.0, top_z: float = 170.0) -> trimesh.Trimesh:
    """Return the table under a saddle that lies upside down, saddle frame [mm]."""
    x, y = np.arange(-900.0, 500.0, spacing), np.arange(-650.0, 650.0, spacing)
    gx, gy = np.meshgrid(x, y, indexing="ij")
    return sheet(np.stack([gx, gy, np.full_like(gx, top_z)], axis=-1))


def clutter(random: np.random.Generator) -> list[trimesh.Trimesh]:
    """Return a table, a stand, a hand at an edge, a strap and a box, saddle frame [mm]."""
    hand = trimesh.creation.capsule(height=90.0, radius=22.0).subdivide_to_size(6.0)
    hand.apply_transform(trimesh.transformations.rotation_matrix(random.uniform(0, 3), [1, 0, 0.3]))
    hand.apply_translation([random.uniform(-380, -60), random.choice([-1, 1]) * 185.0, -30.0])
    stand = trimesh.creation.cylinder(radius=70.0, height=120.0).subdivide_to_size(8.0)
    # In front of the saddle: what a scan sees are first surfaces, and nothing through the panels.
    stand.apply_translation([150.0, 0.0, 105.0])
    strap = trimesh.creation.box((42.0, 220.0, 5.0)).subdivide_to_size(5.0)
    strap.apply_translation([random.uniform(-250, -170), random.choice([-1, 1]) * 260.0, 8.0])
    thing = trimesh.creation.box((160.0, 120.0, 90.0)).subdivide_to_size(8.0)
    thing.apply_translation([random.uniform(-700, 300), random.choice([-1, 1]) * 420.0, 120.0])
    return [table(), stand, hand, strap, thing]


def sampled(mesh: trimesh.Trimesh, seed: int, mm2_a_point: float = 3.0) -> trimesh.Trimesh:
    """Return loose points spread evenly at random over a solid's surface, as a mesh without faces."""
    points, _ = trimesh.sample.sample_surface(mesh, int(mesh.area / mm2_a_point), seed=seed)
    return trimesh.Trimesh(np.array(points), np.zeros((0, 3), int), process=False)


def upturned(
    mesh: trimesh.Trimesh,
    seed: int,
    *,
    noise_mm: float = 2.0,
    holes: int = 0,
    hole_mm: float = 18.0,
    with_clutter: bool = True,
) -> Upturned:
    """Return a scan of it: noise of the given standard deviation, round holes, other things around."""
    random = np.random.default_rng(seed)
    parts = [mesh, *(clutter(random) if with_clutter else ())]
    vertices = np.concatenate([np.array(part.vertices) for part in parts])
    begins = np.cumsum([0, *(len(part.vertices) for part in parts)])
    # Loose points stay loose, whatever stands around them.
    faces = np.concatenate(
        [np.array(part.faces).reshape(-1, 3) + at for part, at in zip(parts, begins, strict=False)]
        if len(mesh.faces)
        else [np.zeros((0, 3), int)]
    )
    gone = np.zeros(len(vertices), bool)
    for _ in range(holes):
        middle = mesh.vertices[random.integers(0, len(mesh.vertices))]
        gone |= np.linalg.norm(vertices - middle, axis=1) < hole_mm
    number = np.cumsum(~gone) - 1
    faces = number[faces[~gone[faces].any(axis=1)]]
    rotation = Rotation.random(random_state=seed).as_matrix()
    shift = random.uniform(-800.0, 800.0, 3)
    noisy = vertices[~gone] + random.normal(0.0, noise_mm, (int((~gone).sum()), 3))
    return Upturned(vertices=noisy @ rotation.T + shift, faces=faces, rotation=rotation, shift=shift)


@cache
def scan_file() -> bytes:
    """Return the file of a scan of the demo's all-round saddle, in metres."""
    mesh = underside_of(model_from_numbers(ALL_ROUND, 2000), spacing=3.5)
    made = upturned(mesh, 5, noise_mm=0.7, with_clutter=False)
    return bytes(trimesh.Trimesh(made.vertices / 1000.0, made.faces, process=False).export(file_type="ply"))
