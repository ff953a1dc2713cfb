"""Rigid moves of pieces of a scan, and the move that lays marked points on each other."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray, rotation_from_vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Rigid:
    """The move `rotation @ p + shift` from one piece's axes to another's."""

    rotation: FloatArray
    """(3, 3) proper rotation."""
    shift: FloatArray
    """(3,) float, the target's axes, the points' unit."""

    def points(self, points: FloatArray) -> FloatArray:
        """Return points (n, 3), the piece's axes, moved (n, 3) to the target's, same unit."""
        return points @ self.rotation.T + self.shift

    def directions(self, directions: FloatArray) -> FloatArray:
        """Return directions (n, 3), the piece's axes, turned (n, 3)."""
        return directions @ self.rotation.T

    def after(self, inner: "Rigid") -> "Rigid":
        """Return the move that does `inner` first."""
        return Rigid(rotation=self.rotation @ inner.rotation, shift=self.rotation @ inner.shift + self.shift)

    def inverse(self) -> "Rigid":
        """Return the move back."""
        return Rigid(rotation=self.rotation.T, shift=-self.rotation.T @ self.shift)

    def turned_by(self, turn: FloatArray, shift: FloatArray, about: FloatArray) -> "Rigid":
        """Return this move followed by a small turn (3,) [rad] about a point and a shift, target's axes."""
        small = rotation_from_vector(turn)
        return Rigid(rotation=small, shift=about + shift - small @ about).after(self)

    def apart_from(self, other: "Rigid", at: FloatArray) -> tuple[float, float]:
        """Return turn [rad] between two moves, and distance between where they put a point (3,)."""
        cosine = 0.5 * (float(np.trace(self.rotation @ other.rotation.T)) - 1.0)
        off = self.points(at[None]) - other.points(at[None])
        return float(np.arccos(np.clip(cosine, -1.0, 1.0))), float(np.linalg.norm(off))


AS_IT_LIES = Rigid(rotation=np.eye(3), shift=np.zeros(3))


def laid_by_points(moving: FloatArray, fixed: FloatArray) -> Rigid:
    """Return the move of least squared distances between points that mean the same places.

    K. S. Arun, T. S. Huang, S. D. Blostein, "Least-squares fitting of two 3-D point sets", IEEE Transactions
    on Pattern Analysis and Machine Intelligence 9 (1987), 698–700.

    Parameters
    ----------
    moving : (n, 3) float, the piece's axes, n ≥ 3 and not in one line
    fixed : (n, 3) float, the target's axes, same unit

    Raises
    ------
    ValueError
        When the points lie in one line, and so leave a turn open.
    """
    a, b = moving - moving.mean(axis=0), fixed - fixed.mean(axis=0)
    for held in (a, b):
        spread = np.linalg.svd(held, compute_uv=False)
        if len(held) < 3 or spread[1] < 0.02 * spread[0]:
            msg = "the points lie in one line"
            raise ValueError(msg)
    u, _, vt = np.linalg.svd(a.T @ b)
    mirror = np.diag([1.0, 1.0, float(np.sign(np.linalg.det(vt.T @ u.T)))])
    rotation = vt.T @ mirror @ u.T
    return Rigid(rotation=rotation, shift=fixed.mean(axis=0) - rotation @ moving.mean(axis=0))
