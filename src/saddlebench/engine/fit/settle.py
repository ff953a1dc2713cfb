"""Settle saddles on backs: place, girth, rider up, and every further case, each from the one before."""

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import (
    InputProblemsError,
    NotMeasured,
    Problem,
    Undetermined,
    input_problem,
    is_known,
)
from saddlebench.engine.fit._kernels.parts import Back, Panels
from saddlebench.engine.fit._kernels.steps import lower
from saddlebench.engine.fit.bearing_loads import case_loads, seat_curve
from saddlebench.engine.fit.contact import (
    Underside,
    kernel_back,
    measured_nodes,
    thinned,
    tissue_under,
    underside,
)
from saddlebench.engine.fit.girth import strap_anchors, straps_for
from saddlebench.engine.fit.laws import tabulated
from saddlebench.engine.fit.loads import DEFAULT_CASES, LoadCase, Rider
from saddlebench.engine.fit.outcome import NOT_OVER_BACK, Told, never_lay, told
from saddlebench.engine.fit.place import strap_offset_mm, usual_place
from saddlebench.engine.fit.problem import FitProblem, problems_of
from saddlebench.engine.fit.settings import FitMaterials, Placing, SettleSettings
from saddlebench.engine.fit.settled import Outcome, Position, Settled, Settlement
from saddlebench.engine.fit.steps import (
    Planned,
    Reached,
    Rig,
    is_at_rest,
    plan,
    relative_guess,
    run_step,
)
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import PadLayer, SaddleModel

ABOVE_BACK_MM = 500.0
"""Height from which a saddle is lowered on."""


def settle(
    surface: BackSurface,
    landmarks: Landmarks,
    saddle: SaddleModel,
    pads: Sequence[PadLayer],
    rider: Rider,
    *,
    cases: Sequence[LoadCase] = DEFAULT_CASES,
    materials: FitMaterials | None = None,
    settings: SettleSettings | None = None,
) -> Settlement:
    """Bring one saddle to rest on one back, case by case, where it is put and where it works to.

    Parameters
    ----------
    surface : the back
    landmarks : where the saddle is put, where the girth lies, where the back is lifted
    saddle : the saddle
    pads : from the saddle down
    rider : who sits on it
    cases : besides “placed” and “girthed”, which always come first
    materials : of the back, of friction and girth
    settings : placing, tolerances, limits

    Returns
    -------
    Settlement
        A saddle that does not sit, or cannot be judged, is an outcome of its steps.

    Raises
    ------
    InputProblemsError
        If back, saddle, load or materials are not usable; every problem is listed.
    """
    fit = FitProblem(
        surface=surface,
        landmarks=landmarks,
        saddle=saddle,
        pads=tuple(pads),
        rider=rider,
        cases=tuple(cases),
        materials=materials or FitMaterials(),
        settings=settings or SettleSettings(),
    )
    return settle_many([fit], threads=1)[0]


def settle_many(
    fits: Sequence[FitProblem], *, start: Settlement | None = None, threads: int | None = None
) -> tuple[Settlement, ...]:
    """Settle many fits: draws of one pair, one back against a stock, a stock against many backs.

    Each fit is solved by itself and in the same way whatever the number of threads, so results do not depend
    on it. What depends on the saddle alone is made once for fits that share the saddle and its pads.

    Parameters
    ----------
    fits : the fits
    start : a settlement close to all of them (the nominal one of a cloud of draws); makes the quick first
        pass on fewer points unnecessary
    threads : as many as there are processors if not given

    Returns
    -------
    tuple of Settlement
        In the order of the fits.

    Raises
    ------
    InputProblemsError
        If any fit is not usable; every problem of every fit is listed.
    """
    problems: list[Problem] = [problem for fit in fits for problem in problems_of(fit)]
    if problems:
        raise InputProblemsError(problems)
    undersides: dict[tuple[int, ...], _Undersides] = {}
    jobs = []
    for fit in fits:
        key = (id(fit.saddle), *(id(pad) for pad in fit.pads), fit.settings.coarse_points)
        if key not in undersides:
            undersides[key] = _undersides(fit)
        jobs.append((fit, undersides[key]))
    n_threads = min(threads or os.cpu_count() or 1, len(jobs))
    if n_threads <= 1:
        return tuple(_settle_one(fit, under, start) for fit, under in jobs)
    with ThreadPoolExecutor(n_threads) as pool:
        return tuple(pool.map(lambda job: _settle_one(job[0], job[1], start), jobs))


