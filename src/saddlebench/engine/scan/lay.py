"""Lay one piece of a scan on another: iterated closest points, to the tangent planes, robustly.

Y. Chen, G. Medioni, "Object modelling by registration of multiple range images", Image and Vision Computing
10 (1992), 145–155; Tukey's weights (A. E. Beaton, J. W. Tukey, Technometrics 16 (1974), 147–185) leave out
what moved or what only one piece saw. Partners lie beside each other on the surface, not beyond its edge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.facing import Facing
from saddlebench.engine.scan.rigid import Rigid

COARSE_MM = (160.0, 80.0, 40.0, 20.0)
"""How far a partner is sought, round by round [mm]."""
_ALIKE = 0.7
"""Least cosine between the normals of partners."""
_TUKEY = 4.685
_FLOOR_MM = 0.3
_ROUNDS = 14
LEVER_MM = 500.0
_FEWEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Partners:
    """Points of a moved piece with their partners on another."""

    of: NDArray[np.int64]
    """(m,) index of the moving piece's points."""
    points: FloatArray
    """(m, 3) float, target's axes [mm]: the moved points."""
    normals: FloatArray
    """(m, 3) float, target's axes [1]."""
    off_mm: FloatArray
    """(m,) float, how far the moved points lie above the partner's tangent plane [mm]."""

    @property
    def weights(self) -> FloatArray:
        """Tukey's weights (m,) for these distances."""
        scale = max(_FLOOR_MM, 1.4826 * float(np.median(np.abs(self.off_mm))))
        return np.square(np.maximum(0.0, 1.0 - np.square(self.off_mm / (_TUKEY * scale))))

    def design(self, about: FloatArray) -> FloatArray:
        """Return what shift [mm] and turn (times the lever) of the moving piece do to them, (m, 6)."""
        turns = np.cross(self.points - about, self.normals) / LEVER_MM
        return np.concatenate([self.normals, turns], axis=1)


def partners(moving: Facing, fixed: Facing, move: Rigid, reach_mm: float) -> Partners:
    """Return the points of a moved piece that have a partner within reach, on a surface that faces alike."""
    placed = move.points(moving.points)
    apart, near = fixed.tree.query(placed, distance_upper_bound=reach_mm)
    found = np.isfinite(apart) & moving.smooth
    found[found] &= fixed.smooth[near[found]]
    index = np.flatnonzero(found)
    partner = near[index]
    normals = fixed.normals[partner]
    own = move.directions(moving.normals[index])
    step = placed[index] - fixed.points[partner]
    off = np.einsum("ij,ij->i", step, normals)
    beside = np.linalg.norm(step - off[:, None] * normals, axis=1)
    kept = np.abs(np.einsum("ij,ij->i", own, normals)) > _ALIKE
    kept &= beside < 2.0 * max(fixed.spacing, 0.5 * moving.spacing) + 0.1 * reach_mm
    return Partners(of=index[kept], points=placed[index[kept]], normals=normals[kept], off_mm=off[kept])


def solved_step(design: FloatArray, weights: FloatArray, off_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return shift (3,) [mm] and turn (3,) [rad], target's axes, that undo distances (m,) [mm]."""
    weighted = design * weights[:, None]
    normal = weighted.T @ design
    # A direction that nothing pins stays where it was.
    normal += 1e-6 * float(np.trace(normal)) * np.eye(6)
    step = -np.linalg.solve(normal, weighted.T @ off_mm)
    return step[:3], step[3:] / LEVER_MM


def lay_on(
    moving: Facing, fixed: Facing, start: Rigid, reaches_mm: tuple[float, ...] = COARSE_MM
) -> Rigid | None:
    """Lay a piece on another from a start that is good to some 20° and 200 mm; None where they do not meet.

    Parameters
    ----------
    moving, fixed : Facing
    start : Rigid
    reaches_mm : how far partners are sought [mm], one stage after the other
    """
    move = start
    for reach in reaches_mm:
        for _ in range(_ROUNDS):
            found = partners(moving, fixed, move, reach)
            if len(found.of) < _FEWEST:
                return None
            about = found.points.mean(axis=0)
            shift, turn = solved_step(found.design(about), found.weights, found.off_mm)
            move = move.turned_by(turn, shift, about)
            if float(np.linalg.norm(shift)) < 2e-3 * reach and float(np.linalg.norm(turn)) < 1e-5 * reach:
                break
    return move
