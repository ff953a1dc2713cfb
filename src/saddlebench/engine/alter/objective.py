"""How well a saddle lies: the misfit that a plan makes small, and its slopes.

The misfit is a sum of squares. A point that does not touch counts with the pressure it lacks: its gap times
the stiffness with which it would begin to bear, so that a bridge is felt as well as a pressure point.
"""

from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.alter.bounded import Priced
from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.alter.pressed import pressed_of
from saddlebench.engine.alter.slopes import STEPS, StateSlopes, slopes_of
from saddlebench.engine.alter.target import Target, bigger_by_mm, hollows, smaller_is_left, target_of
from saddlebench.engine.alter.variables import Variable, fields_of, variables_of
from saddlebench.engine.back.distance import closest_points_of
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import HALT
from saddlebench.engine.fit.measures.batch import pair_of
from saddlebench.engine.fit.measures.clearance import probes_of
from saddlebench.engine.fit.place import usual_place
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settle import states_of
from saddlebench.engine.fit.steps import Reached, Rig, is_at_rest
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.alterable import Alterable
from saddlebench.engine.saddle.grid import resampled
from saddlebench.engine.saddle.model import Family

DEEPEST_GAP_MM = 15.0
"""A gap counts no more than this: deeper ones are another kind of saddle."""
TILT = np.deg2rad(2.0)
LEAN = np.deg2rad(2.0)
BALANCE_WEIGHT = 0.15
"""A seat tilted by 2° counts as much as a pressure that is uneven by 15 % of its mean."""
ROOM_WEIGHT = 0.3
ROOM_SCALE_MM = 10.0
ROOM_MARGIN_MM = 3.0
"""Clearances are held this far on the fine side of their limit."""
WITHERS_MM = {Family.BARS: 40.0, Family.CUT_BACK: 25.0}
"""Fine from here (common practice); 30 mm for all others."""
SPINE_MM = 15.0
PRICE_PER_MM = 0.0006
"""Of the misfit, that 1 mm in one zone must win back: 10 mm for an unevenness of 8 % of the mean pressure."""
RIDGE = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class Aimed:
    """A saddle on a back with what may be chosen and what is aimed at; stays the same through a plan."""

    fit: FitProblem
    """As it is, thinned, with the place where the saddle is put."""
    variables: tuple[Variable, ...]
    moves: FloatArray
    """(n, k, 3) float, saddle frame [1]."""
    firmer: FloatArray
    """(n, k) float, saddle frame [1/mm]."""
    target: Target
    price: FloatArray
    """(k,) float, saddle frame [1/mm]."""
    states: tuple[Reached, ...]
    """As it is."""
    probes: FloatArray
    """(m, 3) float, saddle frame [mm]: places of arch and roof that are to keep clear."""
    room_mm: FloatArray
    """(m,) float, saddle frame [mm]: how clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lies:
    """How the saddle lies with one choice of the variables."""

    x: FloatArray
    """(k,) float, saddle frame [mm]."""
    rig: Rig
    states: tuple[Reached, ...]
    residual: FloatArray
    """(m,) float, any frame [1]."""
    even_kpa: float
    """The even pressure aimed at."""

    @property
    def misfit(self) -> float:
        """Sum of squares [1]."""
        return float(self.residual @ self.residual)


def aimed_at(
    fit: FitProblem, allowed: Alterable, policy: Policy, points: int | None = None
) -> Aimed | Undetermined:
    """Return what a plan works on; on about `points` bearing points if given.

    Undetermined where the saddle does not come to rest as it is.
    """
    placing = fit.settings.placing or usual_place(fit.landmarks, fit.saddle)
    saddle = fit.saddle if points is None else resampled(fit.saddle, points)
    thin = replace(
        fit,
        saddle=saddle,
        cases=(HALT,),
        settings=replace(fit.settings, placing=placing, both_positions=False, coarse_points=0),
    )
    rig, states = states_of(thin)
    if not all(is_at_rest(state) for state in states):
        return Undetermined("the saddle does not come to rest with the rider up: no plan starts from there")
    pose = states[-1].pose
    under = rig.panels.points @ pose[:9].reshape(3, 3).T + pose[9:]
    bigger = bigger_by_mm(thin.surface, saddle, under)
    variables = variables_of(saddle, allowed, policy, smaller_is_left=smaller_is_left(bigger))
    moves, firmer = fields_of(variables, saddle)
    probes = probes_of(pair_of(thin.surface, thin.landmarks, saddle, thin.pads))
    clear = np.concatenate([probes.points_saddle[0, probes.top], probes.points_saddle[0, probes.channel]])
    n_top = probes.top.stop - probes.top.start
    room = np.full(len(clear), SPINE_MM)
    room[:n_top] = WITHERS_MM.get(saddle.family, 30.0)
    return Aimed(
        fit=thin,
        variables=variables,
        moves=moves,
        firmer=firmer,
        target=target_of(saddle.bearing, hollows(policy, bigger)),
        price=PRICE_PER_MM * policy.price_of_mm * np.array([one.price for one in variables]),
        states=tuple(states),
        probes=clear,
        room_mm=room + ROOM_MARGIN_MM,
    )


def lies(aimed: Aimed, x: FloatArray, near: Lies | None = None) -> Lies | Undetermined:
    """Settle the saddle with one choice of the variables (k,) float, saddle frame [mm]."""
    rig, states = states_of(_moved(aimed, x), (near or aimed).states)
    if not all(is_at_rest(state) for state in states[:STEPS]):
        return Undetermined("so altered, the saddle does not come to rest with the rider up")
    pressed = pressed_of(rig, states[STEPS - 1])
    load = float(np.sum(rig.panels.area * pressed.pressure_kpa))
    even = load / max(float(np.sum(rig.panels.area * aimed.target.profile)), 1e-9)
    signed = -pressed.stiffness * np.minimum(pressed.gap_mm, DEEPEST_GAP_MM)
    signed = np.where(pressed.pressure_kpa > 0.0, pressed.pressure_kpa, signed)
    uneven = np.sqrt(aimed.target.weight) * (signed / even - aimed.target.profile)
    turn = states[STEPS - 1].pose[:9].reshape(3, 3)
    balance = BALANCE_WEIGHT * np.array([np.arcsin(turn[2, 0]) / TILT, np.arcsin(turn[2, 1]) / LEAN])
    lacking = np.maximum(aimed.room_mm - _clear(aimed, rig, states[STEPS - 1])[0], 0.0)
    cramped = ROOM_WEIGHT / np.sqrt(len(lacking)) * lacking / ROOM_SCALE_MM
    return Lies(
        x=x,
        rig=rig,
        states=tuple(states),
        residual=np.concatenate([uneven, balance, cramped]),
        even_kpa=even,
    )


def _moved(aimed: Aimed, x: FloatArray) -> FitProblem:
    """Return the fit with the fields' moves and firmness; areas and normals are renewed once, at the end."""
    bearing = aimed.fit.saddle.bearing
    moved = replace(
        bearing,
        points_saddle=read_only(bearing.points_saddle + (aimed.moves.transpose(0, 2, 1) @ x)),
        firmness=read_only(bearing.firmness * np.exp(aimed.firmer @ x)),
    )
    return replace(aimed.fit, saddle=replace(aimed.fit.saddle, bearing=moved))


