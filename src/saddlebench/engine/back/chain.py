"""A jointed chain's forward kinematics, with its exact first derivatives."""

import numpy as np

from saddlebench.engine.back.instruments import ChainArm, JointedChain
from saddlebench.engine.back.readings import StationReadings, known_run
from saddlebench.engine.back.sections import ElementaryError, LocalSection
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE


def arm_angles(arm: ChainArm, readings: tuple[float | None, ...]) -> FloatArray:
    """Return the joints' angles, (k,) float, arm frame [rad], up to the first reading that is missing."""
    run = known_run(readings)
    zero = np.array(arm.zero_deg[: len(run)])
    return (zero + arm.scale.per_division * np.array(run, dtype=float)) * DEGREE


def arm_points(arm: ChainArm, angles: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where the pads of an arm's links touch, and how each joint's angle moves them.

    Parameters
    ----------
    arm : the links
    angles : (k,) float, arm frame [rad], k up to the number of links; positive bends towards the back

    Returns
    -------
    pads : (k, 2) float, arm frame: out from the midline, up from the skin there [mm]
    jacobian : (k, 2, k) float, arm frame [mm/rad]

    Notes
    -----
    Link k points along Θ_k = Σ_{j≤k} θ_j below level. Turning joint j turns everything beyond it as one rigid
    body: ∂P_k/∂θ_j = ⟂(P_k − J_j) for j ≤ k, with ⟂(u, v) = (v, −u) and J_j the joint.
    """
    k = len(angles)
    below_level = np.cumsum(angles)
    along = np.stack([np.cos(below_level), -np.sin(below_level)], axis=1)
    inward = np.stack([-np.sin(below_level), -np.cos(below_level)], axis=1)
    joints = np.zeros((k + 1, 2))
    joints[0] = arm.first_joint_out_mm, arm.first_joint_up_mm
    joints[1:] = joints[0] + np.cumsum(np.array(arm.link_mm[:k])[:, None] * along, axis=0)
    pads = joints[:-1] + np.array(arm.pad_along_mm[:k])[:, None] * along
    pads += np.array(arm.pad_below_mm[:k])[:, None] * inward
    lever = pads[:, None, :] - joints[None, :-1, :]
    turned = np.stack([lever[:, :, 1], -lever[:, :, 0]], axis=1)
    reached = np.tril(np.ones((k, k)))[:, None, :]
    return pads, turned * reached


def joint_errors(
    arm: ChainArm, jacobian: FloatArray, *, reading: str, zero: str
) -> list[tuple[str, float, FloatArray]]:
    """Return each joint's own and each zero's standing error: source, standard deviation [rad], moves.

    Parameters
    ----------
    arm : the links
    jacobian : (k, 2, k) float, arm frame [mm/rad]
    reading, zero : how the sources begin; the joint's number follows
    """
    errors = []
    for j in range(jacobian.shape[2]):
        sd = float(np.hypot(arm.joint_sd_deg[j], arm.scale.rounding_sd)) * DEGREE
        errors.append((f"{reading} {j + 1}", sd, jacobian[:, :, j]))
        errors.append((f"{zero} {j + 1}", arm.zero_sd_deg * DEGREE, jacobian[:, :, j]))
    return errors


def chain_section(chain: JointedChain, station: StationReadings) -> LocalSection:
    """Return the section that a chain's readings describe; an arm ends at its first missing joint."""
    points: list[FloatArray] = []
    errors: list[tuple[str, float, FloatArray, int]] = []
    for side, arm, sign in (("left", chain.left, 1.0), ("right", chain.right, -1.0)):
        readings = station.left if side == "left" else station.right
        pads, jacobian = arm_points(arm, arm_angles(arm, readings))
        mirror = np.array([sign, 1.0])
        begins = sum(len(part) for part in points)
        points.append(pads * mirror)
        named = joint_errors(
            arm, jacobian, reading=f"{station.words}, {side}, joint", zero=f"zero of {side} joint"
        )
        errors += [(source, sd, moves * mirror, begins) for source, sd, moves in named]
    together = np.concatenate(points)
    return LocalSection(
        points=together,
        side=np.repeat(np.array([1, -1], dtype=np.int8), [len(part) for part in points]),
        errors=tuple(
            ElementaryError(source=source, sd=sd, moves=_at(moves, begins, len(together)))
            for source, sd, moves, begins in errors
        ),
        noise_mm=np.full(len(together), chain.placing.contact_mm),
    )


def _at(moves: FloatArray, begins: int, total: int) -> FloatArray:
    placed = np.zeros((total, 2))
    placed[begins : begins + len(moves)] = moves
    return placed
