"""Gaps and pressures of every point at a pose, and the bounded least squares of a few unknowns."""

import numpy as np

from saddlebench.engine.back._kernels import basis
from saddlebench.engine.compiled import compiled
from saddlebench.engine.fit._kernels.energy import turned
from saddlebench.engine.fit._kernels.laws import law
from saddlebench.engine.fit._kernels.spline import derivatives, gap_terms, locate


@compiled
def press(back, panels, laws, pose, gap, slope, bend, pressure, stiffness):
    """Fill each point's gap, its gradient (n, 3) and Hessian (n, 6), its pressure and the law's slope.

    A point that does not touch has the slope with which its pressure would begin; one beyond the back's
    edge has a gap of infinity.
    """
    flat, row = back.flat, back.row
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        x, y, z = r[0] + pose[9], r[1] + pose[10], r[2] + pose[11]
        _s, _phi, radius, up, ci, cj, ta, tb, inside = locate(back, x, y, z)
        pressure[i] = 0.0
        gap[i] = np.inf
        m = panels.law[i]
        linear = laws.end[m, 0] == 0.0
        if linear:
            stiffness[i] = laws.end[m, 3]
        else:
            stiffness[i] = law(laws, m, 0.0)[2]
        if not inside:
            continue
        ws = basis(ta)
        wp = basis(tb)
        first = ci * row + 2 * cj
        of_radius = derivatives(flat, row, first, ws, wp, back.per_ds, back.per_dphi)
        of_scale = derivatives(flat, row, first + 1, ws, wp, back.per_ds, back.per_dphi)
        d, gx, gy, gz, hxx, hxy, hxz, hyy, hyz, hzz = gap_terms(of_radius, of_scale, y, up, radius)
        gap[i] = d
        slope[i, 0], slope[i, 1], slope[i, 2] = gx, gy, gz
        bend[i, 0], bend[i, 1], bend[i, 2] = hxx, hxy, hxz
        bend[i, 3], bend[i, 4], bend[i, 5] = hyy, hyz, hzz
        if d < 0.0:
            if linear:
                pressure[i] = -stiffness[i] * d
            else:
                _psi, pressure[i], stiffness[i] = law(laws, m, -d)


@compiled
def descend(square, linear, price, low, high, x, tolerance, sweeps):
    """Minimise ½xᵀSx + cᵀx + Σ w|x| within bounds by cyclic coordinate descent, from `x`; return the sweeps.

    S is symmetric and positive definite, so that every limit of the sweeps is the one minimum (Tseng 2001,
    J Optim Theory Appl 109:475–494: the part without derivatives is separable).
    """
    n = x.size
    slope = linear.copy()
    for a in range(n):
        for b in range(n):
            slope[a] += square[a, b] * x[b]
    for sweep in range(sweeps):
        most = 0.0
        for a in range(n):
            s = square[a, a]
            aim = x[a] - slope[a] / s
            w = price[a] / s
            if aim > w:
                aim -= w
            elif aim < -w:
                aim += w
            else:
                aim = 0.0
            aim = min(max(aim, low[a]), high[a])
            step = aim - x[a]
            if step != 0.0:
                x[a] = aim
                for b in range(n):
                    slope[b] += square[b, a] * step
                most = max(most, abs(step))
        if most < tolerance:
            return sweep + 1
    return sweeps
