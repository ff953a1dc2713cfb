"""Closest points of many backs to many points, by Newton's method on the surface's own coordinates."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled, compiled_inline


@compiled_inline
def radius(coefficients, s0, ds, phi0, dphi, s, phi):
    """Return R, R_s, R_φ, R_ss, R_sφ, R_φφ; end cells are continued."""
    a = (s - s0) / ds
    b = (phi - phi0) / dphi
    i = min(max(int(np.floor(a)), 0), coefficients.shape[0] - 4)
    j = min(max(int(np.floor(b)), 0), coefficients.shape[1] - 4)
    ws = basis(a - i)
    wp = basis(b - j)
    v = vs = vp = vss = vsp = vpp = 0.0
    for p in range(4):
        row = row_p = row_pp = 0.0
        for q in range(4):
            c = coefficients[i + p, j + q, 0]
            row += wp[q] * c
            row_p += wp[4 + q] * c
            row_pp += wp[8 + q] * c
        v += ws[p] * row
        vs += ws[4 + p] * row
        vss += ws[8 + p] * row
        vp += ws[p] * row_p
        vsp += ws[4 + p] * row_p
        vpp += ws[p] * row_pp
    return v, vs / ds, vp / dphi, vss / (ds * ds), vsp / (ds * dphi), vpp / (dphi * dphi)


@compiled_inline
def square(coefficients, s0, ds, phi0, dphi, axis_z, x, y, z, s, phi):
    """Return half the squared distance to the surface's point at (s, φ)."""
    v = radius(coefficients, s0, ds, phi0, dphi, s, phi)[0]
    ex = x + s
    ey = y - v * np.sin(phi)
    ez = z - axis_z - v * np.cos(phi)
    return 0.5 * (ex * ex + ey * ey + ez * ez)


@compiled
def closest(coefficients, s0, ds, phi0, dphi, axis_z, points, out):
    """Fill `out[:, d, m]` with signed distance, s and φ of the foot of `points[d, m]` on back `d`.

    With one back for all, `coefficients` has one layer. Each step is Newton's where the Hessian is positive and
    Gauss's where not, halved until the distance falls.
    """
    for d in range(points.shape[0]):
        c = coefficients[d if coefficients.shape[0] > 1 else 0]
        for m in range(points.shape[1]):
            x, y, z = points[d, m, 0], points[d, m, 1], points[d, m, 2]
            up = z - axis_z
            r = np.sqrt(y * y + up * up)
            s = -x
            phi = np.arctan2(y, up)
            sign = 1.0 if r >= radius(c, s0, ds, phi0, dphi, s, phi)[0] else -1.0
            f = square(c, s0, ds, phi0, dphi, axis_z, x, y, z, s, phi)
            for _ in range(40):
                v, vs, vp, vss, vsp, vpp = radius(c, s0, ds, phi0, dphi, s, phi)
                sn = np.sin(phi)
                cn = np.cos(phi)
                ex = x + s
                er = y * sn + up * cn - v  # error along e_r
                ep = y * cn - up * sn  # along e_φ
                # X_s = (−1, R_s e_r); X_φ = R_φ e_r + R e_φ
                gs = ex - vs * er
                gp = -(vp * er + v * ep)
                gss = 1.0 + vs * vs
                gsp = vs * vp
                gpp = vp * vp + v * v
                hss = gss - vss * er
                hsp = gsp - (vsp * er + vs * ep)
                hpp = gpp - ((vpp - v) * er + 2.0 * vp * ep)
                det = hss * hpp - hsp * hsp
                if det <= 0.0 or hss <= 0.0:
                    hss, hsp, hpp = gss, gsp, gpp
                    det = hss * hpp - hsp * hsp
                step_s = -(hpp * gs - hsp * gp) / det
                step_p = -(hss * gp - hsp * gs) / det
                scale = min(1.0, 30.0 / max(abs(step_s), 1e-12), 0.3 / max(abs(step_p), 1e-12))
                step_s *= scale
                step_p *= scale
                moved = False
                for _ in range(12):
                    trial = square(c, s0, ds, phi0, dphi, axis_z, x, y, z, s + step_s, phi + step_p)
                    if trial <= f:
                        s += step_s
                        phi += step_p
                        f = trial
                        moved = True
                        break
                    step_s *= 0.5
                    step_p *= 0.5
                if not moved or abs(step_s) + v * abs(step_p) < 1e-7:
                    break
            out[0, d, m] = sign * np.sqrt(2.0 * f)
            out[1, d, m] = s
            out[2, d, m] = phi
