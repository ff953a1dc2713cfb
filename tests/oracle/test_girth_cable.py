"""The girth as a two-point cable: tangents to a round barrel, elastic, the same tension on both sides.

Closed forms: from a point at the distance D from the axis of a circle of radius R the tangent is √(D² − R²)
long and meets the circle acos(R/D) further round (plane geometry); a cable of stiffness k_g that has been
tightened to T₀ holds T₀ + k_g·ΔL, never less than nothing, and pulls both its ends with T (statics).
"""

import numpy as np
import pytest

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.contact import kernel_back
from saddlebench.engine.fit.girth import wrap_points
from saddlebench.engine.fit.loads import GRAVITY_M_S2, HALT, Rider
from saddlebench.engine.fit.settings import GirthElastic
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settled
from saddlebench.engine.saddle.model import StrapPair
from support.bodies import FEATHER_KG, bearing_of, fit_of, materials_of, rigid_body, round_back

RADIUS_MM = 200.0
ANCHOR = np.array([-200.0, 90.0, 40.0])
NO_GROOVE = NotMeasured("test")


def test_straps_leave_as_tangents() -> None:
    back = kernel_back(round_back(RADIUS_MM), 60.0)
    ends = np.array([ANCHOR, ANCHOR * [1.0, -1.0, 1.0]])
    wraps = wrap_points(back, ends, NO_GROOVE, GirthElastic())
    far = np.hypot(90.0, 40.0 + RADIUS_MM)
    length = np.linalg.norm(wraps - ends, axis=1)
    # the tangent point is sought to 1e-5 rad, 0.002 mm; the spline of a circle about its own axis is exact
    assert length == pytest.approx(np.sqrt(far**2 - RADIUS_MM**2), abs=0.01)
    round_by = np.arctan2(wraps[:, 1], wraps[:, 2] + RADIUS_MM)
    expected = np.arctan2(90.0, 240.0) + np.arccos(RADIUS_MM / far)
    assert round_by == pytest.approx(np.array([expected, -expected]), abs=1e-4)
    # at the tangent point strap and radius are square
    radial = (wraps - [0.0, 0.0, -RADIUS_MM]) * [0.0, 1.0, 1.0]
    assert np.sum(radial * (wraps - ends), axis=1) == pytest.approx(0.0, abs=0.02 * RADIUS_MM)


def test_straps_lean_to_the_groove_as_a_straight_line_on_the_unrolled_barrel() -> None:
    back = kernel_back(round_back(RADIUS_MM), 60.0)
    elastic = GirthElastic(half_length_mm=500.0)
    straight = wrap_points(back, ANCHOR[None, :], NO_GROOVE, elastic)[0]
    leaning = wrap_points(back, ANCHOR[None, :], Mark(100.0, 10.0), elastic)[0]
    free = np.linalg.norm(straight - ANCHOR)
    # 100 mm forward over the half girth of 500 mm, so far as the strap hangs free
    assert leaning[0] - straight[0] == pytest.approx(100.0 * free / 500.0, rel=1e-12)
    assert leaning[1:] == pytest.approx(straight[1:], abs=1e-12)


def girthed(tension: float, stiffness: float, rider_kg: float) -> tuple[Settled, Settled, float]:
    phi = 0.35 + (np.arange(12) + 0.5) * 0.55 / 12
    x = -(np.arange(20) + 0.5) * 20.0
    along, around = (grid.ravel() for grid in np.meshgrid(x, np.concatenate([phi, -phi]), indexing="ij"))
    outward = np.stack([np.zeros_like(around), -np.sin(around), -np.cos(around)], axis=1)
    points = -RADIUS_MM * outward + np.stack([along, 0.0 * along, 0.0 * along - RADIUS_MM], axis=1)
    area = 2.0 * 400.0 * RADIUS_MM * 0.55 / along.size
    straps = (StrapPair(name="pair", left_saddle=ANCHOR, right_saddle=ANCHOR * [1.0, -1.0, 1.0]),)
    body = rigid_body(bearing_of(points, outward, area), straps=straps)
    girth = GirthElastic(tension_n=tension, stiffness_n_mm=stiffness)
    fit = fit_of(
        round_back(RADIUS_MM),
        body,
        materials_of(0.6, girth=girth),
        (HALT,),
        rider=Rider(mass_kg=rider_kg, load_height_mm=-150.0),
        landmarks=Landmarks(),
    )
    settlement = settle_many([fit], threads=1)[0]
    before, after = settlement.at("girthed"), settlement.at("halt")
    assert isinstance(before, Settled)
    assert isinstance(after, Settled)
    return before, after, area


