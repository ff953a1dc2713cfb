"""Outlines: polylines across a back, and where links, pins and points meet them."""

import numpy as np

from saddlebench.engine.frames import FloatArray


def half_outlines(outline: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return both halves of an outline from the midline outward, and the midline's height.

    Parameters
    ----------
    outline : (n, 2) float, back frame (y, z) [mm], in order from one side to the other

    Returns
    -------
    left, right : each (k, 2) float: out from the midline and up from the skin there, starting at (0, 0) [mm]
    top : float, back frame [mm]

    Raises
    ------
    ValueError
        If the outline does not cross the midline.
    """
    rising = outline if outline[0, 0] < outline[-1, 0] else outline[::-1]
    y, z = rising.T
    spans = np.flatnonzero((y[:-1] < 0.0) & (y[1:] >= 0.0))
    if len(spans) == 0:
        msg = "the outline does not cross the midline"
        raise ValueError(msg)
    share = -y[spans] / (y[spans + 1] - y[spans])
    tops = z[spans] + share * (z[spans + 1] - z[spans])
    highest = int(np.argmax(tops))
    i, top = int(spans[highest]), float(tops[highest])
    left = rising[i + 1 :] - np.array([0.0, top])
    right = (rising[i::-1] - np.array([0.0, top])) * np.array([-1.0, 1.0])
    middle = np.zeros((1, 2))
    # A vertex on the midline itself would only repeat it.
    repeated = 1 if left[0, 0] == 0.0 else 0
    return np.vstack([middle, left[repeated:]]), np.vstack([middle, right]), top


def crossing(path: FloatArray, centre: FloatArray, radius_mm: float) -> FloatArray:
    """Return the path from where it first leaves a circle, that place first; nothing when it never does.

    Parameters
    ----------
    path : (n, 2) float, any plane frame [mm]
    centre : (2,) float, the same frame [mm]
    radius_mm : radius of the circle
    """
    away = np.hypot(*(path - centre).T)
    leaves = np.flatnonzero((away[:-1] <= radius_mm) & (away[1:] > radius_mm))
    if len(leaves) == 0:
        return path[:0]
    i = int(leaves[0])
    start, step = path[i] - centre, path[i + 1] - path[i]
    a, b, c = step @ step, start @ step, start @ start - radius_mm**2
    # The larger root: the segment goes outward here. c ≤ 0, so the root is real.
    share = (-b + np.sqrt(b * b - a * c)) / a
    return np.vstack([path[i] + share * step, path[i + 1 :]])


def height_at(half: FloatArray, out_mm: float) -> float | None:
    """Return the topmost height of a half outline (n, 2) float, station plane [mm], above a place across."""
    out, up = half.T
    low, high = np.minimum(out[:-1], out[1:]), np.maximum(out[:-1], out[1:])
    spans = np.flatnonzero((low <= out_mm) & (out_mm <= high) & (high > low))
    if len(spans) == 0:
        return None
    share = (out_mm - out[spans]) / (out[spans + 1] - out[spans])
    return float(np.max(up[spans] + share * (up[spans + 1] - up[spans])))


def spaced(half: FloatArray, spacing_mm: float) -> FloatArray:
    """Return points at equal steps along a half outline (n, 2) float, station plane [mm], from one step."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(half, axis=0).T))])
    at = np.arange(1, int(length[-1] / spacing_mm) + 1) * spacing_mm
    return np.stack([np.interp(at, length, half[:, 0]), np.interp(at, length, half[:, 1])], axis=1)


def distance_to(outline: FloatArray, points: FloatArray) -> FloatArray:
    """Return how far points lie from an outline.

    Parameters
    ----------
    outline : (n, 2) float, any plane frame [mm]
    points : (k, 2) float, the same frame [mm]

    Returns
    -------
    (k,) float [mm]
    """
    start, step = outline[:-1], np.diff(outline, axis=0)
    square = np.maximum(np.sum(step * step, axis=1), 1e-30)
    offset = points[:, None, :] - start
    share = np.clip(np.sum(offset * step, axis=2) / square, 0.0, 1.0)
    return np.min(np.linalg.norm(offset - share[:, :, None] * step, axis=2), axis=1)
