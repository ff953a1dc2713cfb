"""Other horses than those at hand: a mesh made fatter, longer, its neck raised, cropped, something beside it.

All in the back frame (x to the head, z up, on the ground where it is lowest) and in mm of a horse of 1.60 m.
They are smooth fields, not animals: enough to see whether what was tuned on a few horses holds for others.
"""

from collections.abc import Callable, Mapping

import numpy as np
import trimesh
from numpy.typing import NDArray

from saddlebench.demo.scanned import Faces, box, joined
from saddlebench.engine.frames import FloatArray

_ELBOW_MM = -620.0
_FINE_ENOUGH = 50_000
"""Faces of a whole horse: with more its corners lie less than some 15 mm apart."""


def _step(x: FloatArray) -> FloatArray:
    x = np.clip(x, 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)


def fatter(vertices: FloatArray, share: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with barrel and belly wider by a share, the spine and the legs kept."""
    x, _, z = vertices.T
    barrel = _step((x + 900.0) / 200.0) * _step((350.0 - x) / 200.0) * _step((z + 900.0) / 250.0)
    out = vertices.copy()
    out[:, 1] *= 1.0 + share * barrel
    below = np.clip(-250.0 - z, 0.0, None)
    out[:, 2] -= 0.4 * share * barrel * _step(below / 300.0) * below
    return out


def rounded_off(vertices: FloatArray, faces: Faces) -> tuple[FloatArray, Faces]:
    """Return a mesh (n, 3) [mm] whose facets are rounded off where its corners lie far apart.

    Two steps of subdivision: Loop, Smooth subdivision surfaces based on triangles (1987).
    """
    mesh = trimesh.Trimesh(vertices, faces, process=True)
    if len(mesh.faces) > _FINE_ENOUGH:
        return vertices, faces
    return trimesh.remesh.subdivide_loop(mesh.vertices, mesh.faces, iterations=2)


def longer(vertices: FloatArray, share: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with the back between shoulder and loins longer by a share."""
    out = vertices.copy()
    out[:, 0] += share * 520.0 * (np.clip((vertices[:, 0] + 560.0) / 520.0, 0.0, 1.0) - 1.0)
    return out


def legged(vertices: FloatArray, factor: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with the legs below the elbow longer by a factor."""
    out = vertices.copy()
    low = vertices[:, 2] < _ELBOW_MM
    out[low, 2] = _ELBOW_MM + factor * (vertices[low, 2] - _ELBOW_MM)
    return out


def neck_raised(vertices: FloatArray, degrees: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with the neck bent up (or down) from its base before the withers."""
    base = np.array([280.0, 0.0, -220.0])
    away = vertices - base
    along = 0.82 * away[:, 0] + 0.57 * away[:, 2]
    angle = np.deg2rad(degrees) * _step(along / 300.0) * (vertices[:, 2] > -650.0)
    out = vertices.copy()
    out[:, 0] = base[0] + away[:, 0] * np.cos(angle) - away[:, 2] * np.sin(angle)
    out[:, 2] = base[2] + away[:, 0] * np.sin(angle) + away[:, 2] * np.cos(angle)
    return out


def hollow(vertices: FloatArray, depth_mm: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with the back sunk in its middle."""
    out = vertices.copy()
    sunk = np.exp(-0.5 * ((vertices[:, 0] + 230.0) / 160.0) ** 2) * _step((vertices[:, 2] + 800.0) / 200.0)
    out[:, 2] -= depth_mm * sunk
    return out


def narrower(vertices: FloatArray, factor: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with all widths times a factor."""
    return vertices * [1.0, factor, 1.0]


def rugged(vertices: FloatArray, thick_mm: float) -> FloatArray:
    """Return vertices (n, 3) [mm] with a rug of this thickness over the loins, both sides alike."""
    x, y, z = vertices.T
    over = _step((-400.0 - x) / 30.0) * _step((x + 1000.0) / 30.0) * _step((z + 350.0) / 60.0)
    out = vertices.copy()
    radius = np.hypot(y, z + 250.0) + 1e-9
    out[:, 1] += thick_mm * over * y / radius
    out[:, 2] += thick_mm * over * (z + 250.0) / radius
    return out


BUILDS: Mapping[str, Callable[[FloatArray], FloatArray]] = {
    "as it is": lambda v: v,
    "fat": lambda v: fatter(v, 0.25),
    "thin": lambda v: fatter(v, -0.25),
    "long": lambda v: longer(v, 0.15),
    "short": lambda v: longer(v, -0.12),
    "hollow": lambda v: hollow(v, 40.0),
    "neck up": lambda v: neck_raised(v, 25.0),
    "neck down": lambda v: neck_raised(v, -30.0),
    "draught": lambda v: narrower(legged(fatter(v, 0.18), 0.85), 1.05),
    "blood": lambda v: legged(narrower(v, 0.86), 1.06),
    "foal": lambda v: 0.62 * legged(narrower(v, 0.8), 1.35),
    "rug over the loins": lambda v: rugged(v, 20.0),
}
"""Horses of other builds and postures."""


def _kept(vertices: FloatArray, faces: Faces, kept: NDArray[np.bool_]) -> tuple[FloatArray, Faces]:
    return vertices, faces[kept[faces].all(axis=1)]


def _with_box(
    vertices: FloatArray, faces: Faces, middle: list[float], size: list[float]
) -> tuple[FloatArray, Faces]:
    low = float(vertices[:, 2].min())
    return joined([(vertices, faces), box(np.add(middle, (0.0, 0.0, low)), np.array(size))])


def _person(vertices: FloatArray, faces: Faces) -> tuple[FloatArray, Faces]:
    flank = float(np.abs(vertices[np.abs(vertices[:, 0] + 250.0) < 100.0, 1]).max())
    return _with_box(vertices, faces, [-250.0, flank + 110.0, 850.0], [300.0, 230.0, 1700.0])


def _second_horse(vertices: FloatArray, faces: Faces) -> tuple[FloatArray, Faces]:
    other, front = _kept(np.add(vertices, (500.0, 1150.0, 0.0)), faces, vertices[:, 0] > -700.0)
    return joined([(vertices, faces), (other, front)])


SCENES: Mapping[str, Callable[[FloatArray, Faces], tuple[FloatArray, Faces]]] = {
    "whole": lambda v, f: (v, f),
    "no legs below the knee": lambda v, f: _kept(v, f, v[:, 2] > 0.68 * v[:, 2].min()),
    "trunk only": lambda v, f: _kept(v, f, (v[:, 2] > -700.0) & (v[:, 0] < 500.0)),
    "one side only": lambda v, f: _kept(v, f, v[:, 1] > -60.0),
    "no head": lambda v, f: _kept(v, f, (v[:, 0] < 450.0) | (v[:, 2] < -350.0)),
    "person touching": _person,
    "block behind": lambda v, f: _with_box(v, f, [-1500.0, 100.0, 600.0], [500.0, 500.0, 1200.0]),
    "second horse": _second_horse,
}
"""What of a horse is scanned, and what touches or stands by it."""
NO_GROUND = frozenset({"no legs below the knee", "trunk only"})
"""Scenes that no ground goes with."""