@dataclass(frozen=True, slots=True)
class _Undersides:
    """What depends on the saddle and its pads alone."""

    fine: Underside
    coarse: Underside | None
    anchors: FloatArray
    curve: tuple[float, float]


def _undersides(fit: FitProblem) -> _Undersides:
    fine = underside(fit.saddle, fit.pads)
    n_coarse = fit.settings.coarse_points
    few = n_coarse == 0 or fine.area_n_kpa.size < 2 * n_coarse
    return _Undersides(
        fine=fine,
        coarse=None if few else thinned(fine, fit.saddle.bearing, n_coarse),
        anchors=strap_anchors(fit.saddle, fine.reference_saddle),
        curve=seat_curve(fit.saddle.seat),
    )


def _settle_one(fit: FitProblem, under: _Undersides, start: Settlement | None) -> Settlement:
    placing = fit.settings.placing or usual_place(fit.landmarks, fit.saddle)
    steps = plan(fit.cases)
    first = _settle_at(fit, under, placing, steps, Position.PUT, start)
    if not fit.settings.both_positions:
        return Settlement(steps=first, works_to=Undetermined("only where it is put was asked for"))
    girthed = first[1]
    if girthed.outcome is not Outcome.SITS:
        return Settlement(
            steps=first, works_to=Undetermined(f"girthed, the saddle {girthed.outcome} where it is put")
        )
    offset = strap_offset_mm(under.anchors, _pose_of(girthed, under.fine.reference_saddle), fit.landmarks)
    if isinstance(offset, NotMeasured):
        return Settlement(steps=first, works_to=Undetermined(offset.reason))
    if abs(offset) <= fit.settings.groove_reach_mm:
        stays = tuple(replace(step, position=Position.WORKS_TO) for step in first)
        return Settlement(steps=first + stays)
    worked = replace(placing, origin_s_mm=placing.origin_s_mm - offset)
    return Settlement(steps=first + _settle_at(fit, under, worked, steps, Position.WORKS_TO, start))


def states_of(fit: FitProblem, near: Sequence[Reached] = ()) -> tuple[Rig, list[Reached]]:
    """Return the solver's own states where the saddle is put, for those who look inside the solver.

    Parameters
    ----------
    fit : the fit
    near : states of a fit so close to it that its own are reached directly from theirs

    Raises
    ------
    InputProblemsError
        If the fit is not usable, or no part of the saddle lies over the back.
    """
    problems = problems_of(fit)
    if problems:
        raise InputProblemsError(problems)
    under, steps = _undersides(fit), plan(fit.cases)
    placing = fit.settings.placing or usual_place(fit.landmarks, fit.saddle)
    laid = _laid(kernel_back(fit.surface, fit.settings.continuation_mm), under.coarse or under.fine, placing)
    if laid is None:
        raise input_problem(NOT_OVER_BACK.reason, "Put the saddle where the back was measured.")
    rig = _rig(fit, under, steps, laid)
    guesses = [state.pose for state in near] if len(near) == len(steps) else None
    return rig, _run(rig, steps, laid, guesses)


def _settle_at(
    fit: FitProblem,
    under: _Undersides,
    placing: Placing,
    steps: tuple[Planned, ...],
    position: Position,
    start: Settlement | None,
) -> tuple[Settled, ...]:
    fine = under.fine
    laid = _laid(kernel_back(fit.surface, fit.settings.continuation_mm), under.coarse or fine, placing)
    if laid is None:
        return never_lay(fit, fine, steps, position)
    rig = _rig(fit, under, steps, laid)
    guesses = _poses_from(start, steps, position, fine.reference_saddle)
    counts = None
    if guesses is None and under.coarse is not None:
        coarse = replace(rig, panels=_panels(fit, under.coarse, laid), reported=False)
        quick = _run(coarse, steps, laid, None)
        counts = [one.work.counts for one in quick]
        if all(is_at_rest(reached) for reached in quick):
            guesses = [reached.pose for reached in quick]
    reached = _run(rig, steps, laid, guesses)
    run = Told(rig=rig, under=fine, steps=steps, position=position)
    return told(run, reached, counts)


