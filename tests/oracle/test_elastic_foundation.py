"""A rigid sphere and a rigid cylinder pressed on an elastic foundation (a mattress of springs).

Source: Johnson K. L. (1985), Contact Mechanics, Cambridge, §4.3 (formulas re-derived: for the paraboloid
z = r²/2R, p = (K/h)(δ − r²/2R), P = π(K/h)Rδ², a² = 2Rδ, p₀ = (K/h)δ; for the cylinder per unit length
P' = 2(K/h)a³/3R, p₀ = (K/h)a²/2R). Numbers: K/h = 2 kPa/mm, R = 150 mm; P = 50 N gives δ = 7.2837 mm,
a = 46.745 mm, p₀ = 14.567 kPa; P' = 1 N/mm gives a = 48.274 mm, δ = 7.7681 mm, p₀ = 15.536 kPa.
"""

import numpy as np
import pytest

from saddlebench.engine.fit.loads import GRAVITY_M_S2
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settled
from saddlebench.engine.frames import FloatArray
from support.bodies import FEATHER_KG, bearing_of, fit_of, flat_back, materials_of, pushed, rigid_body, tiles

STIFFNESS, RADIUS_MM = 2.0, 150.0


def pressed(points: FloatArray, area: float, load_n: float) -> Settled:
    """Press a body of vertical load paths on the plane; its points stand for areas seen from above."""
    bearing = bearing_of(points, np.tile([0.0, 0.0, -1.0], (len(points), 1)), area)
    body = rigid_body(bearing)
    load = pushed("load", (body.centre_of_mass_saddle, load_n - FEATHER_KG * GRAVITY_M_S2))
    fit = fit_of(flat_back(), body, materials_of(STIFFNESS), (load,))
    state = settle_many([fit], threads=1)[0].at("load")
    assert isinstance(state, Settled)
    return state


def sphere(n: int) -> tuple[Settled, float]:
    x, y, area = tiles(160.0, 160.0, n, n)
    z = ((x + 80.0) ** 2 + y**2) / (2.0 * RADIUS_MM)
    return pressed(np.stack([x, y, z], axis=1), area, 50.0), area


def cylinder(n: int) -> tuple[Settled, float]:
    """A cylinder whose axis lies across the plane's own faint roundness, 100 mm long."""
    x, y, area = tiles(160.0, 100.0, n, 10)
    z = (x + 80.0) ** 2 / (2.0 * RADIUS_MM)
    return pressed(np.stack([x, y, z], axis=1), area, 100.0), area


def test_sphere_section_4_3() -> None:
    state, area = sphere(120)
    # The tile at the centre lies 0.94 mm off the pole, 0.006 mm lower; the circle's rim falls within tiles
    # of 1.3 mm, and the force there vanishes: what is left is 1e-3 of each number at most.
    assert state.pressure_kpa.max() == pytest.approx(14.567, rel=1e-3)
    assert -state.gap_mm.min() == pytest.approx(7.2837, rel=1e-3)
    contact = area * np.count_nonzero(state.pressure_kpa > 0.0)
    # A circle of 46.7 mm on 1.33 mm tiles: lattice points in a circle are off by about √(2πa/h)/ (πa²/h²),
    # 0.4 % of its area, half that of its radius.
    assert np.sqrt(contact / np.pi) == pytest.approx(46.745, rel=4e-3)
    # mean pressure over the contact is half the greatest (same section)
    assert np.sum(state.pressure_kpa) * area / contact == pytest.approx(14.567 / 2.0, rel=8e-3)


def test_cylinder_section_4_3() -> None:
    state, _ = cylinder(160)
    # tiles 1 mm long; the middle ones lie 0.5 mm off the lowest line: 0.8e-3 mm of 7.8
    assert state.pressure_kpa.max() == pytest.approx(15.536, rel=1e-3)
    assert -state.gap_mm.min() == pytest.approx(7.7681, rel=1e-3)
    rows = state.pressure_kpa.reshape(160, 10)[:, 5] > 0.0
    assert 0.5 * np.count_nonzero(rows) == pytest.approx(48.274, abs=0.5)


def test_depth_converges_with_the_tiles() -> None:
    """Depth against the closed form: the observed order is that of the midpoint rule, two, or close to it."""
    exact = 7.2837
    errors = [abs(-sphere(n)[0].gap_mm.min() + 0.5 * (160.0 / n) ** 2 / 600.0 - exact) for n in (8, 16, 32)]
    # The rim makes the error uneven from one lattice to the next: over two halvings it must still fall by
    # more than 2^(2·1.5).
    assert errors[2] < errors[0] / 8.0


def test_pressure_is_that_of_the_paraboloid_everywhere() -> None:
    state, _ = sphere(60)
    x, y, _ = tiles(160.0, 160.0, 60, 60)
    delta = np.sqrt(50.0 / (np.pi * STIFFNESS * 1e-3 * RADIUS_MM))
    expected = np.maximum(0.0, STIFFNESS * (delta - ((x + 80.0) ** 2 + y**2) / (2.0 * RADIUS_MM)))
    # 2.7 mm tiles: depth within 0.02 mm, plus the plane's own roundness of 1e-3 mm over the contact
    assert state.pressure_kpa == pytest.approx(expected, abs=0.05)
