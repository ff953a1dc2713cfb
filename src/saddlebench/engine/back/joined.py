"""A scan merged from pieces: what the joining may be off by, carried to every point of the back.

Each piece but the first was laid on the others with an error of its own, a shift and a turn that move all its
points together; where two pieces show one surface at two places, the truth may be at either. A point read off
the merged surface moves with a piece as far as that piece was seen there.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray, Pose

_NEAREST = 4
_REACH_MM = 120.0
_SMALLEST = 1e-3
"""A standard deviation of a mode below which it is left out, at an arm's length of 500 mm [mm]."""
_ARM_MM = 500.0

Row = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedPieces:
    """Pieces of a scan and the errors of their joining, in one frame, about its origin."""

    names: tuple[str, ...]
    """The pieces; the first stayed where it was."""
    modes: tuple[Row, ...]
    """Rows of 6·(k − 1): one standard deviation of an independent error, as shift [mm] and turn [rad] of the
    second piece, the third, …"""
    places_mm: tuple[Row, ...]
    """Rows of 3: places on the surface."""
    shares: tuple[Row, ...]
    """Rows of k, one for each place: how much of what was seen there each piece saw; each row sums to 1."""
    apart_mm: tuple[Row, ...]
    """Rows of 3, one for each place: from one piece's surface to another's, where both show it."""

    def __post_init__(self) -> None:
        k, n = len(self.names), len(self.places_mm)
        is_whole = (
            k >= 2
            and n >= 1
            and len(self.shares) == n
            and len(self.apart_mm) == n
            and all(len(row) == 6 * (k - 1) for row in self.modes)
            and all(len(row) == 3 for row in (*self.places_mm, *self.apart_mm))
            and all(len(row) == k for row in self.shares)
            and all(
                np.isfinite(row).all() for row in (*self.modes, *self.places_mm, *self.shares, *self.apart_mm)
            )
        )
        if not is_whole:
            msg = "pieces, modes, places, shares and distances do not belong together"
            raise ValueError(msg)

    def placed(self, pose: Pose) -> "JoinedPieces":
        """Return the same in another frame."""
        turn, origin = pose.rotation, pose.inverse().translation_mm
        modes = np.array(self.modes).reshape(len(self.modes), -1, 2, 3)
        turns = modes[:, :, 1] @ turn.T
        # About the new origin: a point there moves by the shift and by the turn's lever.
        shifts = (modes[:, :, 0] + np.cross(modes[:, :, 1], origin)) @ turn.T
        return JoinedPieces(
            names=self.names,
            modes=_rows(np.stack([shifts, turns], axis=2).reshape(len(self.modes), -1)),
            places_mm=_rows(pose.points(np.array(self.places_mm))),
            shares=self.shares,
            apart_mm=_rows(pose.directions(np.array(self.apart_mm))),
        )

    def sized(self, factor: float) -> "JoinedPieces":
        """Return the same where every length, its own frame, is so many times larger."""
        lengths = np.tile([factor, factor, factor, 1.0, 1.0, 1.0], len(self.names) - 1)
        return JoinedPieces(
            names=self.names,
            modes=_rows(np.array(self.modes).reshape(len(self.modes), -1) * lengths),
            places_mm=_rows(factor * np.array(self.places_mm)),
            shares=self.shares,
            apart_mm=_rows(factor * np.array(self.apart_mm)),
        )

    def within(self, low_mm: FloatArray, high_mm: FloatArray) -> "JoinedPieces":
        """Return the same with the places between two corners (3,), its own frame [mm], only."""
        places = np.array(self.places_mm)
        kept = np.flatnonzero(((places >= low_mm) & (places <= high_mm)).all(axis=1))
        if len(kept) == 0:
            return self
        return JoinedPieces(
            names=self.names,
            modes=self.modes,
            places_mm=tuple(self.places_mm[i] for i in kept),
            shares=tuple(self.shares[i] for i in kept),
            apart_mm=tuple(self.apart_mm[i] for i in kept),
        )

    def errors(self, points_mm: FloatArray) -> list[tuple[str, FloatArray]]:
        """Return what moves points, in words, each by one standard deviation.

        Parameters
        ----------
        points_mm : (n, 3) float, its own frame [mm]

        Returns
        -------
        list of words and (n, 3) float, same frame [mm]
        """
        weights, near = self._weights(points_mm)
        shares = np.einsum("np,npk->nk", weights, np.array(self.shares)[near])
        found = []
        for number, mode in enumerate(np.array(self.modes).reshape(len(self.modes), -1, 2, 3), start=1):
            moves = sum(
                share[:, None] * (shift + np.cross(turn, points_mm))
                for share, (shift, turn) in zip(shares[:, 1:].T, mode, strict=True)
            )
            found.append((f"scan, laying its pieces on each other, {number}", np.asarray(moves)))
        apart = np.einsum("np,npd->nd", weights, np.array(self.apart_mm)[near])
        found.append(("scan, where its pieces lie apart", 0.5 * apart))
        return found

    def _weights(self, points: FloatArray) -> tuple[FloatArray, np.ndarray]:
        """Return weights (n, p) of the nearest places (n, p) of each point."""
        p = min(_NEAREST, len(self.places_mm))
        apart, near = cKDTree(np.array(self.places_mm)).query(points, k=p)
        apart, near = apart.reshape(-1, p), near.reshape(-1, p)
        beyond = apart - apart[:, :1]
        weights = np.maximum(1.0 - beyond / _REACH_MM, 1e-9)
        return weights / weights.sum(axis=1, keepdims=True), near


def modes_of(covariance: FloatArray) -> tuple[Row, ...]:
    """Return a covariance as rows of one standard deviation each.

    Parameters
    ----------
    covariance : (6m, 6m) float, any frame, about its origin: shift [mm] and turn [rad] of m pieces
    """
    arm = np.tile(np.concatenate([np.ones(3), np.full(3, _ARM_MM)]), len(covariance) // 6)
    values, vectors = np.linalg.eigh(covariance * arm[:, None] * arm[None, :])
    sd = np.sqrt(np.maximum(values, 0.0))
    return _rows((vectors[:, sd > _SMALLEST] * sd[sd > _SMALLEST] / arm[:, None]).T[::-1])


def _rows(values: FloatArray) -> tuple[Row, ...]:
    return tuple(tuple(float(f"{x:.6g}") for x in row) for row in values)
