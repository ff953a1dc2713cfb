"""The order of loading, and one step of it: from one state at rest to the next."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit._kernels.advance import advance
from saddlebench.engine.fit._kernels.newton import AT_REST, STALLED
from saddlebench.engine.fit._kernels.parts import (
    Back,
    Fields,
    Friction,
    Laws,
    Loads,
    Panels,
    Straps,
    Summary,
    Work,
)
from saddlebench.engine.fit.bearing_loads import between, seated
from saddlebench.engine.fit.contact import kernel_back
from saddlebench.engine.fit.girth import straps_in
from saddlebench.engine.fit.lift import lifted, lowest_point_s_mm, rise_mm
from saddlebench.engine.fit.loads import GIRTHED, HALT, PLACED, LoadCase, State
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.frames import FloatArray

PLACING_FREE = np.array([2, 3, 4])
"""Height, roll and pitch; x, y and yaw are held while the saddle is put on."""
ALL_FREE = np.arange(6)
SMALLEST_PART = 0.125
STALLED_IS_REST = 1e-4
"""A solver that cannot improve further is at rest if its unbalanced force is below this share of the load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One saddle's points over one back, with its loads: what stays the same through all steps."""

    fit: FitProblem
    back: Back
    nodes: NDArray[np.bool_]
    """(n_s, n_phi) nodes of the back that were measured."""
    panels: Panels
    laws: Laws
    lever_mm: float
    straps: Straps
    loads: tuple[Loads, ...]
    """One for each planned step."""
    reported: bool = True
    """Whether distances and stability are wanted; not on the quick first pass."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """A state at rest, or the place where the attempt ended."""

    status: int
    pose: FloatArray
    """(12,) rotation by rows, then the reference's place in the back frame [mm]."""
    back: Back
    friction: Friction
    straps: Straps
    loads: Loads
    work: Work
    fields: Fields
    summary: Summary

    @classmethod
    def laid_on(cls, rig: Rig, pose: FloatArray) -> Self:
        """Return the start of everything: a saddle held at a pose (12,), with no force in it."""
        n = rig.panels.area.size
        return cls(
            status=AT_REST,
            pose=pose.copy(),
            back=rig.back,
            friction=new_friction(rig, on=False),
            straps=rig.straps,
            loads=rig.loads[0],
            work=new_work(n, np.zeros(4, dtype=np.int64)),
            fields=new_fields(n),
            summary=Summary(numbers=np.zeros(6), direction=np.zeros(6)),
        )

    @property
    def slip_share(self) -> float:
        """Share of the load carried where friction is used up [1]."""
        return float(self.summary.numbers[0])

    @property
    def friction_work(self) -> float:
        """Energy lost to friction in the step [N·mm]."""
        return float(self.summary.numbers[1])

    @property
    def tension_n(self) -> float:
        """Tension of the girth [N]."""
        return float(self.summary.numbers[2])

    @property
    def load_n(self) -> float:
        """All weights, and the girth's pull when the step began [N]."""
        return float(self.summary.numbers[3])


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One step: its case, and the step it starts from (−1 for none)."""

    case: LoadCase
    after: int


def plan(cases: Sequence[LoadCase]) -> tuple[Planned, ...]:
    """Return the steps in order: placed, girthed, rider up at halt, then every other case.

    The order is part of the definition of the result, since friction remembers.
    """
    steps = [Planned(case=PLACED, after=-1), Planned(case=GIRTHED, after=0)]
    ridden = any(case.state in (State.RIDER_UP, State.MOVING) for case in cases)
    if ridden:
        halt = next((case for case in cases if case.name == HALT.name), HALT)
        steps.append(Planned(case=halt, after=1))
    for case in cases:
        if case.name in (PLACED.name, GIRTHED.name, HALT.name):
            continue
        after = {State.PLACED: 0, State.GIRTHED: 1, State.BACK_LIFTED: 1}.get(case.state, 2)
        steps.append(Planned(case=case, after=after))
    return tuple(steps)


def new_work(n: int, counts: NDArray[np.int64]) -> Work:
    """Return scratch space for `n` points; `counts` (4,) go on being counted up."""
    return Work(
        pressure=np.zeros(n),
        free_until=np.zeros(n),
        normal=np.zeros((n, 3)),
        misfit=np.zeros(n),
        counts=counts,
        numbers=np.zeros(4),
        tangent=np.zeros((6, 6)),
    )


def new_friction(rig: Rig, *, on: bool) -> Friction:
    """Return the friction of a step, springs not yet set."""
    n = rig.panels.area.size
    grip, factors = rig.fit.materials.grip, rig.fit.factors
    return Friction(
        stiffness=float(grip.shear_kpa_mm * factors.shear) if on else 0.0,
        coefficient=float(grip.coefficient * factors.friction),
        anchor=np.zeros((n, 3)),
        cap=np.zeros(n),
        normal=np.zeros((n, 3)),
        first=np.zeros((n, 3)),
        first_gap=np.zeros(n),
    )


def new_fields(n: int) -> Fields:
    """Return room for what a step leaves at `n` points."""
    return Fields(
        springs=np.zeros((n, 3)),
        shear=np.zeros((n, 3)),
        slide=np.zeros((n, 3)),
        gap=np.zeros(n),
        measured=np.zeros(n, dtype=np.bool_),
    )


def step_back(rig: Rig, case: LoadCase, part: float) -> Back:
    """Return the surface of a step, raised where the case lifts the back."""
    if case.back_lift_mm == 0.0:
        return rig.back
    raised = lifted(rig.fit.surface, rig.fit.landmarks, part * case.back_lift_mm)
    return kernel_back(raised, rig.fit.settings.continuation_mm)


def run_step(
    rig: Rig, planned: Planned, loads: Loads, before: Reached, box_pose: FloatArray, guess: FloatArray | None
) -> Reached:
    """Go from one state at rest to the next, in smaller parts where it does not get there at once.

    Parameters
    ----------
    rig : saddle over back
    planned : the step
    loads : at its end
    before : the state it starts from
    box_pose : (12,) float, saddle to back frame [1, mm]: the pose that may not be left far
    guess : (12,) float, saddle to back frame [1, mm]: a pose close to the answer, if one is known

    Returns
    -------
    Reached
        At rest (see `is_at_rest`), or where the last attempt ended.
    """
    counts = np.zeros(4, dtype=np.int64)
    if planned.case.state is State.MOVING:
        loads = seated(loads, before.pose)
    if guess is not None:
        reached = _attempt(rig, planned, loads, before, before, box_pose, counts, (0.0, 1.0), guess)
        if is_at_rest(reached):
            return reached
    done, part, here = 0.0, 1.0, before
    while True:
        reached = _attempt(rig, planned, loads, before, here, box_pose, counts, (done, done + part), None)
        if is_at_rest(reached):
            done, here = done + part, reached
            if done >= 1.0:
                return reached
        elif part <= SMALLEST_PART:
            return reached
        else:
            part *= 0.5


def is_at_rest(reached: Reached) -> bool:
    """Tell whether forces balance there."""
    if reached.status == STALLED:
        return bool(reached.work.numbers[2] < STALLED_IS_REST * reached.load_n)
    return reached.status == AT_REST


def _attempt(
    rig: Rig,
    planned: Planned,
    loads: Loads,
    before: Reached,
    here: Reached,
    box_pose: FloatArray,
    counts: NDArray[np.int64],
    span: tuple[float, float],
    guess: FloatArray | None,
) -> Reached:
    case, (done, part) = planned.case, span
    settings, girth = rig.fit.settings, rig.fit.materials.girth
    placing = planned.after < 0
    n = rig.panels.area.size
    friction = new_friction(rig, on=not placing)
    friction.anchor[:] = here.fields.springs
    pose = here.pose.copy()
    if case.back_lift_mm != 0.0:
        _raise(rig, friction.anchor, pose, (part - done) * case.back_lift_mm)
    done_up_n = float(part * girth.tension_n * rig.fit.factors.girth_tension)
    limits = (1e9, 10.0) if placing else (settings.box_mm, settings.box_angle)
    reached = Reached(
        status=0,
        pose=pose,
        back=step_back(rig, case, part),
        friction=friction,
        straps=straps_in(rig.straps, case, tension_n=here.tension_n, done_up_n=done_up_n),
        loads=loads if placing else between(before.loads, loads, part),
        work=new_work(n, counts),
        fields=new_fields(n),
        summary=Summary(numbers=np.zeros(6), direction=np.zeros(6)),
    )
    status = advance(
        reached.back,
        rig.nodes,
        rig.panels,
        rig.laws,
        friction,
        reached.straps,
        rig.back,
        here.pose,
        reached.loads,
        pose,
        pose if guess is None else guess,
        guess is not None,
        np.concatenate([box_pose, limits, [rig.lever_mm]]),
        PLACING_FREE if placing else ALL_FREE,
        settings.force_tolerance,
        here.work.pressure,
        here.work.normal,
        rig.reported,
        reached.work,
        reached.fields,
        reached.summary,
    )
    return replace(reached, status=int(status))


def _raise(rig: Rig, anchor: FloatArray, pose: FloatArray, rise: float) -> None:
    """Carry the shear springs and the saddle with the skin that rises under them."""
    lowest = lowest_point_s_mm(rig.fit.surface, rig.fit.landmarks)
    anchor[:, 2] += rise_mm(-anchor[:, 0], lowest, rise)
    pose[11] += float(rise_mm(np.array(-pose[9]), lowest, rise))


def relative_guess(target: FloatArray, origin: FloatArray, here: FloatArray) -> FloatArray:
    """Return the pose that lies from `here` as `target` lay from `origin`; all (12,)."""
    turn = target[:9].reshape(3, 3) @ origin[:9].reshape(3, 3).T
    return np.concatenate([(turn @ here[:9].reshape(3, 3)).ravel(), here[9:] + target[9:] - origin[9:]])
