"""How a settled saddle answers to a small change of its underside, by the implicit function theorem.

Where forces balance, `g(q, x) = 0` with pose `q` and change `x`, so `dq/dx = −(∂g/∂q)⁻¹ ∂g/∂x`. Placed,
girthed and ridden follow one another and friction remembers: what a step takes over from the one before
(shear springs, gaps, where the girth wraps) is differentiated too. Frozen are: which points slip, and the
tissue of each point (a point that comes to lie over another region of the back jumps to that region's law).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.alter.grip import Grip, Held
from saddlebench.engine.alter.point_moves import parts_along, pose_moves, turned_by, wrench
from saddlebench.engine.alter.pressed import Pressed, pressed_of
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit._kernels.barrel import laid_girth
from saddlebench.engine.fit._kernels.energy import add_girth, evaluate
from saddlebench.engine.fit._kernels.newton import moved
from saddlebench.engine.fit.steps import ALL_FREE, PLACING_FREE, Reached, Rig, is_at_rest
from saddlebench.engine.frames import FloatArray

NOT_SMOOTH = Undetermined("the saddle's rest could not be differentiated: it was reached in parts")
STEPS = 3
"""Placed, girthed, rider up."""
_FOLLOW = 1.0
_TURN_STEP = 1e-5
_SWAY_STEP = 1e-3
_BALANCED = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class StateSlopes:
    """One state, and how it answers to each of `k` changes."""

    pressed: Pressed
    pose: FloatArray
    """(6, k) float, back frame [mm, rad per unit]: sway and turn of the reference."""
    gap: FloatArray
    """(n, k) float [mm per unit]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Memory:
    """What a step takes over, by change: (n, k, 3) and (n, k)."""

    springs: FloatArray
    places: FloatArray
    gaps: FloatArray
    pose: FloatArray


def slopes_of(
    rig: Rig, states: Sequence[Reached], moves: FloatArray, firmer: FloatArray | None = None
) -> tuple[StateSlopes, StateSlopes, StateSlopes] | Undetermined:
    """Return how the placed, the girthed and the ridden saddle answer to changes of the underside.

    Parameters
    ----------
    rig, states : as the solver left them (`settle.states_of`), rider up at halt third
    moves : (n, k, 3) float, saddle frame [mm per unit]: how each change moves each point
    firmer : (n, k) float, saddle frame [1 per unit]: by which part each change raises a point's pressure
        where it stays pressed as deep; none if not given

    Returns
    -------
    StateSlopes of placed, girthed, rider up; Undetermined where one of them is not at rest or was reached in
    parts, so that its start is not the state before it
    """
    if len(states) < STEPS or not all(is_at_rest(state) for state in states[:STEPS]):
        return Undetermined("the saddle does not come to rest with the rider up")
    n, k, _ = moves.shape
    firmer = np.zeros((n, k)) if firmer is None else firmer
    told: list[StateSlopes] = []
    memory = _Memory(
        springs=np.zeros((n, k, 3)), places=np.zeros((n, k, 3)), gaps=np.zeros((n, k)), pose=np.zeros((6, k))
    )
    for number, state in enumerate(states[:STEPS]):
        before = states[number - 1] if number else None
        found = _step(rig, state, before, (moves, firmer), memory)
        if isinstance(found, Undetermined):
            return found
        slopes, memory = found
        told.append(slopes)
    return told[0], told[1], told[2]


def _step(
    rig: Rig,
    state: Reached,
    before: Reached | None,
    change: tuple[FloatArray, FloatArray],
    memory: _Memory,
) -> tuple[StateSlopes, _Memory] | Undetermined:
    moves, firmer = change
    pressed = pressed_of(rig, state)
    tangent, unbalanced = _tangent(rig, state, before)
    free = PLACING_FREE if before is None else ALL_FREE
    if (
        np.linalg.norm(unbalanced[free] / np.array([1, 1, 1, 150.0, 150.0, 150.0])[free])
        > _BALANCED * state.load_n
    ):
        return NOT_SMOOTH
    own = moves @ state.pose[:9].reshape(3, 3).T
    grip = Grip.of(rig, state, pressed)
    touching = np.flatnonzero(pressed.pressure_kpa > 0.0)
    push = _contact_force(rig, pressed, touching)
    held = Held(springs=memory.springs[touching], places=memory.places[touching], gaps=memory.gaps[touching])
    contact = _contact_stiffness(rig, pressed, touching)
    pushed = push[:, None, :] * firmer[touching, :, None]
    grown = firmer[touching] * grip.reach[:, None]
    more = turned_by(contact, own[touching]) + pushed + grip.answer(own[touching], held, grown)
    arm = pressed.arm[touching]
    given = wrench(more, arm)
    given[3:] -= wrench(own[touching], push + grip.force)[3:]
    each = pose_moves(arm)
    tangent = tangent + wrench(grip.turned_normals(each), arm)
    if before is not None:
        given += _girth_memory(rig, state, before) @ memory.pose
    centre = _centre_moves(rig, moves)
    given[3:] += _rider_lifted(state, centre)
    pose = _held_place(state, centre) if before is None else np.zeros((6, moves.shape[1]))
    given += tangent @ pose
    ways = _ways_to_go(state, free)
    pose -= ways @ np.linalg.solve((tangent @ ways)[free], given[free])
    places = own + (pose_moves(pressed.arm).transpose(0, 2, 1) @ pose).transpose(0, 2, 1)
    gap = parts_along(pressed.slope, places)
    springs = places.copy()
    springs[touching] = grip.springs(places[touching], held, grown)
    return (
        StateSlopes(pressed=pressed, pose=pose, gap=gap),
        _Memory(springs=springs, places=places, gaps=gap, pose=pose),
    )


