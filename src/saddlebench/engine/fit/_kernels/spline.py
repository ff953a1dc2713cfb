"""The gap to the back and its derivatives, from the interleaved spline of `R` and `C`."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled_inline


@compiled_inline
def locate(back, x, y, z):
    """Return s, φ, r of a point, its cell, its place in it, and whether the back reaches there."""
    s = -x
    up = z - back.axis_z
    radius = np.sqrt(y * y + up * up)
    phi = np.arctan2(y, up)
    a = (s - back.s0) / back.ds
    b = (phi - back.phi0) / back.dphi
    n_s = back.coefficients.shape[0] - 3
    n_phi = back.coefficients.shape[1] - 3
    i = min(max(int(np.floor(a)), 0), n_s - 1)
    j = min(max(int(np.floor(b)), 0), n_phi - 1)
    over_s = max(-a, a - n_s) * back.ds
    over_phi = max(-b, b - n_phi) * back.dphi * radius
    return s, phi, radius, up, i, j, a - i, b - j, max(over_s, over_phi) <= back.margin_mm


@compiled_inline
def value(coefficients, i, j, ws, wp):
    """Return R in cell (i, j) for given weights."""
    total = 0.0
    for p in range(4):
        c = coefficients[i + p]
        total += ws[p] * (wp[0] * c[j, 0] + wp[1] * c[j + 1, 0] + wp[2] * c[j + 2, 0] + wp[3] * c[j + 3, 0])
    return total


@compiled_inline
def derivatives(coefficients, layer, i, j, ws, wp, ds, dphi):
    """Return value, ∂s, ∂φ, ∂ss, ∂sφ, ∂φφ of one layer in cell (i, j)."""
    v = vs = vp = vss = vsp = vpp = 0.0
    for p in range(4):
        c = coefficients[i + p]
        c0, c1, c2, c3 = c[j, layer], c[j + 1, layer], c[j + 2, layer], c[j + 3, layer]
        row = wp[0] * c0 + wp[1] * c1 + wp[2] * c2 + wp[3] * c3
        row_p = wp[4] * c0 + wp[5] * c1 + wp[6] * c2 + wp[7] * c3
        row_pp = wp[8] * c0 + wp[9] * c1 + wp[10] * c2 + wp[11] * c3
        v += ws[p] * row
        vs += ws[4 + p] * row
        vss += ws[8 + p] * row
        vp += ws[p] * row_p
        vsp += ws[4 + p] * row_p
        vpp += ws[p] * row_pp
    return v, vs / ds, vp / dphi, vss / (ds * ds), vsp / (ds * dphi), vpp / (dphi * dphi)


@compiled_inline
def gap_terms(back, i, j, ta, tb, y, up, radius):
    """Return the gap, its gradient (3) and its Hessian (6: xx, xy, xz, yy, yz, zz) in back axes.

    d = (r − R)·C in cylindrical coordinates; the Hessian's components in the frame (e_s, e_φ, e_r) are the
    textbook ones for cylindrical coordinates.
    """
    ws = basis(ta)
    wp = basis(tb)
    v, vs, vp, vss, vsp, vpp = derivatives(back.coefficients, 0, i, j, ws, wp, back.ds, back.dphi)
    c, cs, cp, css, csp, cpp = derivatives(back.coefficients, 1, i, j, ws, wp, back.ds, back.dphi)
    e = radius - v
    inv = 1.0 / radius
    d = e * c
    d_s = -vs * c + e * cs
    d_p = -vp * c + e * cp
    g_p = d_p * inv
    h_ss = -vss * c - 2.0 * vs * cs + e * css
    h_sp = (-vsp * c - vs * cp - vp * cs + e * csp) * inv
    h_pp = (-vpp * c - 2.0 * vp * cp + e * cpp) * inv * inv + c * inv
    h_pr = cp * inv - d_p * inv * inv
    sn = y * inv
    cn = up * inv
    # e_s = −x; e_φ = (0, cn, −sn); e_r = (0, sn, cn); there is no rr term
    gx = -d_s
    gy = g_p * cn + c * sn
    gz = -g_p * sn + c * cn
    hxx = h_ss
    hxy = -(h_sp * cn + cs * sn)
    hxz = -(-h_sp * sn + cs * cn)
    hyy = h_pp * cn * cn + 2.0 * h_pr * cn * sn
    hyz = -h_pp * cn * sn + h_pr * (cn * cn - sn * sn)
    hzz = h_pp * sn * sn - 2.0 * h_pr * sn * cn
    return d, gx, gy, gz, hxx, hxy, hxz, hyy, hyz, hzz
