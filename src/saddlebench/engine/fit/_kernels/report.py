"""True distances to the back at the end of a step."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import add_outer, turned
from saddlebench.engine.fit._kernels.newton import LEVER, eigen, scaled
from saddlebench.engine.fit._kernels.spline import derivatives

DISTURBANCES = 6
# mm: square of the last step over the distance at which the foot counts as found
NEAR_ENOUGH = 1e-3


@compiled
def fill_fields(back, measured, panels, pose, gaps, is_measured):
    """Fill the signed distance of every panel point to the back, by Newton on the foot's (s, φ), and whether
    all nodes about the point's own place were measured."""
    flat, row = back.flat, back.row
    n_s, n_phi = back.n_s, back.n_phi
    for k in range(panels.area.size):
        r = turned(pose, panels.points[k, 0], panels.points[k, 1], panels.points[k, 2])
        x, y = r[0] + pose[9], r[1] + pose[10]
        up = r[2] + pose[11] - back.axis_z
        s = -x
        phi = np.arctan2(y, up)
        radius = np.sqrt(y * y + up * up)
        sn, cn = y / radius, up / radius
        gap = 0.0
        side = 1.0
        for step in range(12):
            a = (s - back.s0) * back.per_ds
            b = (phi - back.phi0) * back.per_dphi
            i = min(max(int(np.floor(a)), 0), n_s - 1)
            j = min(max(int(np.floor(b)), 0), n_phi - 1)
            v, vs, vp, vss, vsp, vpp = derivatives(
                flat, row, i * row + 2 * j, basis(a - i), basis(b - j), back.per_ds, back.per_dphi
            )
            # from the foot X to the point: along x, e_r and e_φ; X_s = (−1, v_s e_r), X_φ = v_φ e_r + v e_φ
            ex = x + s
            er = y * sn + up * cn - v
            ep = y * cn - up * sn
            if step == 0:
                side = 1.0 if er >= 0.0 else -1.0
                inside = a >= 0.0 and a <= n_s and b >= 0.0 and b <= n_phi
                is_measured[k] = (
                    inside
                    and measured[i, j]
                    and measured[i + 1, j]
                    and measured[i, j + 1]
                    and measured[i + 1, j + 1]
                )
            gap = side * np.sqrt(ex * ex + er * er + ep * ep)
            fs = er * vs - ex
            fp = er * vp + ep * v
            gss = 1.0 + vs * vs - er * vss
            gsp = vs * vp - er * vsp - ep * vs
            gpp = vp * vp + v * v - er * (vpp - v) - 2.0 * ep * vp
            det = gss * gpp - gsp * gsp
            if gss <= 0.0 or det <= 1e-3 * v * v:
                gss, gsp, gpp = 1.0 + vs * vs, vs * vp, vp * vp + v * v
                det = gss * gpp - gsp * gsp
            step_s = (gpp * fs - gsp * fp) / det
            step_phi = (gss * fp - gsp * fs) / det
            if step_s * step_s + (v * step_phi) ** 2 < NEAR_ENOUGH * max(abs(gap), 0.1):
                # the step shortens the distance by half its square over it, less what curvature takes
                gap = side * np.sqrt(max(gap * gap - step_s * fs - step_phi * fp, 0.0))
                break
            s += min(30.0, max(-30.0, step_s))
            phi += min(0.2, max(-0.2, step_phi))
            sn, cn = np.sin(phi), np.cos(phi)
        gaps[k] = gap


@compiled
def softest(tangent, free, direction):
    """Return the lowest eigenvalue over the free directions [N/mm]; fill its direction (6,) [mm, mm of lever]."""
    n = free.size
    g = np.zeros(n)
    h = np.zeros((n, n))
    values = np.zeros(n)
    vectors = np.zeros((n, n))
    scaled(np.zeros(6), tangent, free, g, h)
    eigen(h, values, vectors)
    k = np.argmin(values)
    direction[:] = 0.0
    for a in range(n):
        direction[free[a]] = vectors[a, k]
    return values[k]


@compiled
def softest_disturbed(panels, stiffness, pose, slide, base, free, direction):
    """Return the least stiffness against a small disturbance of the saddle at rest; fill its direction.

    A point that slips lets itself be moved on for nothing but resists being moved back. Which points resist
    depends on the disturbance: from the softest direction of `base` (where none does), either way, the points
    that it moves back are added and the softest direction sought anew, until it stays.
    """
    way = np.zeros(6)
    least = 1e300
    for sign in (1.0, -1.0):
        value = softest(base, free, way)
        for k in range(6):
            way[k] *= sign
        for _ in range(DISTURBANCES):
            tangent = base.copy()
            for i in range(panels.area.size):
                dx, dy, dz = slide[i, 0], slide[i, 1], slide[i, 2]
                if dx == 0.0 and dy == 0.0 and dz == 0.0:
                    continue
                r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
                push = dx * way[0] + dy * way[1] + dz * way[2]
                push += (r[1] * dz - r[2] * dy) * way[3] / LEVER
                push += (r[2] * dx - r[0] * dz) * way[4] / LEVER
                push += (r[0] * dy - r[1] * dx) * way[5] / LEVER
                if push < 0.0:
                    d = (dx, dy, dz)
                    add_outer(tangent, r, d, d, panels.area[i] * stiffness)
            before = way.copy()
            value = softest(tangent, free, way)
            same = 0.0
            for k in range(6):
                same += before[k] * way[k]
            if same < 0.0:
                for k in range(6):
                    way[k] = -way[k]
            if abs(same) > 1.0 - 1e-4:
                break
        if value < least:
            least = value
            direction[:] = way
    return least
