"""A jointed chain's first-order covariance, against draws of its exact kinematics.

JCGM 101:2008, Evaluation of measurement data — Supplement 1: propagation of distributions using a Monte Carlo
method, clause 7 (draws of the model) against the first-order propagation of JCGM 102:2011, clause 6.2.
The exact kinematics are written anew here, with complex numbers, using nothing of the chain's own code.
"""

import numpy as np
import pytest

from saddlebench.engine.back.chain import arm_angles, arm_points, chain_section
from saddlebench.engine.back.instruments import ChainArm, JointedChain, Scale, even_arm
from saddlebench.engine.back.readings import StationReadings
from saddlebench.engine.frames import FloatArray

DRAWS = 100_000
DIAL = Scale(per_division=2.0, lowest=-40.0, highest=40.0, step=0.5)
UNEVEN = ChainArm(
    link_mm=(18.0, 32.0, 25.0, 41.0, 30.0),
    first_joint_out_mm=12.0,
    first_joint_up_mm=9.0,
    pad_along_mm=(9.0, 32.0, 20.0, 41.0, 30.0),
    pad_below_mm=(9.0, 6.0, 4.0, 7.0, 0.0),
    zero_deg=(3.0, -1.0, 0.5, 0.0, 2.0),
    scale=DIAL,
    joint_sd_deg=(0.3, 0.5, 0.4, 0.8, 0.2),
    zero_sd_deg=0.25,
)
EVEN = even_arm(12, 30.0, DIAL, joint_sd_deg=0.4, zero_sd_deg=0.2)
READINGS = {
    "uneven": (UNEVEN, (4.0, 6.5, 3.0, -2.0, 5.5)),
    "even": (EVEN, (8.0, 5.0, 3.5, 2.0, 4.0, 1.0, 3.0, 2.5, -1.5, 2.0, 4.5, 6.0)),
}


def exact_pads(arm: ChainArm, angles: FloatArray) -> FloatArray:
    """Pads (draws, k, 2) of joint angles (draws, k) [rad]: out + i·up, each link a turned complex number."""
    turn = np.exp(-1j * np.cumsum(angles, axis=1))
    start = arm.first_joint_out_mm + 1j * arm.first_joint_up_mm
    ends = start + np.cumsum(np.array(arm.link_mm) * turn, axis=1)
    inner = np.concatenate([np.full((len(angles), 1), start), ends[:, :-1]], axis=1)
    pads = inner + (np.array(arm.pad_along_mm) - 1j * np.array(arm.pad_below_mm)) * turn
    return np.stack([pads.real, pads.imag], axis=-1)


def covariance_of_draws(points: FloatArray) -> FloatArray:
    flat = points.reshape(len(points), -1)
    return np.cov(flat, rowvar=False)


@pytest.mark.parametrize("case", READINGS)
def test_full_covariance_of_one_arm_equals_that_of_exact_draws(case: str) -> None:
    arm, readings = READINGS[case]
    chain = JointedChain(name="chain of the test", left=arm, right=arm)
    section = chain_section(chain, StationReadings(number=3, distance_mm=120.0, left=readings))
    moves = np.stack([error.moves for error in section.errors], axis=-1)
    sd = np.array([error.sd for error in section.errors])
    stated = np.einsum("iam,m,jbm->iajb", moves, sd**2, moves)

    rng = np.random.default_rng(101)
    angles = np.deg2rad(np.array(arm.zero_deg) + 2.0 * np.array(readings))
    reading_sd = np.deg2rad(np.hypot(arm.joint_sd_deg, 2.0 * 0.5 / np.sqrt(12.0)))
    zero_sd = np.deg2rad(arm.zero_sd_deg)
    shape = (DRAWS, arm.n_links)
    drawn = angles + reading_sd * rng.standard_normal(shape) + zero_sd * rng.standard_normal(shape)
    exact = covariance_of_draws(exact_pads(arm, drawn))

    n = 2 * arm.n_links
    stated = stated.reshape(n, n)
    scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)))
    # A sample covariance of N draws has a relative error of √((1 + ρ²)/N) ≤ 0.0045; five of them are 0.022.
    # Linearising leaves out the square of a direction's own error, (√12 · 0.6°)² = 0.0013 at the chain's end.
    np.testing.assert_allclose(stated / scale, exact / scale, rtol=0.0, atol=0.022 + 0.0013)


def test_draws_of_right_and_left_do_not_hang_together_but_two_stations_do() -> None:
    """Readings are independent from arm to arm; a zero's error is the same wherever its joint is used."""
    arm, readings = READINGS["even"]
    chain = JointedChain(name="chain of the test", left=arm, right=arm)
    first = chain_section(chain, StationReadings(number=1, distance_mm=0.0, left=readings, right=readings))
    second = chain_section(chain, StationReadings(number=2, distance_mm=60.0, left=readings, right=readings))
    shared = {error.source for error in first.errors} & {error.source for error in second.errors}
    assert shared == {f"zero of {side} joint {j}" for side in ("left", "right") for j in range(1, 13)}
    for error in first.errors:
        touched = set(first.side[np.any(error.moves != 0.0, axis=1)].tolist())
        assert touched == ({1} if "left" in error.source else {-1})


def test_jacobian_equals_a_complex_step() -> None:
    """Squire & Trapp (1998), SIAM Review 40:110–112: Im f(x + ih)/h has no subtraction, so no rounding."""
    arm, readings = READINGS["uneven"]
    angles = arm_angles(arm, readings)
    _, jacobian = arm_points(arm, angles)
    h = 1e-30
    for j in range(arm.n_links):
        below = np.cumsum(angles.astype(complex) + 1j * h * (np.arange(arm.n_links) == j))
        along = np.stack([np.cos(below), -np.sin(below)], axis=1)
        inward = np.stack([-np.sin(below), -np.cos(below)], axis=1)
        ends = np.cumsum(np.array(arm.link_mm)[:, None] * along, axis=0)
        inner = np.vstack([np.zeros(2), ends[:-1]])
        pads = inner + np.array(arm.pad_along_mm)[:, None] * along
        pads += np.array(arm.pad_below_mm)[:, None] * inward
        # Both are sums of a few products of numbers below 150 mm: rounding stays below 1e-12.
        np.testing.assert_allclose(jacobian[:, :, j], pads.imag / h, rtol=0.0, atol=1e-12)


def test_links_of_equal_joints_lie_on_a_circle() -> None:
    """Equal chords turned by equal angles 2α lie on the circle of radius L/(2 sin α) (Euclid, book III)."""
    length, turn = 30.0, np.deg2rad(12.0)
    arm = even_arm(9, length, Scale(lowest=-60.0, highest=60.0, step=0.1))
    pads, _ = arm_points(arm, np.concatenate([[turn / 2], np.full(8, turn)]))
    radius = length / (2 * np.sin(turn / 2))
    # The first link leaves the crown at half a turn below level: the crown is on the circle, centre below it.
    np.testing.assert_allclose(np.hypot(pads[:, 0], pads[:, 1] + radius), radius, rtol=1e-13)
    angle_from_top = np.arctan2(pads[:, 0], pads[:, 1] + radius)
    np.testing.assert_allclose(angle_from_top, turn * np.arange(1, 10), rtol=1e-12)
