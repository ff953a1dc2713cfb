"""The uniform bicubic spline against what is known of cubic spline interpolation.

C. de Boor, A Practical Guide to Splines, revised edition (2001): ch. IV (not-a-knot ends reproduce cubics)
and ch. V (the error of cubic spline interpolation is of fourth order in the spacing).
"""

import numpy as np
import pytest

from saddlebench.demo.shapes import SWAY
from saddlebench.engine.back.polar import PolarGrid, PolarSpline, stacked_coefficients
from saddlebench.engine.frames import FloatArray

GRID = PolarGrid(s0_mm=-100.0, ds_mm=20.0, n_s=12, phi0=-1.0, dphi=0.2, n_phi=11, axis_z_mm=-200.0)


def cubic(s: FloatArray, phi: FloatArray) -> FloatArray:
    u = s / 100.0
    return 200.0 + 3 * u - 2 * u**2 + 0.7 * u**3 * phi - 9 * phi**2 + 4 * u**2 * phi**3 - 1.5 * u**3 * phi**3


def test_de_boor_ch_iv_not_a_knot_reproduces_bicubics() -> None:
    spline = PolarSpline.through(GRID, cubic(GRID.s_mm[:, None], GRID.phi[None, :]))
    s, phi = np.random.default_rng(4).uniform([-99.0, -0.99], [119.0, 0.99], (400, 2)).T
    got = spline.radius(s, phi)
    u = s / 100.0
    # Rounding of values near 200 through an inverse of condition about 10: 1e-11 leaves two digits to spare.
    np.testing.assert_allclose(got[:, 0], cubic(s, phi), atol=1e-11 * 200)
    by_phi = 0.7 * u**3 - 18 * phi + 12 * u**2 * phi**2 - 4.5 * u**3 * phi**2
    # A derivative loses the rounding over the spacing: 2e-9/0.2, and a hundred times that for the second.
    np.testing.assert_allclose(got[:, 2], by_phi, atol=1e-8)
    by_s = (3 - 4 * u + 2.1 * u**2 * phi + 8 * u * phi**3 - 4.5 * u**2 * phi**3) / 100.0
    np.testing.assert_allclose(got[:, 1], by_s, atol=1e-8)
    twice_phi = -18 + 24 * u**2 * phi - 9 * u**3 * phi
    np.testing.assert_allclose(got[:, 5], twice_phi, atol=1e-6)


def waves(s: FloatArray, phi: FloatArray) -> FloatArray:
    return 200.0 + 20.0 * np.sin(s / 60.0) * np.cos(1.3 * phi) + 8.0 * np.exp(-((phi / 0.5) ** 2))


@pytest.mark.parametrize("order", [0, 1, 2], ids=["value", "slope", "curvature"])
def test_de_boor_ch_v_order_of_convergence(order: int) -> None:
    s, phi = np.random.default_rng(2).uniform([0.0, -0.8], [400.0, 0.8], (2000, 2)).T
    column = (0, 1, 3)[order]
    exact = waves(s, phi) if order == 0 else 20.0 * np.cos(1.3 * phi) * np.cos(s / 60.0) / 60.0
    exact = exact if order < 2 else -20.0 * np.cos(1.3 * phi) * np.sin(s / 60.0) / 3600.0
    errors = []
    for n in (24, 48, 96):
        grid = PolarGrid(
            s0_mm=-40.0, ds_mm=480.0 / n, n_s=n + 1, phi0=-1.2, dphi=2.4 / n, n_phi=n + 1, axis_z_mm=-200.0
        )
        spline = PolarSpline.through(grid, waves(grid.s_mm[:, None], grid.phi[None, :]))
        errors.append(float(np.sqrt(np.mean((spline.radius(s, phi)[:, column] - exact) ** 2))))
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    # Order 4 for the value, one less for each derivative; a quarter for spacings not yet vanishing.
    assert np.all(np.abs(rates - (4 - order)) < 0.25), f"observed orders {rates}, errors {errors}"


def test_many_splines_at_once_are_each_the_single_one() -> None:
    shapes = np.stack([SWAY.surface(GRID).radius_mm, cubic(GRID.s_mm[:, None], GRID.phi[None, :])])
    stacked = stacked_coefficients(GRID, shapes)
    for one, coefficients in zip(shapes, stacked, strict=True):
        # The same sums in another order: rounding of values near 200.
        np.testing.assert_allclose(coefficients, PolarSpline.through(GRID, one).coefficients, atol=1e-10)


def test_the_gap_scale_interpolates_the_slope_at_nodes() -> None:
    spline = SWAY.surface().spline
    s, phi = np.meshgrid(spline.grid.s_mm, spline.grid.phi, indexing="ij")
    jet = spline.radius(s.ravel(), phi.ravel())
    expected = 1.0 / np.sqrt(1.0 + jet[:, 1] ** 2 + (jet[:, 2] / jet[:, 0]) ** 2)
    # Interpolation is exact at nodes but for rounding.
    assert spline.scale(s.ravel(), phi.ravel())[:, 0] == pytest.approx(expected, abs=1e-12)
