"""A stiff panel that bridges two supports: the law of the lever.

Source: statics (Hibbeler, Engineering Mechanics: Statics, ch. 5): with supports at 0 and L and a load W at a
from the first, the reactions are W(1 − a/L) and W·a/L; nothing in between bears.
"""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.engine.fit.loads import GRAVITY_M_S2
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settled
from support.bodies import (
    FEATHER_KG,
    back_of,
    bearing_of,
    fit_of,
    flat_back,
    materials_of,
    pushed,
    rigid_body,
    tiles,
)

FIRST_MM, SECOND_MM, HEIGHT_MM, WIDTH_MM = 100.0, 300.0, 15.0, 60.0


def bridged(load_at_mm: float, load_n: float = 500.0) -> tuple[Settled, np.ndarray, float]:
    plane = flat_back()
    grid = replace(plane.grid, ds_mm=5.0, n_s=201)
    s = grid.s_mm[:, None]
    ridges = sum(HEIGHT_MM * np.exp(-(((s - at) / WIDTH_MM) ** 2)) for at in (FIRST_MM, SECOND_MM))
    surface = back_of(plane.radius_mm[0] + ridges, grid)
    x, y, area = tiles(400.0, 100.0, 1600, 2)
    at = np.array([-load_at_mm, 0.0, 0.0])
    bearing = bearing_of(np.stack([x, y, 0.0 * x], axis=1), np.tile([0.0, 0.0, -1.0], (x.size, 1)), area)
    body = rigid_body(bearing, centre=at)
    load = pushed("load", (at, load_n - FEATHER_KG * GRAVITY_M_S2))
    state = settle_many([fit_of(surface, body, materials_of(2000.0), (load,))], threads=1)[0].at("load")
    assert isinstance(state, Settled)
    return state, -x, area


@pytest.mark.parametrize("load_at_mm", [150.0, 200.0, 260.0])
def test_reactions_follow_the_lever(load_at_mm: float) -> None:
    state, s, area = bridged(load_at_mm)
    force = 1e-3 * area * state.pressure_kpa
    first, second = force[s < 200.0], force[s > 200.0]
    # pitching slides the panel by half a millimetre, and its load with it
    load_s = -state.saddle_to_back.points(np.array([[-load_at_mm, 0.0, 0.0]]))[0, 0]
    share = (load_s - FIRST_MM) / (SECOND_MM - FIRST_MM)
    # Contacts lie on crests of radius WIDTH²/2·HEIGHT = 120 mm, 6 mm to either side, pressed in by 0.15 mm: a
    # pitch of 1/1600 moves them by 0.1 mm of a lever of 200 mm; tiles are 0.25 mm long.
    assert second.sum() / force.sum() == pytest.approx(share, abs=1e-3)
    # Forces of a crest lean by up to 6 mm over 120 mm: less than 0.1 % of them is not upwards.
    assert first.sum() + second.sum() == pytest.approx(500.0, rel=1e-3)


def test_nothing_bears_in_between() -> None:
    state, s, _ = bridged(200.0)
    middle = (s > 140.0) & (s < 260.0)
    assert np.all(state.pressure_kpa[middle] == 0.0)
    # the panel hangs over the hollow by what the ridges stand up, less what they are pressed in
    pressed = -state.gap_mm.min()
    hollow = state.gap_mm[np.abs(s - 200.0) < 1.0]
    # between them stand the ridges' tails, 2·15·exp(−2.78) = 1.9 mm, which also raise each crest (2e-4 mm);
    # tiles an eighth of a millimetre off the crests: 1e-4 mm
    tails = 2.0 * HEIGHT_MM * np.exp(-((100.0 / WIDTH_MM) ** 2))
    assert hollow == pytest.approx(HEIGHT_MM - tails - pressed, abs=0.02)
