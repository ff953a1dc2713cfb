"""Where straps come to lie on the barrel."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.spline import locate, value

GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


@compiled
def seen(back, x, y, up, side, angle):
    """Return how far outwards from straight down a point of the barrel at ±angle is seen, and how far off."""
    sn, cn = np.sin(side * angle), np.cos(side * angle)
    s, phi, radius, high, ci, cj, ta, tb, inside = locate(back, x, sn, back.axis_z + cn)
    barrel = value(back.flat, back.row, ci * back.row + 2 * cj, basis(ta), basis(tb))
    out = side * (barrel * sn - y)
    down = up - barrel * cn
    return np.arctan2(out, down), np.sqrt(out * out + down * down)


@compiled
def tangent_points(back, anchors, samples, shortest, wraps, free):
    """Fill, for each anchor, the point (n, 3) of its cross-section at which a strap leaves it as a tangent,
    and the strap's free length.

    The tangent point is the outermost direction seen from the anchor: sought among `samples` angles outwards,
    then between its neighbours by golden section. A strap that lies on the barrel at once is free for
    `shortest`.
    """
    edge = min(-back.phi0, back.phi0 + back.n_phi / back.per_dphi)
    for k in range(anchors.shape[0]):
        x, y = anchors[k, 0], anchors[k, 1]
        up = anchors[k, 2] - back.axis_z
        start = abs(np.arctan2(y, up))
        far = max(edge, start + 0.1)
        side = 1.0 if y >= 0.0 else -1.0
        step = (far - start) / (samples - 1)
        best = far
        outermost = -1e9
        for m in range(samples):
            angle = start + m * step
            lean, length = seen(back, x, y, up, side, angle)
            if length >= shortest and lean > outermost:
                outermost = lean
                best = angle
        low = max(start, best - step)
        high = min(far, best + step)
        for _ in range(24):
            left = high - GOLDEN * (high - low)
            right = low + GOLDEN * (high - low)
            lean_left, length_left = seen(back, x, y, up, side, left)
            lean_right, _ = seen(back, x, y, up, side, right)
            if lean_left > lean_right and length_left >= shortest:
                high = right
            else:
                low = left
        angle = 0.5 * (low + high)
        free[k] = seen(back, x, y, up, side, angle)[1]
        sn, cn = np.sin(side * angle), np.cos(side * angle)
        s, phi, radius, tall, ci, cj, ta, tb, inside = locate(back, x, sn, back.axis_z + cn)
        barrel = value(back.flat, back.row, ci * back.row + 2 * cj, basis(ta), basis(tb))
        wraps[k, 0], wraps[k, 1], wraps[k, 2] = x, barrel * sn, barrel * cn + back.axis_z
