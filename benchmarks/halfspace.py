"""The half-space solver against the package that is its oracle: the same contacts, grids and accuracy."""

import time
import warnings
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.halfspace import ContactGrid, Substrate, press_with

MODULUS_KPA = 80.0
LOAD_N = 60.0
TOLERANCE = 1e-6
REPEATS = 5


def main() -> None:
    """Print times, iterations and the ratio, side by side."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        # Held back from starting other benchmarks: it is a test library, and asks for MPI when loaded.
        from ContactMechanics import FreeFFTElasticHalfSpace  # noqa: PLC0415
        from ContactMechanics.Optimization import constrained_conjugate_gradients  # noqa: PLC0415
        from SurfaceTopography import Topography  # noqa: PLC0415

    print("| contact | grid | ours ms | steps | residual | package ms | steps | ratio | peaks apart |")
    print("|---|---|---|---|---|---|---|---|---|")
    for name in ("sphere", "rough"):
        for n in (32, 64, 128):
            grid = ContactGrid(n_x=n, n_y=n, dx_mm=150.0 / n, dy_mm=150.0 / n)
            gap = contact(name, grid)
            sizes = (150.0, 150.0)

            def ours(grid=grid, gap=gap):
                substrate = Substrate(contact_modulus_kpa=MODULUS_KPA)
                return press_with(grid, gap, substrate, LOAD_N, tolerance=TOLERANCE)

            pressed = ours()
            assert is_known(pressed)
            pentol = TOLERANCE * float(pressed.displacement_mm.max())

            def package(grid=grid, gap=gap, sizes=sizes, pentol=pentol):
                substrate = FreeFFTElasticHalfSpace(grid.shape, MODULUS_KPA, sizes)
                # Its tolerance is a length: the same share of the displacement as ours.
                return constrained_conjugate_gradients(
                    substrate,
                    Topography(-gap, physical_sizes=sizes),
                    external_force=LOAD_N * 1e3,
                    pentol=pentol,
                )

            (t_ours, _), (t_package, result) = timed(ours), timed(package)
            theirs = result.jac[:n, :n] / grid.cell_mm2
            apart = abs(pressed.pressure_kpa.max() / theirs.max() - 1.0)
            print(
                f"| {name} | {n}×{n} | {t_ours * 1e3:.1f} | {pressed.iterations} | {pressed.residual:.0e} | "
                f"{t_package * 1e3:.1f} | {result.nit} | {t_package / t_ours:.1f} | {apart:.0e} |"
            )


def contact(name: str, grid: ContactGrid) -> np.ndarray:
    """Return a sphere's gap, or a rough paraboloid's."""
    x, y = grid.centres()
    if name == "sphere":
        return (x**2 + y**2) / 400.0
    return (x**2 + 2 * y**2) / 500.0 + np.random.default_rng(1).normal(0.0, 0.2, grid.shape)


def timed(call: Callable[[], Any]) -> tuple[float, Any]:
    """Return the median time of a call after one to warm up, and its result."""
    result = call()
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        result = call()
        times.append(time.perf_counter() - start)
    return median(times), result
