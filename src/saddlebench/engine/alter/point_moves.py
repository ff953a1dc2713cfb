"""What forces and small moves of many points come to, for several changes at once."""

import numpy as np

from saddlebench.engine.frames import FloatArray


def wrench(forces: FloatArray, arm: FloatArray) -> FloatArray:
    """Return (6, k): the sum of forces (n, k, 3) [N] and their moments about the reference."""
    n, k, _ = forces.shape
    spin = (arm.T @ forces.reshape(n, 3 * k)).reshape(3, k, 3).transpose(1, 0, 2)
    moments = np.stack(
        [spin[:, 1, 2] - spin[:, 2, 1], spin[:, 2, 0] - spin[:, 0, 2], spin[:, 0, 1] - spin[:, 1, 0]], axis=1
    )
    return np.concatenate([forces.sum(axis=0), moments], axis=1).T


def parts_along(ways: FloatArray, moves: FloatArray) -> FloatArray:
    """Return the part (n, k) of moves (n, k, 3) along ways (n, 3)."""
    return (moves @ ways[:, :, None])[:, :, 0]


def turned_by(matrices: FloatArray, moves: FloatArray) -> FloatArray:
    """Return matrices (n, 3, 3) times moves (n, k, 3)."""
    return moves @ matrices.transpose(0, 2, 1)


def pose_moves(arm: FloatArray) -> FloatArray:
    """Return (n, 6, 3): how points at arms (n, 3) move with each freedom of the pose."""
    x, y, z = arm.T
    out = np.zeros((len(arm), 6, 3))
    out[:, 0, 0] = out[:, 1, 1] = out[:, 2, 2] = 1.0
    out[:, 3, 1], out[:, 3, 2] = -z, y
    out[:, 4, 0], out[:, 4, 2] = z, -x
    out[:, 5, 0], out[:, 5, 1] = -y, x
    return out