def _centre_moves(rig: Rig, moves: FloatArray) -> FloatArray:
    """Return (3, k), saddle frame [mm per unit]: how the centroid moves, about which poses are told."""
    weights = rig.panels.area / rig.panels.area.sum()
    n, k, _ = moves.shape
    return (weights @ moves.reshape(n, 3 * k)).reshape(k, 3).T


def _rider_lifted(state: Reached, centre: FloatArray) -> FloatArray:
    """Return the moments (3, k) by which the seat's load, a stated height above the centroid, follows it."""
    lifted = state.pose[[2, 5, 8]][:, None] * centre[2]
    return np.cross(lifted.T, [0.0, 0.0, state.loads.seat_n]).T


def _held_place(state: Reached, centre: FloatArray) -> FloatArray:
    """Return the pose (6, k) with the sway that a saddle put down has.

    It is put down level: the new centroid, not the old one, comes to lie at the stated place.
    """
    turn = state.pose[:9].reshape(3, 3)
    heading = np.arctan2(turn[1, 0], turn[0, 0])
    level = np.array([[np.cos(heading), -np.sin(heading)], [np.sin(heading), np.cos(heading)]])
    out = np.zeros((6, centre.shape[1]))
    out[:2] = level @ centre[:2] - turn[:2] @ centre
    return out


def _ways_to_go(state: Reached, free: NDArray[np.intp]) -> FloatArray:
    """Return (6, number free): the pose's moves with each freedom; put down, a saddle keeps its heading."""
    ways = np.eye(6)[:, free]
    if free.size == 3:
        turn = state.pose[:9].reshape(3, 3)
        ways[5, 1:] = turn[2, 0] * turn[:2, 0] / (turn[0, 0] ** 2 + turn[1, 0] ** 2)
    return ways


def _contact_force(rig: Rig, pressed: Pressed, touching: NDArray[np.intp]) -> FloatArray:
    return -(rig.panels.area * pressed.pressure_kpa)[touching, None] * pressed.slope[touching]


def _contact_stiffness(rig: Rig, pressed: Pressed, touching: NDArray[np.intp]) -> FloatArray:
    slope = pressed.slope[touching]
    outer = slope[:, :, None] * slope[:, None, :]
    rise = rig.panels.area[touching] * pressed.stiffness[touching]
    pull = (rig.panels.area * pressed.pressure_kpa)[touching]
    return rise[:, None, None] * outer - pull[:, None, None] * pressed.bend[touching]


def _tangent(rig: Rig, state: Reached, before: Reached | None) -> tuple[FloatArray, FloatArray]:
    """Return the derivative of the balance of forces by the pose, (6, 6), and the balance itself (6,)."""
    gradient, hessian, extra = np.zeros(6), np.zeros((6, 6)), np.zeros((6, 6))
    girth = laid_girth(rig.back, state.straps, (before or state).pose)
    state.work.free_until[:] = 0.0
    follow = _FOLLOW if before is not None else 0.0
    evaluate(
        state.back, rig.panels, rig.laws, state.friction, girth, state.loads, state.pose, state.work,
        follow, gradient, hessian, extra,
    )  # fmt: skip
    return hessian + extra, gradient


def _girth_memory(rig: Rig, state: Reached, before: Reached) -> FloatArray:
    """Return (6, 6): how the girth's pull answers to the pose it was laid in, by central differences."""
    out = np.zeros((6, 6))
    for axis in range(6):
        size = _SWAY_STEP if axis < 3 else _TURN_STEP
        pulls = []
        for sign in (1.0, -1.0):
            step = np.zeros(6)
            step[axis] = sign * size
            there = np.zeros(12)
            moved(before.pose, step[:3], step[3:], there)
            gradient, hessian, moment = np.zeros(6), np.zeros((6, 6)), np.zeros((3, 3))
            add_girth(laid_girth(rig.back, state.straps, there), state.pose, gradient, hessian, moment)
            pulls.append(gradient)
        out[:, axis] = (pulls[0] - pulls[1]) / (2.0 * size)
    return out
