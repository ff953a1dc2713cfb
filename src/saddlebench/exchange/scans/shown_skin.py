"""The surface of a scan that people look at and set marks on: a skin over its trunk."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from trimesh.triangles import closest_point

from saddlebench.engine.back.scan_find import FoundBack
from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.skin import lay_skin

_AHEAD_MM, _BEHIND_MM = 550.0, 450.0
"""How far the skin is laid beyond the wide part of the trunk, for a horse of 1.60 m."""
_ON_IT_MM = 12.0
"""A place so far from the surface is still taken for one on it: a cell and some more (assumption)."""
_NEAREST_CORNERS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownSkin:
    """The surface over a trunk; empty where none could be laid."""

    vertices: FloatArray
    """(n, 3) float, instrument frame, the scan's unit."""
    faces: Faces
    """(m, 3) int, vertex indices."""

    @property
    def is_there(self) -> bool:
        """Whether there is anything to look at."""
        return len(self.faces) > 0


NO_SKIN = ShownSkin(vertices=np.zeros((0, 3)), faces=np.zeros((0, 3), dtype=np.int32))


def shown_skin(found: FoundBack) -> ShownSkin:
    """Return the skin over the trunk of a horse that was found."""
    scale = found.suggestions.mm_per_unit
    standing = found.standing
    rear, front = (end * scale for end in standing.trunk.core)
    half = 0.5 * (front - rear)
    ends = (-half - _BEHIND_MM, half + _AHEAD_MM)
    # The skin is looked for about a place on the back: above the middle of the trunk, at its highest.
    placed = standing.points(found.points)
    near = placed[(np.abs(placed[:, 0] - 0.5 * (rear + front) / scale) < 60.0 / scale)]
    near = near[np.abs(near[:, 1]) < 80.0 / scale]
    if len(near) == 0:
        return NO_SKIN
    top = np.array([0.5 * (rear + front) / scale, 0.0, float(np.percentile(near[:, 2], 95.0))])
    middle = standing.back(top[None])[0]
    skin = lay_skin(found.points * scale, standing.to_trunk, middle * scale, ends)
    if skin is None or len(skin.faces) == 0:
        return NO_SKIN
    return ShownSkin(vertices=skin.vertices / scale, faces=skin.faces)


def put_on_skin(skin: ShownSkin, point: FloatArray, mm_per_unit: float) -> FloatArray:
    """Return the place (3,) on the surface that is nearest to a point on or close to it.

    Parameters
    ----------
    skin : ShownSkin
    point : (3,) float, instrument frame, the scan's unit
    mm_per_unit : about, to judge by

    Raises
    ------
    InputProblemsError
        If the point does not lie on the surface.
    """
    if skin.is_there and bool(np.isfinite(point).all()):
        _, corners = cKDTree(skin.vertices).query(point, k=min(_NEAREST_CORNERS, len(skin.vertices)))
        triangles = skin.vertices[skin.faces[np.isin(skin.faces, np.atleast_1d(corners)).any(axis=1)]]
        if len(triangles):
            close = closest_point(triangles, np.broadcast_to(point, (len(triangles), 3)))
            apart = np.linalg.norm(close - point, axis=1)
            nearest = int(np.argmin(apart))
            if apart[nearest] * mm_per_unit <= _ON_IT_MM:
                return np.asarray(close[nearest], dtype=float)
    raise input_problem(
        "this is not on the horse’s back, or nothing was scanned there",
        "Tap on the back where it is shown as a surface.",
        Where(field="place"),
    )
