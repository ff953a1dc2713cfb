"""The order of loading, and one step of it: from one state at rest to the next."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit._kernels.energy import girth_length, girth_tension
from saddlebench.engine.fit._kernels.newton import AT_REST, STALLED
from saddlebench.engine.fit._kernels.parts import Back, Friction, Girth, Laws, Loads, Panels, Work
from saddlebench.engine.fit._kernels.steps import begin, finish, load_step
from saddlebench.engine.fit.bearing_loads import between, seated, total_n
from saddlebench.engine.fit.contact import kernel_back
from saddlebench.engine.fit.girth import NO_GIRTH, girth_between, wrap_points
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
    panels: Panels
    laws: Laws
    lever_mm: float
    anchors: FloatArray
    """(2k, 3) float, saddle axes about the reference [mm]: strap anchors."""
    loads: tuple[Loads, ...]
    """One for each planned step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """A state at rest, or the place where the attempt ended."""

    status: int
    pose: FloatArray
    """(12,) rotation by rows, then the reference's place in the back frame [mm]."""
    anchor: FloatArray
    """(n, 3) float, back frame [mm]: where each point's shear spring is unstretched."""
    girth: Girth
    tension_n: float
    friction: Friction
    back: Back
    work: Work
    shear: FloatArray
    """(n, 3) float, back frame [kPa]."""
    slide: FloatArray
    """(n, 3) float, back frame [1]: directions in which points slip, 0 where they stick."""
    grip: FloatArray
    """(6, 6) float, back frame [N/mm, N, N·mm]: friction's part of the tangent."""
    held: FloatArray
    """(6, 6) float, back frame [N/mm, N, N·mm]: the same for a disturbance that comes later."""
    slip_share: float
    friction_work: float
    load_n: float
    loads: Loads

    @classmethod
    def laid_on(cls, rig: Rig, pose: FloatArray) -> Self:
        """Return the start of everything: a saddle held at a pose (12,), with no force in it."""
        n = rig.panels.area.size
        return cls(
            status=AT_REST,
            pose=pose.copy(),
            anchor=np.zeros((n, 3)),
            girth=NO_GIRTH,
            tension_n=0.0,
            friction=new_friction(rig, on=False),
            back=rig.back,
            work=new_work(n, np.zeros(4, dtype=np.int64)),
            shear=np.zeros((n, 3)),
            slide=np.zeros((n, 3)),
            grip=np.zeros((6, 6)),
            held=np.zeros((6, 6)),
            slip_share=0.0,
            friction_work=0.0,
            load_n=0.0,
            loads=rig.loads[0],
        )


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
    """Return scratch space for `n` points; iterations and evaluations go on being counted in `counts`."""
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


def step_girth(rig: Rig, case: LoadCase, before: Reached, part: float) -> Girth:
    """Return the girth of a step: none, being tightened to its tension, or elastic from where it was."""
    if case.state is State.PLACED or rig.anchors.shape[0] == 0:
        return NO_GIRTH
    elastic, factors = rig.fit.materials.girth, rig.fit.factors
    pose = before.pose
    anchors_back = rig.anchors @ pose[:9].reshape(3, 3).T + pose[9:]
    wraps = wrap_points(rig.back, anchors_back, rig.fit.landmarks.girth_groove, elastic)
    girth = girth_between(rig.anchors, wraps, tension_n=0.0, stiffness_n_mm=0.0, length_mm=0.0)
    length = girth_length(girth, pose)
    if case.name == GIRTHED.name:
        return girth._replace(tension=float(part * elastic.tension_n * factors.girth_tension), length=length)
    return girth._replace(
        tension=before.tension_n,
        stiffness=float(elastic.stiffness_n_mm * factors.girth_stiffness),
        length=length,
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
    """Go from one state at rest to the next, in smaller parts where it does not get there at once."""
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
    settings = rig.fit.settings
    placing = planned.after < 0
    back = step_back(rig, case, part)
    girth = step_girth(rig, case, here, part)
    friction = new_friction(rig, on=not placing)
    friction.anchor[:] = here.anchor
    work = new_work(rig.panels.area.size, counts)
    pose = here.pose.copy()
    if case.back_lift_mm != 0.0:
        _raise(rig, friction.anchor, pose, (part - done) * case.back_lift_mm)
    part_loads = loads if placing else between(before.loads, loads, part)
    begin(back, rig.panels, friction, pose, work, here.work.pressure, here.work.normal)
    if guess is not None:
        pose[:] = as_put(guess, box_pose) if placing else guess
    load_n = total_n(part_loads) + 2.0 * girth.tension
    limits = (1e9, 10.0) if placing else (settings.box_mm, settings.box_angle)
    box = np.concatenate([box_pose, limits, [rig.lever_mm]])
    free = PLACING_FREE if placing else ALL_FREE
    for again in range(2 if placing else 1):
        if again:
            # small rolls and pitches add up to a turn: put straight, and settled once more from close by
            pose[:] = as_put(pose, box_pose)
        status = load_step(
            back,
            rig.panels,
            rig.laws,
            friction,
            girth,
            part_loads,
            pose,
            box,
            free,
            load_n,
            settings.force_tolerance,
            guess is not None,
            work,
        )
    shear = np.zeros_like(friction.anchor)
    springs = friction.anchor.copy()
    slide, grip, held = np.zeros_like(shear), np.zeros((6, 6)), np.zeros((6, 6))
    slip, lost = finish(rig.panels, friction._replace(anchor=springs), pose, work, shear, slide, grip, held)
    return Reached(
        status=int(status),
        pose=pose,
        anchor=springs,
        girth=girth,
        tension_n=float(girth_tension(girth, pose)) if girth.anchors.shape[0] else 0.0,
        friction=friction,
        back=back,
        work=work,
        shear=shear,
        slide=slide,
        grip=grip,
        held=held,
        slip_share=float(slip),
        friction_work=float(lost),
        load_n=load_n,
        loads=part_loads,
    )


def _raise(rig: Rig, anchor: FloatArray, pose: FloatArray, rise: float) -> None:
    """Carry the shear springs and the saddle with the skin that rises under them."""
    lowest = lowest_point_s_mm(rig.fit.surface, rig.fit.landmarks)
    anchor[:, 2] += rise_mm(-anchor[:, 0], lowest, rise)
    pose[11] += float(rise_mm(np.array(-pose[9]), lowest, rise))


def as_put(pose: FloatArray, put: FloatArray) -> FloatArray:
    """Return a pose with the heading, x and y of another; all (12,)."""
    heading = np.arctan2(put[3], put[0]) - np.arctan2(pose[3], pose[0])
    cos, sin = np.cos(heading), np.sin(heading)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return np.concatenate([(turn @ pose[:9].reshape(3, 3)).ravel(), put[9:11], pose[11:]])


def relative_guess(target: FloatArray, origin: FloatArray, here: FloatArray) -> FloatArray:
    """Return the pose that lies from `here` as `target` lay from `origin`; all (12,)."""
    turn = target[:9].reshape(3, 3) @ origin[:9].reshape(3, 3).T
    return np.concatenate([(turn @ here[:9].reshape(3, 3)).ravel(), here[9:] + target[9:] - origin[9:]])
