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


@compiled
def closest(coefficients, s0, ds, phi0, dphi, axis_z, points, out):
    """Fill `out[k]` with the signed distance (positive outside), normal, s, φ, ∇²d (6) and the iterations.

    Newton's method on half the squared distance over (s, φ), its Hessian shifted to stay positive, steps halved
    until the distance falls. The point's own polar place is the start. Derivatives of the distance are by
    `∇d = n`, `∇²d = T S Tᵀ`, `S = G⁻¹B(G + dB)⁻¹`, with tangents T, first form G, second form B = −n·X_uv.
    """
    n_s = coefficients.shape[0] - 3
    n_phi = coefficients.shape[1] - 3
    jet = np.zeros((1, 6))
    at_s = np.zeros(1)
    at_phi = np.zeros(1)
    for k in range(points.shape[0]):
        x = points[k, 0]
        y = points[k, 1]
        up = points[k, 2] - axis_z
        s = min(max(-x, s0), s0 + ds * n_s)
        phi = min(max(np.arctan2(y, up), phi0), phi0 + dphi * n_phi)
        best = np.inf
        step_s = step_phi = 0.0
        shrink = 1.0
        n_iterations = 0
        for iteration in range(60):
            n_iterations = iteration
            at_s[0] = s + shrink * step_s
            at_phi[0] = phi + shrink * step_phi
            evaluate(coefficients, s0, ds, phi0, dphi, at_s, at_phi, 0, jet)
            r, rs, rp = jet[0, 0], jet[0, 1], jet[0, 2]
            sine, cosine = np.sin(at_phi[0]), np.cos(at_phi[0])
            fx = x + at_s[0]
            fy = y - r * sine
            fz = up - r * cosine
            half = 0.5 * (fx * fx + fy * fy + fz * fz)
            if half > best * (1.0 + 1e-15):
                shrink *= 0.5
                if shrink < 1e-6:
                    break
                continue
            s, phi, best, shrink = at_s[0], at_phi[0], half, 1.0
            # Tangents X_s = (−1, R_s sin, R_s cos), X_φ = R_φ e_r + R e_φ.
            along = fy * sine + fz * cosine
            across = fy * cosine - fz * sine
            g_s = fx - rs * along
            g_phi = -rp * along - r * across
            h_ss = 1.0 + rs * rs - jet[0, 3] * along
            h_sp = rs * rp - jet[0, 4] * along - rs * across
            h_pp = rp * rp + r * r - (jet[0, 5] - r) * along - 2.0 * rp * across
            # Scaled by the radius both unknowns are lengths.
            h_sp /= r
            h_pp /= r * r
            g_phi /= r
            mean = 0.5 * (h_ss + h_pp)
            spread = np.sqrt(0.25 * (h_ss - h_pp) ** 2 + h_sp * h_sp)
            shift = max(0.0, 0.05 - (mean - spread))
            a = h_ss + shift
            b = h_pp + shift
            determinant = a * b - h_sp * h_sp
            step_s = -(b * g_s - h_sp * g_phi) / determinant
            step_phi = -(a * g_phi - h_sp * g_s) / determinant
            size = np.sqrt(step_s * step_s + step_phi * step_phi)
            if size < 1e-9 * (1.0 + r):
                break
            if size > 40.0:
                step_s *= 40.0 / size
                step_phi *= 40.0 / size
            step_phi /= r
        at_s[0] = s
        at_phi[0] = phi
        evaluate(coefficients, s0, ds, phi0, dphi, at_s, at_phi, 0, jet)
        r, rs, rp = jet[0, 0], jet[0, 1], jet[0, 2]
        rss, rsp, rpp = jet[0, 3], jet[0, 4], jet[0, 5]
        sine, cosine = np.sin(phi), np.cos(phi)
        slope = rp / r
        length = np.sqrt(1.0 + rs * rs + slope * slope)
        nx = rs / length
        ny = (sine - slope * cosine) / length
        nz = (cosine + slope * sine) / length
        d = nx * (x + s) + ny * (y - r * sine) + nz * (up - r * cosine)
        t1x, t1y, t1z = -1.0, rs * sine, rs * cosine
        t2x, t2y, t2z = 0.0, rp * sine + r * cosine, rp * cosine - r * sine
        radial = 1.0 / length
        turning = -slope / length
        b11 = -rss * radial
        b12 = -(rsp * radial + rs * turning)
        b22 = -((rpp - r) * radial + 2.0 * rp * turning)
        g11 = 1.0 + rs * rs
        g12 = rs * rp
        g22 = rp * rp + r * r
        det_g = g11 * g22 - g12 * g12
        # S = G⁻¹ B (G + dB)⁻¹, symmetric.
        m11 = (g22 * b11 - g12 * b12) / det_g
        m12 = (g22 * b12 - g12 * b22) / det_g
        m21 = (g11 * b12 - g12 * b11) / det_g
        m22 = (g11 * b22 - g12 * b12) / det_g
        q11, q12, q22 = g11 + d * b11, g12 + d * b12, g22 + d * b22
        det_q = q11 * q22 - q12 * q12
        s11 = (m11 * q22 - m12 * q12) / det_q
        s12 = (m12 * q11 - m11 * q12) / det_q
        s21 = (m21 * q22 - m22 * q12) / det_q
        s22 = (m22 * q11 - m21 * q12) / det_q
        s12 = 0.5 * (s12 + s21)
        out[k, 0] = d
        out[k, 1] = nx
        out[k, 2] = ny
        out[k, 3] = nz
        out[k, 4] = s
        out[k, 5] = phi
        out[k, 6] = s11 * t1x * t1x + 2.0 * s12 * t1x * t2x + s22 * t2x * t2x
        out[k, 7] = s11 * t1x * t1y + s12 * (t1x * t2y + t1y * t2x) + s22 * t2x * t2y
        out[k, 8] = s11 * t1x * t1z + s12 * (t1x * t2z + t1z * t2x) + s22 * t2x * t2z
        out[k, 9] = s11 * t1y * t1y + 2.0 * s12 * t1y * t2y + s22 * t2y * t2y
        out[k, 10] = s11 * t1y * t1z + s12 * (t1y * t2z + t1z * t2y) + s22 * t2y * t2z
        out[k, 11] = s11 * t1z * t1z + 2.0 * s12 * t1z * t2z + s22 * t2z * t2z
        out[k, 12] = n_iterations
