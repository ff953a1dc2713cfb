"""Compression laws: layers in series at equal pressure, tabulated as cubics of the compression."""

import numpy as np

from saddlebench.engine.compiled import compiled

LINEAR_MM = 1e6  # a δ₀ beyond this is a linear law


@compiled
def node(end, n, m):
    """Return the compression at a table's node: they lie closer where pressures are small."""
    return end * (m / n) ** 2


@compiled
def law(laws, row, delta):
    """Return ψ, p and p' at a compression δ ≥ 0; p is C¹ and exactly ψ'."""
    end = laws.end[row, 0]
    if delta >= end:
        over = delta - end
        p0 = laws.end[row, 2]
        k = laws.end[row, 3]
        return laws.end[row, 1] + over * (p0 + 0.5 * k * over), p0 + k * over, k
    n = laws.table.shape[1]
    m = min(int(n * np.sqrt(delta / end)), n - 1)
    start = node(end, n, m)
    h = node(end, n, m + 1) - start
    t = (delta - start) / h
    a = laws.table[row, m]
    psi = a[0] + h * t * (a[1] + t * (a[2] / 2.0 + t * (a[3] / 3.0 + t * a[4] / 4.0)))
    p = a[1] + t * (a[2] + t * (a[3] + t * a[4]))
    return psi, p, (a[2] + t * (2.0 * a[3] + t * 3.0 * a[4])) / h


@compiled
def layer(k, d0, p):
    """Return δ and dδ/dp of one layer, from p = kδ(1 + (δ/δ₀)²): the real root of a depressed cubic."""
    if d0 > LINEAR_MM:
        return p / k, 1.0 / k
    d = 2.0 * d0 / np.sqrt(3.0) * np.sinh(np.arcsinh(1.5 * np.sqrt(3.0) * p / (k * d0)) / 3.0)
    return d, 1.0 / (k * (1.0 + 3.0 * (d / d0) ** 2))


@compiled
def series(stiffness, hardening, p):
    """Return δ and dδ/dp of layers in series."""
    delta = slope = 0.0
    for j in range(stiffness.size):
        d, s = layer(stiffness[j], hardening[j], p)
        delta += d
        slope += s
    return delta, slope


@compiled
def tabulate(stiffness, hardening, used, p_end, end, table):
    """Fill `end` and `table` for each used row of layers; rows whose layers are all linear need no table."""
    n = table.shape[1]
    for row in range(stiffness.shape[0]):
        if not used[row]:
            continue
        k = stiffness[row]
        d0 = hardening[row]
        delta_end, slope_end = series(k, d0, p_end)
        is_linear = True
        for j in range(d0.size):
            is_linear = is_linear and d0[j] > LINEAR_MM
        if is_linear:
            end[row, 3] = 1.0 / slope_end
            continue
        psi = 0.0
        p0 = 0.0
        k0 = 1.0 / series(k, d0, 0.0)[1]
        for m in range(n):
            target = node(delta_end, n, m + 1)
            h = target - node(delta_end, n, m)
            p1 = p0 + k0 * h
            for _ in range(30):
                d, s = series(k, d0, p1)
                step = (d - target) / s
                p1 -= step
                if abs(step) < 1e-11 * p1:
                    break
            k1 = 1.0 / series(k, d0, p1)[1]
            rise = p1 - p0
            a = table[row, m]
            a[0] = psi
            a[1] = p0
            a[2] = h * k0
            a[3] = 3.0 * rise - h * (2.0 * k0 + k1)
            a[4] = -2.0 * rise + h * (k0 + k1)
            psi += h * (a[1] + a[2] / 2.0 + a[3] / 3.0 + a[4] / 4.0)
            p0 = p1
            k0 = k1
        end[row, 0] = delta_end
        end[row, 1] = psi
        end[row, 2] = p0
        end[row, 3] = k0
