"""Compiled evaluation of bicubic splines on a uniform grid. Arrays and numbers in, numbers out."""

import numpy as np

from saddlebench.engine.compiled import compiled, compiled_inline


@compiled_inline
def basis(t):
    """Return the four uniform cubic B-spline weights at `t` in [0, 1), with first and second derivatives."""
    u = 1.0 - t
    tt = t * t
    w0 = u * u * u / 6.0
    w1 = (3.0 * tt * t - 6.0 * tt + 4.0) / 6.0
    w2 = (-3.0 * tt * t + 3.0 * tt + 3.0 * t + 1.0) / 6.0
    w3 = tt * t / 6.0
    d0 = -0.5 * u * u
    d1 = 1.5 * tt - 2.0 * t
    d2 = -1.5 * tt + t + 0.5
    d3 = 0.5 * tt
    return w0, w1, w2, w3, d0, d1, d2, d3, u, 3.0 * t - 2.0, 1.0 - 3.0 * t, t


@compiled
def evaluate(coefficients, s0, ds, phi0, dphi, s, phi, layer, out):
    """Fill `out[k]` with value, ∂s, ∂φ, ∂ss, ∂sφ, ∂φφ at each `(s[k], phi[k])`.

    Points off the grid are evaluated in the nearest cell, that is, continued by its polynomial.
    """
    n_s = coefficients.shape[0] - 3
    n_phi = coefficients.shape[1] - 3
    for k in range(s.size):
        a = (s[k] - s0) / ds
        b = (phi[k] - phi0) / dphi
        i = min(max(int(np.floor(a)), 0), n_s - 1)
        j = min(max(int(np.floor(b)), 0), n_phi - 1)
        ws = basis(a - i)
        wp = basis(b - j)
        v = vs = vp = vss = vsp = vpp = 0.0
        for p in range(4):
            row = row_p = row_pp = 0.0
            for q in range(4):
                c = coefficients[i + p, j + q, layer]
                row += wp[q] * c
                row_p += wp[4 + q] * c
                row_pp += wp[8 + q] * c
            v += ws[p] * row
            vs += ws[4 + p] * row
            vss += ws[8 + p] * row
            vp += ws[p] * row_p
            vsp += ws[4 + p] * row_p
            vpp += ws[p] * row_pp
        out[k, 0] = v
        out[k, 1] = vs / ds
        out[k, 2] = vp / dphi
        out[k, 3] = vss / (ds * ds)
        out[k, 4] = vsp / (ds * dphi)
        out[k, 5] = vpp / (dphi * dphi)


@compiled
def basis_rows(position, n_nodes, out):
    """Fill `out[order, k, :]` with the spline's weights on its coefficients at `position[k]`, in node units.

    Orders 0, 1, 2 are the value and its derivatives by the position. Positions off the nodes continue the end
    cells' polynomials.
    """
    for k in range(position.size):
        i = min(max(int(np.floor(position[k])), 0), n_nodes - 2)
        w = basis(position[k] - i)
        for order in range(3):
            for p in range(4):
                out[order, k, i + p] = w[4 * order + p]
