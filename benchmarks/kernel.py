"""The energy's kernel against its limit: bytes and flops per second of one core, and what holds it back.

Flops and bytes of one touching point are counted by hand from the sources (additions, multiplications and
comparisons that take a float unit; a division or root counts one, an arc tangent none). What a plain loop of
the same machine reaches in the same run stands beside them.
"""

import time
from collections.abc import Callable

import numba
import numpy as np

from benchmarks._pairs import fit_for
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import LEFT_SHOULDER
from saddlebench.engine.back._kernels import basis
from saddlebench.engine.fit._kernels.barrel import laid_girth
from saddlebench.engine.fit._kernels.energy import evaluate, turned
from saddlebench.engine.fit._kernels.spline import derivatives, gap_terms, locate
from saddlebench.engine.fit.settle import states_of
from saddlebench.engine.saddle.numbers import model_from_numbers

FLOPS = {
    "turning and placing the point": 21,
    "cell and place in it": 22,
    "cubic bases, two ways": 72,
    "R, C and their derivatives": 2 * (4 * 33 + 8),
    "gap, gradient, Hessian": 92,
    "law, force, contact stiffness": 46,
    "shear spring": 78,
    "force and moment sums": 36,
    "stiffness sums": 103,
}
"""Of one touching point."""
STREAMED_BYTES = 24 + 8 + 8 + 24 + 8 + 24 + 8 + 8 + 24
"""Point, area, law; anchor, cap, normal; pressure, reach and normal written."""
COEFFICIENT_BYTES = 2 * 16 * 8
REPEATS = 400
CHAIN = 16
"""Pairs of multiply-and-add steps per number of the plain loop."""


@numba.njit(nogil=True, error_model="numpy")
def _located(back, panels, pose):
    total = 0.0
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        found = locate(back, r[0] + pose[9], r[1] + pose[10], r[2] + pose[11])
        total += found[2] + found[6] + found[7]
    return total


@numba.njit(nogil=True, error_model="numpy")
def _with_gap(back, panels, pose):
    total = 0.0
    for i in range(panels.area.size):
        r = turned(pose, panels.points[i, 0], panels.points[i, 1], panels.points[i, 2])
        y = r[1] + pose[10]
        _, _, radius, up, ci, cj, ta, tb, _ = locate(back, r[0] + pose[9], y, r[2] + pose[11])
        ws, wp = basis(ta), basis(tb)
        first = ci * back.row + 2 * cj
        of_radius = derivatives(back.flat, back.row, first, ws, wp, back.per_ds, back.per_dphi)
        of_scale = derivatives(back.flat, back.row, first + 1, ws, wp, back.per_ds, back.per_dphi)
        terms = gap_terms(of_radius, of_scale, y, up, radius)
        total += terms[0] + terms[4] + terms[9]
    return total


@numba.njit(nogil=True)
def _triad(a, b, c, s):
    for i in range(a.size):
        a[i] = b[i] + s * c[i]


def _horner(a, out, m, c):
    for i in range(a.size):
        x = y = a[i]
        for _ in range(CHAIN):
            y = y * x + m
            y = y * x + c
        out[i] = y


_fused = numba.njit(nogil=True, fastmath=True)(_horner)
_strict = numba.njit(nogil=True)(_horner)


def _best(call: Callable[[], object], repeats: int) -> float:
    call()
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return float(best)


def main() -> None:
    print("The energy's kernel against plain loops, one core, best of many")
    rig, states = states_of(fit_for(LEFT_SHOULDER, model_from_numbers(ALL_ROUND, 2000)))
    state = states[2]
    girth = laid_girth(rig.back, state.straps, states[1].pose)
    gradient, hessian, extra = np.zeros(6), np.zeros((6, 6)), np.zeros((6, 6))

    def whole() -> float:
        state.work.free_until[:] = 0.0
        return evaluate(
            state.back, rig.panels, rig.laws, state.friction, girth, state.loads, state.pose, state.work,
            0.0, gradient, hessian, extra,
        )  # fmt: skip

    n, touching = rig.panels.area.size, int(np.sum(state.work.pressure > 0.0))
    seconds = _best(whole, REPEATS)
    located = _best(lambda: _located(state.back, rig.panels, state.pose), REPEATS)
    gapped = _best(lambda: _with_gap(state.back, rig.panels, state.pose), REPEATS)
    flops = touching * sum(FLOPS.values()) / seconds
    streamed = n * STREAMED_BYTES / seconds
    loaded = (n * STREAMED_BYTES + touching * COEFFICIENT_BYTES) / seconds

    small = [np.ones(n * STREAMED_BYTES // 24) for _ in range(3)]
    large = [np.ones(8_000_000) for _ in range(3)]
    near = 3 * small[0].nbytes / _best(lambda: _triad(*small, 0.5), REPEATS)
    far = 3 * large[0].nbytes / _best(lambda: _triad(*large, 0.5), 8)
    held, out = np.full(1024, 0.5), np.zeros(1024)
    steps = 4.0 * CHAIN * held.size
    fused = steps / _best(lambda: _fused(held, out, 0.3, 0.1), 4000)
    strict = steps / _best(lambda: _strict(held, out, 0.3, 0.1), 4000)

    def part(of: float) -> tuple[str, str]:
        return f"{1e9 * of / n:.0f} ns", f"{of / seconds:.0%}"

    by_arithmetic = f"{flops / strict:.0%} of strict, {flops / fused:.0%} of fused"
    by_memory = f"{streamed / near:.0%} of near, {streamed / far:.0%} of far"
    rows = (
        (f"kernel, {n} points, {touching} touching", f"{1e9 * seconds / n:.0f} ns a point", ""),
        ("  of it: finding the cell (root, arc tangent)", *part(located)),
        ("  of it: splines, gap and derivatives", *part(gapped - located)),
        ("  rest: law, friction, sums over 6 × 6", *part(seconds - gapped)),
        ("flops", f"{flops / 1e9:.2f} Gflop/s", by_arithmetic),
        ("bytes streamed", f"{streamed / 1e9:.2f} GB/s", by_memory),
        ("bytes with coefficients", f"{loaded / 1e9:.2f} GB/s", f"{loaded / near:.0%} of near"),
        ("plain loop: multiply, add, strict, in vectors", f"{strict / 1e9:.2f} Gflop/s", ""),
        ("plain loop: fused, in vectors", f"{fused / 1e9:.2f} Gflop/s", ""),
        ("plain loop: triad as large as the kernel's data", f"{near / 1e9:.1f} GB/s", ""),
        ("plain loop: triad of 192 MB", f"{far / 1e9:.1f} GB/s", ""),
    )
    for name, value, share in rows:
        print(f"  {name:<50s} {value:>18s}   {share}")
    print(
        "  Memory does not hold it back: the data lie in the second cache. Arithmetic that comes one\n"
        "  number at a time does: strict floats without fusing or vectors, 32 coefficients gathered for\n"
        "  each point, a chain of root, arc tangent and divisions before they can be, and 27 sums that\n"
        "  every point adds to.\n"
    )
