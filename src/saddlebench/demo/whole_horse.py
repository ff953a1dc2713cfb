"""An invented back given a belly, legs, neck and head: something to play the scan of a whole horse with."""

import numpy as np
from numpy.typing import NDArray

from saddlebench.demo.shapes import PLAIN, BackShape
from saddlebench.engine.frames import FloatArray

Faces = NDArray[np.int32]
_AROUND = 40


def whole_horse(shape: BackShape = PLAIN) -> tuple[FloatArray, Faces]:
    """Return a horse's surface in the back frame: vertices (n, 3) [mm] and faces (m, 3)."""
    parts = [_tube(*_trunk(shape)), _tube(*_neck(shape)), _tube(*_head(shape))]
    parts += [_tube(*_leg(shape, s, side)) for s in (20.0, 900.0) for side in (-1.0, 1.0)]
    begins = np.cumsum([0] + [len(points) for points, _ in parts[:-1]])
    return (
        np.concatenate([points for points, _ in parts]),
        np.concatenate([faces + begin for (_, faces), begin in zip(parts, begins, strict=True)]).astype(
            np.int32
        ),
    )


def _trunk(shape: BackShape) -> tuple[FloatArray, FloatArray]:
    """Return the rings (k, j, 3) of the trunk and their ends' middles (2, 3), back frame [mm]."""
    s = np.concatenate([np.arange(-330.0, 760.0, 20.0), [800.0, 850.0, 900.0, 950.0, 1000.0, 1050.0, 1090.0]])
    phi = np.deg2rad(np.arange(-180.0, 180.0, 4.0))
    known = np.clip(phi, -np.deg2rad(96.0), np.deg2rad(96.0))
    radius = shape.radius(np.clip(s, -330.0, 760.0)[:, None], known[None, :])
    # Breast and buttocks round off; the croup carries on, and the belly hangs below.
    ends = np.sqrt(np.clip(1.0 - np.clip((s - 850.0) / 260.0, 0.0, 1.0) ** 2, 0.02, 1.0))
    ends *= np.sqrt(np.clip(1.0 - np.clip((-210.0 - s) / 130.0, 0.0, 1.0) ** 2, 0.02, 1.0))
    radius = radius * ends[:, None] * (1.0 + 0.45 * np.clip(-np.cos(phi), 0.0, 1.0))[None, :]
    axis = np.full(len(s), shape.axis_z_mm)
    rings = np.stack(
        [
            np.broadcast_to(-s[:, None], radius.shape),
            radius * np.sin(phi),
            axis[:, None] + radius * np.cos(phi),
        ],
        axis=-1,
    )
    # Before the withers the back gives way to the neck, behind the last rib the waist to the hips.
    rings[..., 1] *= np.interp(
        s, [-330.0, -180.0, -60.0, 480.0, 560.0, 750.0], [0.5, 0.75, 1.0, 1.0, 0.97, 1.08]
    )[:, None]
    return rings, np.array([[-s[0], 0.0, axis[0]], [-s[-1], 0.0, axis[-1]]])


def _neck(shape: BackShape) -> tuple[FloatArray, FloatArray]:
    path = np.array([[120.0, 0.0, -190.0], [330.0, 0.0, 60.0], [520.0, 0.0, 250.0], [650.0, 0.0, 400.0]])
    return _along(
        path + np.array([0.0, 0.0, shape.axis_z_mm + 220.0]),
        [110.0, 90.0, 75.0, 70.0],
        [250.0, 190.0, 150.0, 120.0],
    )


def _head(shape: BackShape) -> tuple[FloatArray, FloatArray]:
    path = np.array([[620.0, 0.0, 430.0], [760.0, 0.0, 330.0], [900.0, 0.0, 180.0], [960.0, 0.0, 110.0]])
    return _along(
        path + np.array([0.0, 0.0, shape.axis_z_mm + 220.0]),
        [70.0, 90.0, 60.0, 45.0],
        [90.0, 110.0, 80.0, 60.0],
    )


def _leg(shape: BackShape, s: float, side: float) -> tuple[FloatArray, FloatArray]:
    z = shape.axis_z_mm - np.array([200.0, 500.0, 800.0, 1100.0, 1290.0])
    path = np.stack([np.full(5, -s), np.full(5, 150.0 * side), z], axis=1)
    return _along(path, [80.0, 65.0, 45.0, 40.0, 60.0], [110.0, 80.0, 50.0, 45.0, 65.0])


def _along(path: FloatArray, wide: list[float], deep: list[float]) -> tuple[FloatArray, FloatArray]:
    """Return elliptical rings (k, j, 3) along a path and their ends' middles (2, 3), back frame."""
    t = np.linspace(0.0, len(path) - 1.0, 24)
    knots = np.arange(len(path))
    middle = np.stack([np.interp(t, knots, path[:, k]) for k in range(3)], axis=1)
    way = np.gradient(middle, axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    up = np.stack([-way[:, 2], np.zeros(len(t)), way[:, 0]], axis=1)
    angle = np.linspace(0.0, 2.0 * np.pi, _AROUND, endpoint=False)
    a, b = np.interp(t, knots, wide), np.interp(t, knots, deep)
    rings = middle[:, None, :] + (b[:, None] * np.cos(angle))[..., None] * up[:, None, :]
    rings[..., 1] += a[:, None] * np.sin(angle)
    return rings, middle[[0, -1]]


def _tube(rings: FloatArray, ends: FloatArray) -> tuple[FloatArray, Faces]:
    rows, columns, _ = rings.shape
    points = np.concatenate([rings.reshape(-1, 3), ends])
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = i * columns + j, i * columns + (j + 1) % columns
    sides = [np.stack([a, b, a + columns], axis=-1), np.stack([b, b + columns, a + columns], axis=-1)]
    ring, n, last = np.arange(columns), rows * columns, (rows - 1) * columns
    caps = [
        np.stack([np.full(columns, n), (ring + 1) % columns, ring], axis=1),
        np.stack([np.full(columns, n + 1), last + ring, last + (ring + 1) % columns], axis=1),
    ]
    return points, np.concatenate([face.reshape(-1, 3) for face in sides] + caps).astype(np.int32)
