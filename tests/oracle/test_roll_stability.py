"""A body with a round hollow on a round back of the same radius: does it roll off?

Closed form. Turned about the cylinder's axis the hollow keeps its contact everywhere, so normal contact
resists nothing: the stiffness of that turn is −W·H for a load W at the height H above the axis (potential
W·H·cos ϑ), plus, where friction holds, k_t·R²·ΣA. The load may stand no higher than H* = k_t R² ΣA / W.
(Stability of equilibrium by potential energy, e.g. Beer & Johnston, Vector Mechanics for Engineers: Statics,
ch. 10; the friction term follows from its own energy.)
"""

import numpy as np
import pytest

from saddlebench.engine.fit.loads import GRAVITY_M_S2
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settled
from support.bodies import FEATHER_KG, bearing_of, fit_of, materials_of, pushed, rigid_body, round_back

RADIUS_MM, LENGTH_MM, LOAD_N = 200.0, 400.0, 800.0
K, K_T = 0.6, 0.3
FROM_RAD, TO_RAD = 0.35, 0.9
NO_LIMIT = 1e3
"""A coefficient of friction at which nothing slips."""


def hollow(load_above_axis_mm: float, friction: float, stiffness: float = K) -> tuple[Settled, float]:
    """Settle two panels of one round hollow; return the state and their whole area."""
    n_along, n_around = 20, 12
    phi = FROM_RAD + (np.arange(n_around) + 0.5) * (TO_RAD - FROM_RAD) / n_around
    x = -(np.arange(n_along) + 0.5) * LENGTH_MM / n_along
    along, around = (grid.ravel() for grid in np.meshgrid(x, np.concatenate([phi, -phi]), indexing="ij"))
    outward = np.stack([np.zeros_like(around), -np.sin(around), -np.cos(around)], axis=1)
    points = -RADIUS_MM * outward + np.stack([along, 0.0 * along, 0.0 * along - RADIUS_MM], axis=1)
    area = 2.0 * LENGTH_MM * RADIUS_MM * (TO_RAD - FROM_RAD)
    bearing = bearing_of(points, outward, area / along.size)
    at = np.array([-LENGTH_MM / 2.0, 0.0, load_above_axis_mm - RADIUS_MM])
    body = rigid_body(bearing, centre=at)
    load = pushed("load", (at, LOAD_N - FEATHER_KG * GRAVITY_M_S2))
    fit = fit_of(
        round_back(RADIUS_MM), body, materials_of(stiffness, friction=friction, shear_kpa_mm=K_T), (load,)
    )
    state = settle_many([fit], threads=1)[0].at("load")
    assert isinstance(state, Settled)
    return state, area


def turn_stiffness(state: Settled, stiffness: np.ndarray) -> float:
    """Return the stiffness against a turn about the cylinder's axis [N·mm/rad]."""
    reference = state.saddle_to_back.points(state.reference_saddle[None, :])[0]
    above = reference[2] + RADIUS_MM
    motion = np.array([0.0, -above, 0.0, 1.0, 0.0, 0.0])
    return float(motion @ stiffness @ motion)


@pytest.mark.parametrize("height_mm", [-80.0, 60.0, 250.0])
def test_without_friction_only_the_load_decides(height_mm: float) -> None:
    state, _ = hollow(height_mm, friction=0.0)
    sunk = state.saddle_to_back.translation_mm[2]
    # Exact for any pressure: the gap does not change in that turn. Left: the load solved to 1e-6.
    expected = -LOAD_N * (height_mm + sunk)
    assert turn_stiffness(state, state.stiffness_back) == pytest.approx(expected, rel=1e-6, abs=1.0)


def test_friction_that_holds_adds_its_springs() -> None:
    state, area = hollow(100.0, friction=NO_LIMIT)
    sunk = state.saddle_to_back.translation_mm[2]
    points = state.gap_mm + RADIUS_MM
    springs = K_T * 1e-3 * area * np.mean(points**2)
    friction_and_load = turn_stiffness(state, state.stiffness_back)
    # Springs already stretched by sinking turn with the body; both sides' shares cancel but for what the lag
    # of the normals leaves: 1 %.
    assert friction_and_load == pytest.approx(springs - LOAD_N * (100.0 + sunk), rel=0.01)


def test_the_highest_load_that_stays_up() -> None:
    area = 2.0 * LENGTH_MM * RADIUS_MM * (TO_RAD - FROM_RAD)
    critical = K_T * 1e-3 * RADIUS_MM**2 * area / LOAD_N
    # A hundred times stiffer across the skin, the body sinks 0.3 mm of 200 and cannot sway: both move
    # the limit by no more than 1 %.
    stiff = 100.0 * K
    assert hollow(0.98 * critical, NO_LIMIT, stiff)[0].outcome is Outcome.SITS
    assert hollow(1.02 * critical, NO_LIMIT, stiff)[0].outcome is Outcome.SLIDES_OR_ROLLS_OFF


def test_soft_tissue_lets_it_sway_and_lowers_the_limit() -> None:
    area = 2.0 * LENGTH_MM * RADIUS_MM * (TO_RAD - FROM_RAD)
    critical = K_T * 1e-3 * RADIUS_MM**2 * area / LOAD_N
    assert hollow(0.9 * critical, NO_LIMIT)[0].outcome is Outcome.SLIDES_OR_ROLLS_OFF


def test_without_friction_a_load_above_the_axis_rolls_off() -> None:
    state, _ = hollow(60.0, friction=0.0)
    assert state.outcome is Outcome.SLIDES_OR_ROLLS_OFF
    assert state.why_not is not None
    assert "rolls" in state.why_not.reason or "slides to the near side" in state.why_not.reason
