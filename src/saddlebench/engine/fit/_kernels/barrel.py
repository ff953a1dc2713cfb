"""Where straps come to lie on the barrel."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.spline import locate, value


@compiled
def tangent_points(back, anchors, samples, shortest, wraps, free):
    """Fill, for each anchor, the point (n, 3) of its cross-section at which a strap leaves it as a tangent,
    and the strap's free length.

    The tangent point is the outermost direction seen from the anchor, among `samples` angles outwards.
    """
    flat, row = back.flat, back.row
    edge = min(-back.phi0, back.phi0 + back.n_phi / back.per_dphi)
    for k in range(anchors.shape[0]):
        x, y, z = anchors[k, 0], anchors[k, 1], anchors[k, 2]
        up = z - back.axis_z
        start = abs(np.arctan2(y, up))
        far = max(edge, start + 0.1)
        side = 1.0 if y >= 0.0 else -1.0
        outermost = -1e9
        for m in range(samples):
            phi = side * (start + (far - start) * m / (samples - 1))
            sn, cn = np.sin(phi), np.cos(phi)
            s, angle, radius, high, ci, cj, ta, tb, inside = locate(back, x, sn, back.axis_z + cn)
            barrel = value(flat, row, ci * row + 2 * cj, basis(ta), basis(tb))
            out = side * (barrel * sn - y)
            down = up - barrel * cn
            length = np.sqrt(out * out + down * down)
            lean = np.arctan2(out, down)
            if m == samples - 1 and outermost == -1e9:
                lean = 1e9
            if (length >= shortest or lean == 1e9) and lean > outermost:
                outermost = lean
                wraps[k, 0], wraps[k, 1], wraps[k, 2] = x, barrel * sn, barrel * cn + back.axis_z
                free[k] = length
