"""True distances to the back at the end of a step."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import evaluate, turned
from saddlebench.engine.fit._kernels.newton import eigen, scaled
from saddlebench.engine.fit._kernels.parts import Friction
from saddlebench.engine.fit._kernels.spline import derivatives, locate


@compiled
def closest_distance(back, x, y, z):
    """Return the signed distance to the nearest point of the surface, by Newton on (s, φ)."""
    s, phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
    n_s = back.coefficients.shape[0] - 3
    n_phi = back.coefficients.shape[1] - 3
    sign = 1.0
    for step in range(8):
        a = (s - back.s0) / back.ds
        b = (phi - back.phi0) / back.dphi
        i = min(max(int(np.floor(a)), 0), n_s - 1)
        j = min(max(int(np.floor(b)), 0), n_phi - 1)
        v, vs, vp, vss, vsp, vpp = derivatives(
            back.coefficients, 0, i, j, basis(a - i), basis(b - j), back.ds, back.dphi
        )
        if step == 0:
            sign = 1.0 if radius >= v else -1.0
        sn, cn = np.sin(phi), np.cos(phi)
        ex = x + s
        er = y * sn + up * cn - v  # along e_r at φ
        ep = y * cn - up * sn  # along e_φ at φ
        # E = x − X; X_s = (−1, v_s e_r); X_φ = v_φ e_r + v e_φ
        fs = -ex + er * vs
        fp = er * vp + ep * v
        gss = 1.0 + vs * vs - er * vss
        gsp = vs * vp - er * vsp - ep * vs
        gpp = vp * vp + v * v - er * (vpp - v) - 2.0 * ep * vp
        det = gss * gpp - gsp * gsp
        if gss <= 0.0 or det <= 1e-6 * gss * v * v:
            gss, gsp, gpp = 1.0 + vs * vs, vs * vp, vp * vp + v * v
            det = gss * gpp - gsp * gsp
        step_s = (gpp * fs - gsp * fp) / det
        step_p = (gss * fp - gsp * fs) / det
        s += min(30.0, max(-30.0, step_s))
        phi += min(0.2, max(-0.2, step_p))
        if abs(step_s) < 1e-7 and abs(step_p) * v < 1e-7:
            break
    a = (s - back.s0) / back.ds
    b = (phi - back.phi0) / back.dphi
    i = min(max(int(np.floor(a)), 0), n_s - 1)
    j = min(max(int(np.floor(b)), 0), n_phi - 1)
    v = derivatives(back.coefficients, 0, i, j, basis(a - i), basis(b - j), back.ds, back.dphi)[0]
    ey = y - v * np.sin(phi)
    ez = up - v * np.cos(phi)
    return sign * np.sqrt((x + s) ** 2 + ey * ey + ez * ez)


@compiled
def true_gaps(back, panels, pose, gaps):
    """Fill the signed distance of every panel point to the back."""
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        gaps[i] = closest_distance(back, r[0] + pose[9], r[1] + pose[10], r[2] + pose[11])


@compiled
def tangents(back, panels, laws, friction, girth, loads, pose, free, work, stiffness, softest):
    """Fill the tangent (6, 6) at rest, and the softest eigenvalues with and without friction."""
    n = free.size
    gradient = np.zeros(6)
    without = np.zeros((6, 6))
    none = Friction(
        0.0, 0.0, friction.anchor, friction.cap, friction.normal, friction.first, friction.first_gap
    )
    values = np.zeros(n)
    vectors = np.zeros((n, n))
    g = np.zeros(n)
    h = np.zeros((n, n))
    evaluate(back, panels, laws, none, girth, loads, pose, work, gradient, without)
    scaled(gradient, without, free, g, h)
    eigen(h, values, vectors)
    softest[1] = values.min()
    evaluate(back, panels, laws, friction, girth, loads, pose, work, gradient, stiffness)
    scaled(gradient, stiffness, free, g, h)
    eigen(h, values, vectors)
    k = np.argmin(values)
    softest[0] = values[k]
    softest[2:] = 0.0
    for a in range(n):
        softest[2 + free[a]] = vectors[a, k]
