"""The half-space model against the package ContactMechanics 1.8 on the same contacts.

Pastewka L, Sanner A et al. (https://github.com/ComputationalMechanics/ContactMechanics), its non-periodic
half-space `FreeFFTElasticHalfSpace` and its solver after Polonsky and Keer. Both take a constant
pressure in each cell and Love's influence, so that on one grid both have the same exact answer.
"""

import warnings

import numpy as np
import pytest

from saddlebench.engine.fit.halfspace import ContactGrid, Substrate, press_by, press_with

with warnings.catch_warnings():
    # It asks for MPI and says so when there is none.
    warnings.simplefilter("ignore")
    from ContactMechanics import FreeFFTElasticHalfSpace
    from ContactMechanics.Optimization import constrained_conjugate_gradients
    from ContactMechanics.ReferenceSolutions import Hertz
    from SurfaceTopography import Topography

MODULUS = 80.0
"""kPa, so that forces come in kPa·mm²."""


def by_package(grid, gap, **held):
    sizes = (grid.n_x * grid.dx_mm, grid.n_y * grid.dy_mm)
    substrate = FreeFFTElasticHalfSpace(grid.shape, MODULUS, sizes)
    result = constrained_conjugate_gradients(
        substrate, Topography(-gap, physical_sizes=sizes), pentol=1e-9, forcetol=1e-9, **held
    )
    assert result.success
    return result.jac[: grid.n_x, : grid.n_y] / grid.cell_mm2


def a_gap(kind, grid):
    x, y = grid.centres()
    if kind == "sphere":
        return (x**2 + y**2) / 400.0
    if kind == "two humps":
        return np.minimum((x - 30.0) ** 2 + y**2, (x + 25.0) ** 2 + (y - 8.0) ** 2 + 300.0) / 300.0
    return (x**2 + 4 * y**2) / 500.0 + np.random.default_rng(1).normal(0.0, 0.2, grid.shape)


@pytest.mark.parametrize("kind", ["sphere", "two humps", "rough"])
def test_same_pressures_under_the_same_load(kind):
    grid = ContactGrid(n_x=48, n_y=32, dx_mm=3.0, dy_mm=3.0)
    gap = a_gap(kind, grid)
    ours = press_with(grid, gap, Substrate(contact_modulus_kpa=MODULUS), 60.0, tolerance=1e-9)
    theirs = by_package(grid, gap, external_force=60.0e3)
    # Both converged to 1e-9 of their own measure of error: a hundred-thousandth of the peak is left.
    np.testing.assert_allclose(ours.pressure_kpa, theirs, atol=1e-5 * theirs.max())


@pytest.mark.parametrize("kind", ["sphere", "two humps", "rough"])
def test_same_pressures_under_the_same_approach(kind):
    grid = ContactGrid(n_x=48, n_y=32, dx_mm=3.0, dy_mm=3.0)
    gap = a_gap(kind, grid)
    ours = press_by(grid, gap, Substrate(contact_modulus_kpa=MODULUS), 4.0, tolerance=1e-9)
    theirs = by_package(grid, gap, offset=4.0)
    np.testing.assert_allclose(ours.pressure_kpa, theirs, atol=1e-5 * theirs.max())


def test_its_own_hertz_reference():
    radius, force = 200.0, 60.0e3
    a, p0 = Hertz.radius_and_pressure(force, radius, MODULUS)
    grid = ContactGrid(n_x=64, n_y=64, dx_mm=2.4 * a / 64, dy_mm=2.4 * a / 64)
    x, y = grid.centres()
    ours = press_with(
        grid, (x**2 + y**2) / (2 * radius), Substrate(contact_modulus_kpa=MODULUS), force * 1e-3
    )
    # 53 cells across: second order, 0.2 %.
    assert ours.pressure_kpa.max() == pytest.approx(p0, rel=2e-3)
    assert ours.approach_mm.max() == pytest.approx(Hertz.penetration(force, radius, MODULUS), rel=1e-3)