def _clear(aimed: Aimed, rig: Rig, state: Reached) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return clearances (m,) [mm], their gradients (m, 3) and the arms (m, 3) of the probes."""
    turn = state.pose[:9].reshape(3, 3)
    # the solver tells poses about the centroid of the altered underside
    centre = np.average(rig.fit.saddle.bearing.points_saddle, axis=0, weights=rig.fit.saddle.bearing.area_mm2)
    arm = (aimed.probes - centre) @ turn.T
    surface = rig.fit.surface
    near = closest_points_of(surface.grid, surface.spline.coefficients, arm + state.pose[9:])
    return near.distance_mm, near.normal, arm


def jacobian(aimed: Aimed, held: Lies) -> FloatArray | Undetermined:
    """Return the slopes (m, k) of a choice's residual, from its settled states."""
    ridden = held.states[STEPS - 1]
    pressed = pressed_of(held.rig, ridden)
    firmer = aimed.firmer * _panel_share(held, pressed.stiffness)[:, None]
    found = slopes_of(held.rig, held.states, aimed.moves, firmer)
    if isinstance(found, Undetermined):
        return found
    up: StateSlopes = found[-1]
    gap = pressed.gap_mm
    signed = np.where(pressed.pressure_kpa > 0.0, pressed.pressure_kpa, -pressed.stiffness * gap)
    inside = (gap < DEEPEST_GAP_MM)[:, None]
    rise = np.where(inside, -pressed.stiffness[:, None] * up.gap + signed[:, None] * firmer, 0.0)
    load = np.sum(held.rig.panels.area * pressed.pressure_kpa)
    touching = (pressed.pressure_kpa > 0.0)[:, None]
    more_even = np.sum(held.rig.panels.area[:, None] * np.where(touching, rise, 0.0), axis=0) / load
    scaled = np.where(inside[:, 0], signed, -pressed.stiffness * DEEPEST_GAP_MM) / held.even_kpa
    uneven = np.sqrt(aimed.target.weight)[:, None] * (
        rise / held.even_kpa - scaled[:, None] * more_even[None, :]
    )
    turn = ridden.pose[:9].reshape(3, 3)
    w = up.pose[3:]
    tilt = (w[0] * turn[1, 0] - w[1] * turn[0, 0]) / np.sqrt(1.0 - turn[2, 0] ** 2)
    lean = (w[0] * turn[1, 1] - w[1] * turn[0, 1]) / np.sqrt(1.0 - turn[2, 1] ** 2)
    balance = BALANCE_WEIGHT * np.stack([tilt / TILT, lean / LEAN])
    return np.concatenate([uneven, balance, _cramped_slopes(aimed, held, up)])