def lift_of_panels(state: Settled, area: float, normals: np.ndarray) -> float:
    """Return the vertical force of the back on the body [N]."""
    return float(1e-3 * area * np.sum(state.pressure_kpa * normals + state.shear_back_kpa[:, 2]))


def test_tension_is_the_one_it_was_done_up_to_and_pulls_both_sides() -> None:
    before, _, area = girthed(120.0, 3.0, 75.0)
    assert before.girth_tension_n == pytest.approx(120.0, rel=1e-9)
    sunk = before.saddle_to_back.translation_mm[2]
    back = kernel_back(round_back(RADIUS_MM), 60.0)
    wrap = wrap_points(back, ANCHOR[None, :], NO_GROOVE, GirthElastic())[0]
    pull = wrap - ANCHOR - np.array([0.0, 0.0, sunk])
    down = -pull[2] / np.linalg.norm(pull)
    up = _upward(before)
    # where the strap meets the barrel was fixed before the body sank by 3 mm of 200: half a per cent
    assert lift_of_panels(before, area, up) == pytest.approx(
        2.0 * 120.0 * down + FEATHER_KG * GRAVITY_M_S2, rel=5e-3
    )


def test_the_elastic_girth_slackens_as_the_rider_sinks_in() -> None:
    before, after, _ = girthed(120.0, 3.0, 75.0)
    ends = {}
    for name, state in (("before", before), ("after", after)):
        ends[name] = state.saddle_to_back.points(np.array([ANCHOR, ANCHOR * [1.0, -1.0, 1.0]]))
    back = kernel_back(round_back(RADIUS_MM), 60.0)
    wraps = wrap_points(back, ends["before"], NO_GROOVE, GirthElastic())
    shorter = sum(
        np.linalg.norm(ends["before"][k] - wraps[k]) - np.linalg.norm(ends["after"][k] - wraps[k])
        for k in range(2)
    )
    assert shorter > 10.0
    # both computed from the same wrap points; the tangent is sought to 0.002 mm a side, 0.01 N
    assert after.girth_tension_n == pytest.approx(120.0 - 3.0 * shorter, abs=0.05)


def test_a_slack_girth_pulls_nothing() -> None:
    _, after, area = girthed(40.0, 8.0, 95.0)
    assert after.girth_tension_n == 0.0
    # solved to 1e-6 of the load, 0.001 N
    assert lift_of_panels(after, area, _upward(after)) == pytest.approx(
        (95.0 + FEATHER_KG) * GRAVITY_M_S2, abs=0.01
    )


def _upward(state: Settled) -> np.ndarray:
    """Return the upward part of the gap's gradient at each point: on a round back, of its own radius."""
    turn = state.saddle_to_back
    phi = 0.35 + (np.arange(12) + 0.5) * 0.55 / 12
    x = -(np.arange(20) + 0.5) * 20.0
    along, around = (grid.ravel() for grid in np.meshgrid(x, np.concatenate([phi, -phi]), indexing="ij"))
    points = np.stack([along, RADIUS_MM * np.sin(around), RADIUS_MM * np.cos(around) - RADIUS_MM], axis=1)
    back = turn.points(points)
    return (back[:, 2] + RADIUS_MM) / np.hypot(back[:, 1], back[:, 2] + RADIUS_MM)
