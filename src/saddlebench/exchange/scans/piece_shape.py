"""One file of a scan in pieces, for people to mark places on: its points, lit and level."""

from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.sample import even_points
from saddlebench.engine.scan.standing import find_standing
from saddlebench.exchange.packed_arrays import pack_arrays
from saddlebench.exchange.scans.mesh import read_mesh

_SHOWN, _STANDING = 40_000, 60_000
_SEED = 20
_NEIGHBOURS = 12
_DARKEST = 0.35
_LIGHT = np.array([0.3, 0.5, 0.81])


def piece_shape(path: Path, *, up: FloatArray | None = None) -> bytes:
    """Return a file's points packed for the pages' script.

    The head has `turn`, nine numbers of a rotation R row by row, `middle`, m, and `radius`: a point p that is
    shown stands at Rᵀ p + m in the file's own axes and unit.

    Parameters
    ----------
    path : mesh or cloud
    up : (3,) float, the file's own axes, where a person states it

    Raises
    ------
    InputProblemsError
        When it cannot be read.
    """
    mesh = read_mesh(path, clouds=True)
    rng = np.random.default_rng(_SEED)
    points = even_points(mesh.vertices, mesh.faces, _STANDING, rng)
    standing = find_standing(points, rng, up=up)
    # The animal alone where it is found: what stands round it only gets in the way of a thumb.
    turn, shown = (np.eye(3), points) if standing is None else (standing.to_trunk, points[standing.animal])
    shown = shown[:: 1 + len(shown) // _SHOWN]
    middle = 0.5 * (shown.min(axis=0) + shown.max(axis=0))
    placed = (shown - middle) @ turn.T
    arrays = {"points.position": placed.astype("<f4"), "points.colour": _lit(placed)}
    return pack_arrays(
        arrays,
        title=path.name,
        turn=turn.ravel().tolist(),
        middle=middle.tolist(),
        radius=float(np.percentile(np.linalg.norm(placed, axis=1), 98.0)),
    )


def _lit(points: FloatArray) -> "np.ndarray[tuple[int, ...], np.dtype[np.uint8]]":
    """Return a grey (n, 3) uint8 for each point, as its neighbours' surface is lit from above."""
    _, near = cKDTree(points).query(points, k=min(_NEIGHBOURS, len(points)))
    around = points[near] - points[near].mean(axis=1, keepdims=True)
    _, axes = np.linalg.eigh(np.einsum("nki,nkj->nij", around, around))
    light = np.abs(axes[:, :, 0] @ _LIGHT)
    grey = np.rint(255.0 * (_DARKEST + (0.9 - _DARKEST) * light)).astype(np.uint8)
    return np.repeat(grey[:, None], 3, axis=1)
