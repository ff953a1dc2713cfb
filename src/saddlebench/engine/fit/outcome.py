"""From solver states to typed outcomes: sits, slides or rolls off, cannot be judged, and why."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit._kernels.newton import LEFT_BOX, LEVER
from saddlebench.engine.fit.contact import Underside
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settled import Outcome, Position, Settled, SolverReport
from saddlebench.engine.fit.steps import Planned, Reached, Rig, is_at_rest
from saddlebench.engine.frames import FloatArray, Frame, Pose, read_only
from saddlebench.engine.saddle.unmodelled import why_not

NOT_OVER_BACK = Undetermined("no part of the panels lies over the part of the back that was measured")
FAR_OUT_MM = 999.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What all states of one run share."""

    rig: Rig
    under: Underside
    steps: tuple[Planned, ...]
    position: Position


def told(
    run: Told, states: list[Reached], coarse_counts: list[NDArray[np.int64]] | None
) -> tuple[Settled, ...]:
    """Return every state with its outcome, in order; `coarse_counts`, (4,) each, are of the quick pass."""
    settled: list[Settled] = []
    for k, (step, state) in enumerate(zip(run.steps, states, strict=True)):
        counts = state.work.counts + (0 if coarse_counts is None else coarse_counts[k])
        before = settled[step.after] if step.after >= 0 else None
        settled.append(_one(run, step, state, states[0], before, counts))
    return tuple(settled)


def _one(
    run: Told,
    step: Planned,
    state: Reached,
    placed: Reached,
    before: Settled | None,
    counts: NDArray[np.int64],
) -> Settled:
    rotation = state.pose[:9].reshape(3, 3)
    fields, (_, _, _, load_n, least, smooth) = state.fields, state.summary.numbers
    outcome, why = _outcome(run, state, placed, before)
    return Settled(
        case=step.case,
        position=run.position,
        outcome=outcome,
        why_not=why,
        saddle_to_back=_pose(rotation, state.pose[9:], run.under.reference_saddle),
        gap_mm=read_only(fields.gap),
        pressure_kpa=read_only(state.work.pressure),
        shear_back_kpa=read_only(fields.shear),
        measured=fields.measured,
        girth_tension_n=state.tension_n,
        stiffness_back=read_only(state.work.tangent),
        reference_saddle=run.under.reference_saddle,
        solver=SolverReport(
            iterations=int(counts[0]),
            evaluations=int(counts[1]),
            point_evaluations=int(counts[3]),
            friction_passes=int(counts[2]),
            force_residual=float(state.work.numbers[2] / max(load_n, 1e-9)),
            softest_n_mm=float(least),
            softest_frictionless_n_mm=float(smooth),
            slip_share=state.slip_share,
            friction_work_n_mm=state.friction_work,
            energy_n_mm=float(state.work.numbers[3]),
        ),
    )


def _pose(rotation: FloatArray, at: FloatArray, reference_saddle: FloatArray) -> Pose:
    return Pose(
        source=Frame.SADDLE,
        target=Frame.BACK,
        rotation=rotation,
        translation_mm=at - rotation @ reference_saddle,
    )


def _outcome(
    run: Told,
    state: Reached,
    placed: Reached,
    before: Settled | None,
) -> tuple[Outcome, Undetermined | None]:
    if not run.rig.fit.saddle.family.is_rigid:
        return Outcome.CANNOT_BE_JUDGED, why_not(run.rig.fit.saddle.family)
    if before is not None and before.outcome is Outcome.SLIDES_OR_ROLLS_OFF:
        reason = f"{before.case.name}, it already {before.outcome}"
        return before.outcome, Undetermined(reason)
    if state.status == LEFT_BOX:
        moved = relative_motion(placed.pose, state.pose) * [1.0, 1.0, 0.0, LEVER, LEVER, LEVER]
        return Outcome.SLIDES_OR_ROLLS_OFF, Undetermined(f"it {way(moved)}")
    if not is_at_rest(state):
        return Outcome.CANNOT_BE_JUDGED, Undetermined("the calculation found no rest for it")
    if not state.summary.numbers[4] > 0.0:
        return Outcome.SLIDES_OR_ROLLS_OFF, Undetermined(
            f"nothing keeps it from going: it {way(state.summary.direction, either=True)}"
        )
    return _judged_by_support(run, state)


def _judged_by_support(run: Told, state: Reached) -> tuple[Outcome, Undetermined | None]:
    force = state.work.pressure * run.under.area_n_kpa
    lost = np.where(state.fields.measured, 0.0, force)
    share = float(np.sum(lost) / max(np.sum(force), 1e-9))
    if share <= run.rig.fit.settings.unmeasured_share:
        return Outcome.SITS, None
    points_back = run.under.points[lost > 0.0] @ state.pose[:9].reshape(3, 3).T + state.pose[9:]
    s = -points_back[:, 0]
    return Outcome.CANNOT_BE_JUDGED, Undetermined(
        f"{100.0 * share:.1f} % of the load lies where the back was not measured, "
        f"{s.min():.0f} to {s.max():.0f} mm behind the shoulder mark"
    )


def relative_motion(before: FloatArray, after: FloatArray) -> FloatArray:
    """Return the six components (mm, then rad) from one pose (12,) to another, back frame [mm, rad]."""
    turn = after[:9].reshape(3, 3) @ before[:9].reshape(3, 3).T
    w = 0.5 * np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    return np.concatenate([after[9:] - before[9:], w])


def way(motion: FloatArray, *, either: bool = False) -> str:
    """Say where a motion (6,) float, back frame [mm], goes; `either` when its sign means nothing."""
    moves = (
        ("slides forward", "slides back"),
        ("slides to the near side", "slides to the off side"),
        ("lifts off", "sinks"),
        ("rolls to the off side", "rolls to the near side"),
        ("tips forward", "tips back"),
        ("turns to the near side", "turns to the off side"),
    )
    size = np.abs(motion)
    k = int(np.argmax(size))
    plus, minus = moves[k]
    return f"{plus} or {minus}" if either else (plus if motion[k] > 0.0 else minus)


def never_lay(
    fit: FitProblem, under: Underside, steps: tuple[Planned, ...], position: Position
) -> tuple[Settled, ...]:
    """Return the states of a saddle that never came to lie on the back."""
    n = under.area_n_kpa.size
    nothing = SolverReport(
        iterations=0,
        evaluations=0,
        point_evaluations=0,
        friction_passes=0,
        force_residual=1.0,
        softest_n_mm=0.0,
        softest_frictionless_n_mm=0.0,
        slip_share=0.0,
        friction_work_n_mm=0.0,
        energy_n_mm=0.0,
    )
    return tuple(
        Settled(
            case=step.case,
            position=position,
            outcome=Outcome.CANNOT_BE_JUDGED,
            why_not=NOT_OVER_BACK if fit.saddle.family.is_rigid else why_not(fit.saddle.family),
            saddle_to_back=Pose.identity(Frame.SADDLE, Frame.BACK),
            gap_mm=read_only(np.full(n, FAR_OUT_MM)),
            pressure_kpa=read_only(np.zeros(n)),
            shear_back_kpa=read_only(np.zeros((n, 3))),
            measured=np.zeros(n, dtype=bool),
            girth_tension_n=0.0,
            stiffness_back=read_only(np.zeros((6, 6))),
            reference_saddle=under.reference_saddle,
            solver=nothing,
        )
        for step in steps
    )
