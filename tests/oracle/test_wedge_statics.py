"""A body on the two inclined faces of a roof: statics of the wedge, with and without friction.

Source: Hibbeler R. C., Engineering Mechanics: Statics, ch. 8 (wedges); closed forms derived from it. With
half apex angle θ and a load W on two faces: smooth N = W/(2 sin θ); slipping as it sinks in ("grip")
N = W/[2(sin θ + μ cos θ)]; slipping as the faces push it up N = W/[2(sin θ − μ cos θ)]; while friction holds,
the springs share: T/N = (k_t/k) cot θ. Per W at θ = 45°, μ = 0.3: 0.7071, 0.5439, 1.0102.
"""

import numpy as np
import pytest

from saddlebench.engine.fit.loads import GRAVITY_M_S2, HALT, LoadCase, Rider, State
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settled
from saddlebench.engine.saddle.model import SaddleModel
from support.bodies import FEATHER_KG, bearing_of, fit_of, materials_of, pushed, rigid_body, roof_back, tiles

FACE_MM, LENGTH_MM, INNER_MM = 100.0, 400.0, 60.0
K, K_T = 0.6, 0.3


def roof_body(half_apex: float) -> tuple[SaddleModel, float]:
    """Return two flat panels that lie flush on both faces, and the area of one point."""
    along, across, area = tiles(LENGTH_MM, FACE_MM, 20, 10, centre_y_mm=INNER_MM + FACE_MM / 2.0)
    out, down = np.sin(half_apex), np.cos(half_apex)
    points, normals = [], []
    for side in (1.0, -1.0):
        points.append(np.stack([along, side * across * out, -across * down], axis=1))
        normals.append(np.tile([0.0, -side * down, -out], (along.size, 1)))
    return rigid_body(bearing_of(np.concatenate(points), np.concatenate(normals), area)), area


def wedge(
    half_apex: float, friction: float, case: LoadCase, *, rider_kg: float = 70.0, shear: float = K_T
) -> tuple[FitProblem, float]:
    body, area = roof_body(half_apex)
    cases = (HALT, case) if case.state is State.MOVING else (case,)
    rider = Rider(mass_kg=rider_kg, load_height_mm=0.0)
    materials = materials_of(K, friction=friction, shear_kpa_mm=shear)
    return fit_of(
        roof_back(half_apex, depth_mm=300.0, dphi_deg=0.25),
        body,
        materials,
        cases,
        rider=rider,
        origin_s_mm=0.0,
    ), area


def face_forces(state: Settled, half_apex: float, area: float) -> tuple[float, float]:
    """Return the normal force of one face and the friction on it, positive up the face [N]."""
    left = slice(0, state.pressure_kpa.size // 2)
    up_the_face = np.array([0.0, -np.sin(half_apex), np.cos(half_apex)])
    normal = float(np.sum(state.pressure_kpa[left])) * area * 1e-3
    return normal, float(np.sum(state.shear_back_kpa[left] @ up_the_face)) * area * 1e-3


def sunk(half_apex_deg: float, friction: float, load_n: float = 800.0) -> tuple[float, float]:
    half_apex = np.deg2rad(half_apex_deg)
    body, _ = roof_body(half_apex)
    weight = FEATHER_KG * GRAVITY_M_S2
    fit, area = wedge(half_apex, friction, pushed("load", (body.centre_of_mass_saddle, load_n - weight)))
    state = settle_many([fit], threads=1)[0].at("load")
    assert isinstance(state, Settled)
    return face_forces(state, half_apex, area)


# All: the faces are flat to 1e-6 where the panels lie and the load is solved to 1e-6; laying it on under its
# own half newton without friction costs up to 0.06 % of 800 N.
TOLERANCE = 1e-3


@pytest.mark.parametrize(("half_apex_deg", "per_load"), [(45.0, 0.7071), (30.0, 1.0)])
def test_smooth_faces(half_apex_deg: float, per_load: float) -> None:
    normal, shear = sunk(half_apex_deg, friction=0.0)
    assert normal == pytest.approx(800.0 * per_load, rel=TOLERANCE)
    assert shear == 0.0


@pytest.mark.parametrize(("half_apex_deg", "per_load"), [(45.0, 0.5439), (30.0, 0.6581)])
def test_slipping_as_it_sinks(half_apex_deg: float, per_load: float) -> None:
    normal, shear = sunk(half_apex_deg, friction=0.3)
    assert normal == pytest.approx(800.0 * per_load, rel=TOLERANCE)
    assert shear == pytest.approx(0.3 * normal, rel=TOLERANCE)


@pytest.mark.parametrize("half_apex_deg", [60.0, 70.0])
def test_friction_that_holds_shares_by_stiffness(half_apex_deg: float) -> None:
    theta = np.deg2rad(half_apex_deg)
    ratio = K_T / K / np.tan(theta)
    assert ratio < 0.35  # so it does not slip
    normal, shear = sunk(half_apex_deg, friction=0.35)
    assert shear / normal == pytest.approx(ratio, rel=TOLERANCE)
    assert normal == pytest.approx(800.0 / (2.0 * (np.sin(theta) + ratio * np.cos(theta))), rel=TOLERANCE)


def test_relieved_of_most_of_its_load_the_faces_push_it_up() -> None:
    """After a rider's load a tenth of it: friction has turned round and holds the body down."""
    theta = np.deg2rad(45.0)
    relief = LoadCase(
        name="relief",
        state=State.MOVING,
        force_multiple=0.1,
        is_peak=False,
        stirrup_share=0.0,
        source="test",
    )
    fit, area = wedge(theta, 0.3, relief, rider_kg=800.0 / GRAVITY_M_S2)
    settlement = settle_many([fit], threads=1)[0]
    up, back = settlement.at("halt"), settlement.at("relief")
    assert isinstance(up, Settled)
    assert isinstance(back, Settled)
    weight = FEATHER_KG * GRAVITY_M_S2
    assert face_forces(up, theta, area)[0] == pytest.approx((800.0 + weight) * 0.5439, rel=TOLERANCE)
    normal, shear = face_forces(back, theta, area)
    assert normal == pytest.approx((80.0 + weight) * 1.0102, rel=TOLERANCE)
    assert shear == pytest.approx(-0.3 * normal, rel=TOLERANCE)


def test_a_steep_wedge_locks() -> None:
    """With tan θ ≤ μ it stays down when relieved: friction alone carries what the faces still push."""
    theta = np.deg2rad(14.0)
    relief = LoadCase(
        name="relief",
        state=State.MOVING,
        force_multiple=0.0,
        is_peak=False,
        stirrup_share=0.0,
        source="test",
    )
    fit, area = wedge(theta, 0.3, relief, rider_kg=10.0, shear=3.0)
    settlement = settle_many([fit], threads=1)[0]
    up, back = settlement.at("halt"), settlement.at("relief")
    assert isinstance(up, Settled)
    assert isinstance(back, Settled)
    pressed, _ = face_forces(up, theta, area)
    normal, shear = face_forces(back, theta, area)
    # Self-locking: friction below its limit holds what remains of the normal force, N sin θ + T cos θ = mg/2.
    assert normal > 0.3 * pressed
    assert -shear < 0.3 * normal
    balance = normal * np.sin(theta) + shear * np.cos(theta)
    # half the body's weight, of forces of a hundred newtons; the ridge's rounding tilts the faces by 1e-5
    assert balance == pytest.approx(FEATHER_KG * GRAVITY_M_S2 / 2.0, abs=0.01)
