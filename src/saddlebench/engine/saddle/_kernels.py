"""Compiled evaluation of panel faces and of distances to their edges. Arrays and numbers in, numbers out."""

import numpy as np

from saddlebench.engine.compiled import compiled, compiled_inline

SMALL = 1e-8
"""Below it `sin x / x` is 1 to the last digit."""


@compiled_inline
def along(table, d):
    """Return a quantity at distance `d` from its row of `lengthwise.SmoothAlong`."""
    behind, ahead = d - table[0], table[2] - d
    if d <= table[1]:
        return table[3] + table[4] * behind + table[5] * max(behind, 0.0) ** 3
    return table[6] - table[7] * ahead + table[8] * max(ahead, 0.0) ** 3


@compiled_inline
def over(x):
    """Return `sin x / x`."""
    return np.sin(x) / x if abs(x) > SMALL else 1.0


@compiled_inline
def bend_of(rounding, width):
    """Return the curvature of an arc by Newton's steps on `rounding/width = sin²y/2y`, y = κw/4.

    They start from the inverted power series, so that one step is enough for every panel that is made.
    """
    q = rounding / width
    x = 2.0 * q
    xx = x * x
    y = x * (1.0 + xx * (1.0 / 3.0 + xx * (13.0 / 45.0 + xx * 311.0 / 945.0)))
    for _ in range(6):
        if abs(y) < SMALL:
            break
        sine, cosine = np.sin(y), np.cos(y)
        by = (0.5 * sine * sine / y - q) / (sine * cosine / y - 0.5 * sine * sine / (y * y))
        y -= by
        if abs(by) < SMALL * abs(y):
            break
    return 4.0 * y / width


@compiled
def bends(rounding, width, out):
    """Fill `out` with the curvature [1/mm] of arcs `width` long, `rounding` above their chords."""
    for k in range(out.size):
        out[k] = bend_of(rounding[k], width[k])


@compiled
def face_points(tables, length, tail, sweep, from_middle, behind, v, out):
    """Fill `out` with points of a face; see `face.Face`, whose quantities are the tables' rows."""
    for k in range(v.size):
        d = behind[k]
        angle, width = along(tables[2], d), along(tables[3], d)
        bend = bend_of(along(tables[4], d), width)
        z = along(tables[1], d)
        if from_middle:
            half = 0.5 * width * over(0.25 * bend * width)
            z += half * np.sin(angle + 0.25 * bend * width)
        z += tail * max(0.0, 1.0 - (length - d) / sweep) ** 3
        u = v[k] * width
        chord = u * over(0.5 * bend * u)
        mean_angle = angle + 0.5 * bend * (width - u)
        out[k, 0] = -d
        out[k, 1] = along(tables[0], d) + chord * np.cos(mean_angle)
        out[k, 2] = z - chord * np.sin(mean_angle)


@compiled_inline
def step(x):
    """Return 0 below 0, 1 above 1, and the quintic of `lengthwise.smooth_step` between."""
    t = min(max(x, 0.0), 1.0)
    return t * t * t * (10.0 - 15.0 * t + 6.0 * t * t)


@compiled
def filled(inner, outer, ends, blend, behind, across, out):
    """Fill `out` with what a filling adds at distances `behind` and fractions `across`; see `zones`."""
    for k in range(out.size):
        a, b = inner[0], outer[0]
        for zone in range(ends.size):
            share = step((behind[k] - ends[zone]) / blend + 0.5)
            a += (inner[zone + 1] - inner[zone]) * share
            b += (outer[zone + 1] - outer[zone]) * share
        out[k] = a + (b - a) * step(2.0 * across[k] - 0.5)


@compiled
def to_line(points, line, out):
    """Fill `out` with distances to the two segments of a polyline that meet at its nearest corner."""
    for k in range(points.shape[0]):
        x, y, z = points[k, 0], points[k, 1], points[k, 2]
        nearest, least = 0, np.inf
        for j in range(line.shape[0]):
            far = (line[j, 0] - x) ** 2 + (line[j, 1] - y) ** 2 + (line[j, 2] - z) ** 2
            if far < least:
                nearest, least = j, far
        for j in range(max(nearest - 1, 0), min(nearest + 1, line.shape[0] - 1)):
            a, b, c = line[j + 1, 0] - line[j, 0], line[j + 1, 1] - line[j, 1], line[j + 1, 2] - line[j, 2]
            p, q, r = x - line[j, 0], y - line[j, 1], z - line[j, 2]
            square = a * a + b * b + c * c
            share = min(max((p * a + q * b + r * c) / square, 0.0), 1.0) if square > 0.0 else 0.0
            far = (p - share * a) ** 2 + (q - share * b) ** 2 + (r - share * c) ** 2
            least = min(least, far)
        out[k] = np.sqrt(least)


@compiled_inline
def crossed(around, k):
    """Return the cross product of the differences of points (4, n, 3) at t ± step and v ± step."""
    a0, b0 = around[1, k, 0] - around[0, k, 0], around[3, k, 0] - around[2, k, 0]
    a1, b1 = around[1, k, 1] - around[0, k, 1], around[3, k, 1] - around[2, k, 1]
    a2, b2 = around[1, k, 2] - around[0, k, 2], around[3, k, 2] - around[2, k, 2]
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0


@compiled
def normals_of(around, out):
    """Fill `out` (n, 3) with unit normals of a surface, from its points beside each."""
    for k in range(out.shape[0]):
        x, y, z = crossed(around, k)
        size = np.sqrt(x * x + y * y + z * z)
        out[k, 0], out[k, 1], out[k, 2] = x / size, y / size, z / size


@compiled
def densities(around, step, out):
    """Fill `out` with `|S_t × S_v|`."""
    for k in range(out.size):
        x, y, z = crossed(around, k)
        out[k] = np.sqrt(x * x + y * y + z * z) / (4.0 * step * step)