def _laid(back: Back, under: Underside, placing: Placing) -> FloatArray | None:
    """Return the pose (12,) lowered until a point touches; None if no panel point lies over the back."""
    pose = _aimed(placing, under.reference_saddle)
    nowhere = np.zeros(under.area_n_kpa.size, dtype=np.int64)
    return pose if lower(back, under.panels(nowhere), pose) else None


def _rig(fit: FitProblem, under: _Undersides, steps: tuple[Planned, ...], laid: FloatArray) -> Rig:
    fine = under.fine
    panels = _panels(fit, fine, laid)
    return Rig(
        fit=fit,
        back=kernel_back(fit.surface, fit.settings.continuation_mm),
        nodes=measured_nodes(fit.surface),
        panels=panels,
        laws=tabulated(fine.layers.over_tissues(fit.materials, fit.factors), panels.law),
        lever_mm=fine.lever_mm,
        straps=straps_for(
            under.anchors,
            fit.landmarks.girth_groove,
            fit.materials.girth,
            factor=fit.factors.girth_stiffness,
        ),
        loads=tuple(
            case_loads(fit.saddle, fine.reference_saddle, fit.rider, step.case, under.curve) for step in steps
        ),
    )


def _panels(fit: FitProblem, under: Underside, laid: FloatArray) -> Panels:
    # regions are read off once, where the saddle is laid: they do not follow its millimetres of sinking
    return under.panels(tissue_under(fit.surface, under.points @ laid[:9].reshape(3, 3).T + laid[9:]))


def _aimed(placing: Placing, reference_saddle: FloatArray) -> FloatArray:
    """Return the pose (12,) above the back from which the saddle is lowered, about its reference."""
    cos, sin = np.cos(placing.yaw), np.sin(placing.yaw)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    origin = np.array([-placing.origin_s_mm, placing.sideways_mm, ABOVE_BACK_MM])
    return np.concatenate([turn.ravel(), origin + turn @ reference_saddle])


def _run(
    rig: Rig, steps: tuple[Planned, ...], laid: FloatArray, guesses: list[FloatArray] | None
) -> list[Reached]:
    """Run all steps, from the saddle laid on, or from guesses of where they end."""
    start = Reached.laid_on(rig, laid)
    states: list[Reached] = []
    for k, step in enumerate(steps):
        before = start if step.after < 0 else states[step.after]
        if step.after >= 0 and not is_at_rest(before):
            states.append(before)
            continue
        guess = None
        if guesses is not None:
            guess = guesses[0]
            if step.after >= 0:
                guess = relative_guess(guesses[k], guesses[step.after], before.pose)
        box_pose = states[0].pose if states else laid
        states.append(run_step(rig, step, rig.loads[k], before, box_pose, guess))
    return states


def _pose_of(settled: Settled, reference_saddle: FloatArray) -> FloatArray:
    """Return a state's pose (12,) about the reference."""
    move = settled.saddle_to_back
    at = move.rotation @ reference_saddle + move.translation_mm
    return np.concatenate([move.rotation.ravel(), at])


def _poses_from(
    start: Settlement | None,
    steps: tuple[Planned, ...],
    position: Position,
    reference_saddle: FloatArray,
) -> list[FloatArray] | None:
    """Return a start's poses, one for each step, or None where it lacks one that sits."""
    if start is None:
        return None
    poses = []
    for step in steps:
        known = start.at(step.case.name, position)
        if not is_known(known) or known.outcome is Outcome.SLIDES_OR_ROLLS_OFF:
            return None
        poses.append(_pose_of(known, reference_saddle))
    return poses