def _cramped_slopes(aimed: Aimed, held: Lies, up: StateSlopes) -> FloatArray:
    clear, normal, arm = _clear(aimed, held.rig, held.states[STEPS - 1])
    moved = normal @ up.pose[:3] + np.cross(arm, normal) @ up.pose[3:]
    scale = ROOM_WEIGHT / np.sqrt(len(clear)) / ROOM_SCALE_MM
    return np.where((clear < aimed.room_mm)[:, None], -scale * moved, 0.0)


def _panel_share(held: Lies, stiffness: FloatArray) -> FloatArray:
    """Return by which part of its own a firmer panel raises each point's pressure (n,) [1].

    The panel yields in series with pads and back.
    """
    saddle, factors = held.rig.fit.saddle, held.rig.fit.factors
    own = saddle.panel.stiffness_kpa_mm * factors.panel * saddle.bearing.firmness
    return stiffness / own


def quadratic(aimed: Aimed, held: Lies, slopes: FloatArray) -> Priced:
    """Return the objective as the slopes (m, k) float, any frame [1/mm] foretell it, as a function of x."""
    start = held.residual - slopes @ held.x
    k = len(held.x)
    return Priced(
        square=2.0 * (slopes.T @ slopes) + 2.0 * RIDGE * np.eye(k),
        linear=2.0 * (slopes.T @ start),
        price=aimed.price,
    )


def priced(aimed: Aimed, held: Lies) -> float:
    """Return the whole objective of a choice: misfit and price of what is moved."""
    return held.misfit + float(aimed.price @ np.abs(held.x)) + RIDGE * float(held.x @ held.x)
