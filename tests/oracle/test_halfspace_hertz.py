"""The half-space model against closed forms.

- Hertz: Johnson KL (1985) Contact Mechanics, Cambridge, eqs. 4.22–4.24: `a³ = 3FR/4E*`, `δ = a²/R`,
  `p₀ = 3F/2πa²`. Numbers: sphere R 8 mm, F 60π N, E 1000 MPa, ν 0.3 (a published exercise: a = 1.010 mm),
  and a steel ball of radius 50 mm on a flat, 500 N, E 200 GPa, ν 0.3.
- Two equal spheres: code_aster, validation manual v6.04.222: `p₀ = E/(π(1 − ν²)) √(2h/R)`, h their crush.
- Flat round punch: Johnson, eqs. 3.34, 3.36: `p(0) = F/2πa²`, `δ = F/2aE*`.
- Evenly loaded square: Johnson, section 3.5 (Love): middle sinks by `8 p b ln(1 + √2)/(π E*)`, side 2b.
- Elastic foundation (mattress): Johnson, section 4.3: `a² = 2Rδ`, `F = πKa⁴/4hR`, `p₀ = Kδ/h`.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.engine.fit.halfspace import (
    ContactGrid,
    Influence,
    Substrate,
    press_by,
    press_with,
    rectangle_displacement,
)


def sphere(radius, width, n):
    grid = ContactGrid(n_x=n, n_y=n, dx_mm=width / n, dy_mm=width / n)
    x, y = grid.centres()
    return grid, (x**2 + y**2) / (2 * radius)


def star(young_mpa, poisson):
    return Substrate(contact_modulus_kpa=1e3 * young_mpa / (1 - poisson**2))


@pytest.mark.parametrize(
    ("radius", "force", "young", "a", "p0_mpa", "approach"),
    [
        (8.0, 60 * np.pi, 1000.0, 1.00964, 88.29, 0.12742),
        (50.0, 500.0, 2e5, 0.4402, 1231.9, 0.4402**2 / 50.0),
    ],
)
def test_hertz_sphere_on_a_flat(radius, force, young, a, p0_mpa, approach):
    grid, gap = sphere(radius, 2.6 * a, 64)
    pressed = press_with(grid, gap, star(young, 0.3), force)
    contact = np.sqrt((pressed.pressure_kpa > 0).sum() * grid.cell_mm2 / np.pi)
    # 49 cells across the contact: area counted in cells (2 %), load and pressure of second order (0.2 %).
    assert contact == pytest.approx(a, rel=0.02)
    assert pressed.pressure_kpa.max() / 1e3 == pytest.approx(p0_mpa, rel=2e-3)
    assert pressed.approach_mm.max() == pytest.approx(approach, rel=1e-3)
    assert pressed.load_n == pytest.approx(force, rel=1e-9)


def test_hertz_pressure_is_a_half_ellipse():
    grid, gap = sphere(8.0, 2.6, 96)
    x, y = grid.centres()
    pressed = press_with(grid, gap, star(1000.0, 0.3), 60 * np.pi)
    p = 88.290e3 * np.sqrt(np.maximum(1.0 - (x**2 + y**2) / 1.00964**2, 0.0))
    # At the rim the slope is infinite and a cell shows its mean: 5 % of the peak there, 0.3 % inside.
    assert np.abs(pressed.pressure_kpa - p).max() < 0.05 * 88.29e3
    inside = x**2 + y**2 < (0.9 * 1.00964) ** 2
    assert np.abs(pressed.pressure_kpa - p)[inside].max() < 3e-3 * 88.29e3


def test_two_equal_spheres_crushed_by_a_given_amount():
    # E 20 000 MPa, ν 0.3, R 50 mm, h 4 mm: p₀ 2798.3 MPa, a 10 mm. As one rigid sphere of half the radius on
    # a half-space of half the modulus (Johnson, eqs. 4.17, 4.24), in that formula's parabolic approximation.
    grid, gap = sphere(25.0, 26.0, 64)
    one = star(20_000.0, 0.3)
    pressed = press_by(grid, gap, Substrate(contact_modulus_kpa=one.contact_modulus_kpa / 2), 4.0)
    assert pressed.pressure_kpa.max() / 1e3 == pytest.approx(2798.3, rel=2e-3)
    assert np.sqrt((pressed.pressure_kpa > 0).sum() * grid.cell_mm2 / np.pi) == pytest.approx(10.0, rel=0.02)


def test_errors_shrink_with_the_grid_at_a_stated_order():
    errors = []
    for n in (16, 32, 64, 128):
        grid, gap = sphere(8.0, 2.6, n)
        pressed = press_by(grid, gap, star(1000.0, 0.3), 0.127420466)
        errors.append(abs(pressed.load_n / (60 * np.pi) - 1.0))
    order = np.polyfit(np.log([1 / 16, 1 / 32, 1 / 64, 1 / 128]), np.log(errors), 1)[0]
    # Constant pressure in a cell is of first order; in the whole load errors cancel, up to the second.
    assert 1.3 < order < 2.5, f"load errors {errors}"


def test_flat_round_punch():
    grid, _ = sphere(1.0, 2.4, 96)
    x, y = grid.centres()
    gap = np.where(x**2 + y**2 < 1.0, 0.0, np.inf)
    substrate = Substrate(contact_modulus_kpa=100.0)
    pressed = press_with(grid, gap, substrate, 0.5)
    a = np.sqrt(np.isfinite(gap).sum() * grid.cell_mm2 / np.pi)
    # A punch made of squares: its approach is that of the circle of the same area within 1 %.
    assert pressed.approach_mm.max() == pytest.approx(0.5e3 / (2 * a * 100.0), rel=0.01)
    middle = x**2 + y**2 < 0.1**2
    assert pressed.pressure_kpa[middle].mean() == pytest.approx(0.5e3 / (2 * np.pi * a**2), rel=0.01)


def test_an_evenly_loaded_square_sinks_in_its_middle():
    b, modulus = 3.0, 80.0
    closed = 8 * b * np.log(1 + np.sqrt(2)) / (np.pi * modulus)
    zero = np.zeros(1)
    assert rectangle_displacement(zero, zero, 2 * b, 2 * b, modulus)[0] == pytest.approx(closed, rel=1e-14)
    grid = ContactGrid(n_x=31, n_y=31, dx_mm=2 * b / 31, dy_mm=2 * b / 31)
    summed = Influence.of(grid, Substrate(contact_modulus_kpa=modulus)).displacement(np.ones(grid.shape))
    # The same square from 961 cells by the transform: rounding only.
    assert summed[15, 15] == pytest.approx(closed, rel=1e-12)


def test_far_away_a_rectangle_is_a_point_load():
    far = rectangle_displacement(np.array([400.0]), np.array([300.0]), 2.0, 3.0, 50.0)[0]
    assert far == pytest.approx(6.0 / (np.pi * 50.0 * 500.0), rel=1e-5)


def test_with_a_stiff_ground_the_layer_is_an_elastic_foundation():
    # Saddle scale: K/h 2 kPa/mm, R 150 mm, 50 N: δ 7.2837 mm, a 46.745 mm, p₀ 14.567 kPa.
    grid, gap = sphere(150.0, 120.0, 120)
    pressed = press_with(grid, gap, Substrate(contact_modulus_kpa=1e9, layer_kpa_mm=2.0), 50.0)
    # Cells of 1 mm in a contact of 93 mm: 0.1 %.
    assert pressed.approach_mm.max() == pytest.approx(7.2837, rel=1e-3)
    assert pressed.pressure_kpa.max() == pytest.approx(14.567, rel=1e-3)


@settings(max_examples=15, deadline=None)
@given(
    x=st.floats(-0.2, 0.2),
    y=st.floats(-0.2, 0.2),
    force=st.floats(0.1, 50.0),
    seed=st.integers(0, 2**31),
)
def test_load_and_moments_balance_and_contact_holds(x, y, force, seed):
    grid = ContactGrid(n_x=24, n_y=20, dx_mm=4.0, dy_mm=4.0)
    across, along = grid.centres()
    gap = (across**2 + along**2) / 300.0 + np.random.default_rng(seed).normal(0.0, 0.3, grid.shape)
    centre = (x * 96.0, y * 80.0)
    substrate = Substrate(contact_modulus_kpa=60.0, layer_kpa_mm=1.2)
    pressed = press_with(grid, gap, substrate, force, centre_mm=centre)
    p = pressed.pressure_kpa
    assert (p >= 0.0).all()
    assert p.sum() * grid.cell_mm2 * 1e-3 == pytest.approx(force, rel=1e-9)
    np.testing.assert_allclose([(p * across).sum() / p.sum(), (p * along).sum() / p.sum()], centre, atol=1e-6)
    left = pressed.displacement_mm + gap - pressed.approach_mm
    scale = pressed.displacement_mm.max()
    assert np.abs(left[p > 0]).max() < 2e-6 * scale
    assert left.min() > -2e-6 * scale


def test_mirrored_gap_mirrored_pressure():
    grid = ContactGrid(n_x=24, n_y=20, dx_mm=4.0, dy_mm=4.0)
    gap = np.abs(np.random.default_rng(5).normal(0.0, 2.0, grid.shape))
    substrate = Substrate(contact_modulus_kpa=60.0)
    one = press_with(grid, gap, substrate, 30.0, centre_mm=(3.0, 8.0), tolerance=1e-10)
    other = press_with(grid, gap[:, ::-1], substrate, 30.0, centre_mm=(3.0, -8.0), tolerance=1e-10)
    np.testing.assert_allclose(
        one.pressure_kpa, other.pressure_kpa[:, ::-1], atol=1e-6 * one.pressure_kpa.max()
    )


def test_what_cannot_be_pressed_is_refused():
    grid, gap = sphere(8.0, 2.6, 8)
    with pytest.raises(ValueError, match="load must be positive"):
        press_with(grid, gap, star(1.0, 0.3), 0.0)
    with pytest.raises(ValueError, match="no body"):
        press_with(grid, np.full_like(gap, np.inf), star(1.0, 0.3), 1.0)
    given_up = press_with(grid, gap, star(1.0, 0.3), 1.0, max_iterations=1)
    assert "no balance" in given_up.reason
