"""The gap to the back and its derivatives, from the interleaved spline of `R` and `C`."""

import numpy as np

from saddlebench.engine.compiled import compiled_inline


@compiled_inline
def locate(back, x, y, z):
    """Return s, φ, r of a point, its cell, its place in it, and whether the back reaches there."""
    s = -x
    up = z - back.axis_z
    radius = np.sqrt(y * y + up * up)
    phi = np.arctan2(y, up)
    a = (s - back.s0) * back.per_ds
    b = (phi - back.phi0) * back.per_dphi
    n_s, n_phi = back.n_s, back.n_phi
    i = min(max(int(np.floor(a)), 0), n_s - 1)
    j = min(max(int(np.floor(b)), 0), n_phi - 1)
    inside = True
    if a < 0.0 or a > n_s or b < 0.0 or b > n_phi:
        over_s = max(-a, a - n_s) / back.per_ds
        over_phi = max(-b, b - n_phi) / back.per_dphi * radius
        inside = max(over_s, over_phi) <= back.margin_mm
    return s, phi, radius, up, i, j, a - i, b - j, inside


@compiled_inline
def value(flat, row, first, ws, wp):
    """Return R in the cell whose coefficients begin at `first`, in rows of length `row`."""
    total = 0.0
    for p in range(4):
        m = first + p * row
        total += ws[p] * (wp[0] * flat[m] + wp[1] * flat[m + 2] + wp[2] * flat[m + 4] + wp[3] * flat[m + 6])
    return total


@compiled_inline
def derivatives(flat, row, first, ws, wp, per_ds, per_dphi):
    """Return value, ∂s, ∂φ, ∂ss, ∂sφ, ∂φφ of R in a cell; of C with `first` one further."""
    v = vs = vp = vss = vsp = vpp = 0.0
    for p in range(4):
        m = first + p * row
        c0, c1, c2, c3 = flat[m], flat[m + 2], flat[m + 4], flat[m + 6]
        line = wp[0] * c0 + wp[1] * c1 + wp[2] * c2 + wp[3] * c3
        line_p = wp[4] * c0 + wp[5] * c1 + wp[6] * c2 + wp[7] * c3
        line_pp = wp[8] * c0 + wp[9] * c1 + wp[10] * c2 + wp[11] * c3
        v += ws[p] * line
        vs += ws[4 + p] * line
        vss += ws[8 + p] * line
        vp += ws[p] * line_p
        vsp += ws[4 + p] * line_p
        vpp += ws[p] * line_pp
    return (
        v,
        vs * per_ds,
        vp * per_dphi,
        vss * (per_ds * per_ds),
        vsp * (per_ds * per_dphi),
        vpp * (per_dphi * per_dphi),
    )


@compiled_inline
def gap_terms(of_radius, of_scale, y, up, radius):
    """Return the gap, its gradient (3) and its Hessian (6: xx, xy, xz, yy, yz, zz) in back axes.

    d = (r − R)·C in cylindrical coordinates; the Hessian's components in the frame (e_s, e_φ, e_r) are the
    textbook ones for cylindrical coordinates.
    """
    v, vs, vp, vss, vsp, vpp = of_radius
    c, cs, cp, css, csp, cpp = of_scale
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
