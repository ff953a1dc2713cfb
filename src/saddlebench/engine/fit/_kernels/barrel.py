"""Where straps come to lie on the barrel."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import girth_length, turned
from saddlebench.engine.fit._kernels.parts import Girth
from saddlebench.engine.fit._kernels.spline import locate, value

NO_GIRTH = 0
TIGHTENED = 1
ELASTIC = 2
SAMPLES = 24
SHORTEST_FREE_MM = 80.0
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
def tangent_points(back, anchors, wraps, free):
    """Fill, for each anchor, the point (n, 3) of its cross-section at which a strap leaves it as a tangent,
    and the strap's free length.

    The tangent point is the outermost direction seen from the anchor: sought among some angles outwards, then
    between its neighbours by golden section. A strap that lies on the barrel from the start is taken as free
    for SHORTEST_FREE_MM.
    """
    edge = min(-back.phi0, back.phi0 + back.n_phi / back.per_dphi)
    for k in range(anchors.shape[0]):
        x, y = anchors[k, 0], anchors[k, 1]
        up = anchors[k, 2] - back.axis_z
        start = abs(np.arctan2(y, up))
        far = max(edge, start + 0.1)
        side = 1.0 if y >= 0.0 else -1.0
        step = (far - start) / (SAMPLES - 1)
        best = far
        outermost = -1e9
        for m in range(SAMPLES):
            angle = start + m * step
            lean, length = seen(back, x, y, up, side, angle)
            if length >= SHORTEST_FREE_MM and lean > outermost:
                outermost = lean
                best = angle
        low = max(start, best - step)
        high = min(far, best + step)
        for _ in range(18):
            left = high - GOLDEN * (high - low)
            right = low + GOLDEN * (high - low)
            lean_left, length_left = seen(back, x, y, up, side, left)
            lean_right, _ = seen(back, x, y, up, side, right)
            if lean_left > lean_right and length_left >= SHORTEST_FREE_MM:
                high = right
            else:
                low = left
        angle = 0.5 * (low + high)
        free[k] = seen(back, x, y, up, side, angle)[1]
        sn, cn = np.sin(side * angle), np.cos(side * angle)
        s, phi, radius, tall, ci, cj, ta, tb, inside = locate(back, x, sn, back.axis_z + cn)
        barrel = value(back.flat, back.row, ci * back.row + 2 * cj, basis(ta), basis(tb))
        wraps[k, 0], wraps[k, 1], wraps[k, 2] = x, barrel * sn, barrel * cn + back.axis_z


@compiled
def wrap_straps(back, straps, anchors_back):
    """Return where each strap (n, 3) comes to lie on the barrel, leaning to the girth groove.

    Along the back a strap runs as a straight line on the unrolled barrel, `half_length` long, from its anchor
    to the groove.
    """
    wraps = np.zeros(anchors_back.shape)
    free = np.zeros(anchors_back.shape[0])
    tangent_points(back, anchors_back, wraps, free)
    if straps.leans:
        for k in range(free.size):
            run = min(free[k] / max(straps.half_length, SHORTEST_FREE_MM), 1.0)
            wraps[k, 0] += (straps.groove_x - wraps[k, 0]) * run
    return wraps


@compiled
def laid_girth(back, straps, pose):
    """Return the girth as it lies when a step begins."""
    n = straps.anchors.shape[0]
    if straps.kind == NO_GIRTH or n == 0:
        none = np.zeros((0, 3))
        return Girth(none, none, 1.0, 0.0, 0.0, 0.0)
    anchors_back = np.zeros((n, 3))
    for k in range(n):
        r = turned(pose, straps.anchors[k, 0], straps.anchors[k, 1], straps.anchors[k, 2])
        for axis in range(3):
            anchors_back[k, axis] = r[axis] + pose[9 + axis]
    wraps = wrap_straps(back, straps, anchors_back)
    stiffness = straps.stiffness if straps.kind == ELASTIC else 0.0
    girth = Girth(straps.anchors, wraps, 2.0 / n, straps.tension, stiffness, 0.0)
    length = girth_length(girth, pose)
    return Girth(straps.anchors, wraps, 2.0 / n, straps.tension, stiffness, length)
