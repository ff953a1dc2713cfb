"""A rigid rectangular footing under an eccentric load.

Source: any foundation-engineering handbook, e.g. Bowles J. E., Foundation Analysis and Design, ch. 8: inside
the kern (e ≤ L/6) q = P/(BL)·(1 ± 6e/L); outside it the footing bears over 3(L/2 − e) with
q_max = 2P/[3B(L/2 − e)]. Numbers here for a saddle's scale: P = 800 N on 0.20 m × 0.40 m.
"""

import numpy as np
import pytest

from saddlebench.engine.fit.loads import GRAVITY_M_S2
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settled
from support.bodies import (
    FEATHER_KG,
    bearing_of,
    fit_of,
    flat_back,
    materials_of,
    pushed,
    rigid_body,
    tiles,
)

LOAD_N, WIDTH_MM, LENGTH_MM = 800.0, 200.0, 400.0
STIFF_KPA_MM = 10.0
"""Stiff enough that the footing's own tilt (below 1/220) changes levers by no more than 1e-5."""


def settled_footing(x: np.ndarray, y: np.ndarray, area: float, at: np.ndarray, stiffness: float) -> Settled:
    points = np.stack([x, y, np.zeros_like(x)], axis=1)
    bearing = bearing_of(points, np.tile([0.0, 0.0, -1.0], (x.size, 1)), area)
    # its own half newton acts where the load acts, so that the two together are the load of the formula
    body = rigid_body(bearing, centre=at)
    load = pushed("load", (at, LOAD_N - FEATHER_KG * GRAVITY_M_S2))
    fit = fit_of(flat_back(), body, materials_of(stiffness), (load,))
    state = settle_many([fit], threads=1)[0].at("load")
    assert isinstance(state, Settled)
    assert state.outcome is Outcome.SITS
    return state


def footing(eccentricity_mm: float, n_along: int, n_across: int = 4) -> tuple[Settled, np.ndarray]:
    x, y, area = tiles(LENGTH_MM, WIDTH_MM, n_along, n_across)
    at = np.array([-LENGTH_MM / 2.0 + eccentricity_mm, 0.0, 0.0])
    return settled_footing(x, y, area, at, STIFF_KPA_MM), x


@pytest.mark.parametrize(
    ("eccentricity_mm", "front_kpa", "rear_kpa"),
    [(0.0, 10.0, 10.0), (20.0, 13.0, 7.0), (40.0, 16.0, 4.0), (400.0 / 6.0, 20.0, 0.0)],
)
def test_inside_the_kern_pressure_is_linear(
    eccentricity_mm: float, front_kpa: float, rear_kpa: float
) -> None:
    state, x = footing(eccentricity_mm, n_along=80)
    expected = front_kpa + (rear_kpa - front_kpa) * (-x / LENGTH_MM)
    # 80 tiles carry the moment of inertia of the strip to 1/80² = 0.016 %, 1.6 Pa of 10 kPa; the slope's
    # share of that is 10 kPa · 1.6e-4. The plane's 0.005 mm
    # of roundness adds 0.05 kPa across, hence the mean of each row.
    rows = state.pressure_kpa.reshape(80, 4).mean(axis=1)
    assert rows == pytest.approx(expected.reshape(80, 4).mean(axis=1), abs=3e-3)


def test_outside_the_kern_part_of_it_lifts() -> None:
    state, _ = footing(100.0, n_along=160)
    rows = state.pressure_kpa.reshape(160, 4).mean(axis=1)
    # The edge of contact falls within a 2.5 mm tile: ± half of that of 300 mm is 0.4 %.
    bearing_mm = LENGTH_MM / 160 * np.count_nonzero(rows > 0.0)
    assert bearing_mm == pytest.approx(300.0, abs=2.5)
    assert rows.max() + 0.5 * (rows[0] - rows[1]) == pytest.approx(
        2.0 * 800.0 / (3.0 * 0.2 * 0.1) / 1e3, rel=4e-3
    )


def test_lifting_footing_converges_at_second_order_or_better() -> None:
    exact = 2.0 * 800.0 / (3.0 * 0.2 * 0.09) / 1e3

    def error(n: int) -> float:
        state, _ = footing(110.0, n_along=n)
        rows = state.pressure_kpa.reshape(n, 4).mean(axis=1)
        return abs(rows.max() + 0.5 * (rows[0] - rows[1]) - exact)

    # The contact's end at 270 mm is a tile's border for 40, 80 and 160 tiles: what is left is the midpoint
    # rule's second order, of which the observed order may fall short by a tenth over two halvings.
    errors = [error(n) for n in (40, 80, 160)]
    assert np.log2(errors[0] / errors[2]) / 2.0 > 1.9


def test_forces_and_moments_balance() -> None:
    state, x = footing(100.0, n_along=40)
    force = state.pressure_kpa * LENGTH_MM * WIDTH_MM / x.size * 1e-3
    # Solved to 1e-6 of the load, and lever arms to the 1e-6 by which a tilt of 1/700 shortens them.
    assert force.sum() == pytest.approx(LOAD_N, rel=3e-6)
    assert force @ x / force.sum() == pytest.approx(-100.0, abs=1e-3)


def test_two_way_eccentricity_inside_the_kern() -> None:
    """q = P/A ± Mx·y/Ix ± My·x/Iy, as long as it is nowhere negative (the same handbooks)."""
    n_along, n_across = 60, 30
    x, y, area = tiles(LENGTH_MM, WIDTH_MM, n_along, n_across)
    state = settled_footing(x, y, area, np.array([-180.0, 15.0, 0.0]), stiffness=1.0)
    expected = 10.0 * (1.0 + 12.0 * 20.0 * (x + 200.0) / 400.0**2 + 12.0 * 15.0 * y / 200.0**2)
    # Soft tissue, so that the plane's roundness (0.005 mm) is 5 Pa; tilts of 1/60 change levers and areas
    # by 1.4e-4, 2 Pa; tiles the inertia by 1/30² = 0.1 % of ± 4.5 kPa across: 5 Pa.
    assert state.pressure_kpa == pytest.approx(expected, abs=0.02)
