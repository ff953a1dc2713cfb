"""Friction over load cycles: it never gives, and without a limit it gives everything back."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import HIGH_WITHERS, PLAIN
from saddlebench.engine.back.landmarks import NOT_MARKED
from saddlebench.engine.fit.bearing_loads import case_loads, seat_curve
from saddlebench.engine.fit.contact import kernel_back, measured_nodes, tissue_under, underside
from saddlebench.engine.fit.girth import strap_anchors, straps_for
from saddlebench.engine.fit.laws import tabulated
from saddlebench.engine.fit.loads import (
    CANTER_PEAK,
    DEFAULT_CASES,
    HALT,
    LIGHT_SEAT,
    MOVING_CASES,
    PLACED,
    Rider,
)
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import FitMaterials, Grip, SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome
from saddlebench.engine.fit.steps import Planned, Reached, Rig, is_at_rest, run_step
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers
from support.bodies import bearing_of, fit_of, materials_of, pushed, rigid_body, roof_back, tiles

ROOF = np.deg2rad(55.0)


def roof_body(half_apex: float) -> SaddleModel:
    """Return two flat panels that lie flush on both faces of a roof."""
    along, across, area = tiles(400.0, 100.0, 20, 10, centre_y_mm=110.0)
    out, down = np.sin(half_apex), np.cos(half_apex)
    points = [np.stack([along, side * across * out, -across * down], axis=1) for side in (1.0, -1.0)]
    normals = [np.tile([0.0, -side * down, -out], (along.size, 1)) for side in (1.0, -1.0)]
    return rigid_body(bearing_of(np.concatenate(points), np.concatenate(normals), area))


def cycle(grip: Grip, loads_n: tuple[float, ...], *, roof: bool = False) -> list[Reached]:
    """Lay a saddle (or flat panels on a roof) on and load it in turn, each state from the one before."""
    if roof:
        surface, body = roof_back(ROOF, depth_mm=300.0, dphi_deg=0.25), roof_body(ROOF)
        fit = fit_of(surface, body, materials_of(0.6), ())
    else:
        surface, body = PLAIN.surface(), model_from_numbers(ALL_ROUND, 400)
        fit = fit_of(surface, body, FitMaterials(), (), landmarks=PLAIN.landmarks)
    fit = replace(fit, materials=replace(fit.materials, grip=grip))
    laid = settle_many([fit])[0].steps[0].saddle_to_back
    under = underside(body, ())
    pose = np.concatenate(
        [laid.rotation.ravel(), laid.rotation @ under.reference_saddle + laid.translation_mm]
    )
    tissue = tissue_under(surface, under.points @ laid.rotation.T + pose[9:])
    at = under.reference_saddle + np.array([12.0, 3.0, 30.0])
    cases = [PLACED, *(pushed(f"load {k}", (at, load_n)) for k, load_n in enumerate(loads_n))]
    curve = seat_curve(body.seat)
    loads = tuple(case_loads(body, under.reference_saddle, fit.rider, case, curve) for case in cases)
    rig = Rig(
        fit=fit,
        back=kernel_back(surface, 60.0),
        panels=under.panels(tissue),
        laws=tabulated(under.layers.over_tissues(fit.materials, fit.factors)),
        lever_mm=under.lever_mm,
        nodes=measured_nodes(surface),
        straps=straps_for(strap_anchors(body, under.reference_saddle), NOT_MARKED, fit.materials.girth),
        loads=loads,
    )
    start = Reached.laid_on(rig, pose)
    states = [run_step(rig, Planned(case=PLACED, after=-1), loads[0], start, pose, None)]
    for k, case in enumerate(cases[1:], start=1):
        planned = Planned(case=case, after=k - 1)
        states.append(run_step(rig, planned, loads[k], states[-1], states[0].pose, None))
    assert all(is_at_rest(state) for state in states)
    return states


def test_without_a_limit_friction_gives_everything_back() -> None:
    """On plane faces in full contact: nothing touches or lets go, no normal turns."""
    states = cycle(Grip(coefficient=1e6), (250.0, 700.0, 1400.0, 700.0, 250.0), roof=True)
    up, _, top, _, down = states[1:]
    assert top.pose[11] < up.pose[11] - 5.0
    # each state is solved to 1e-6 of 250–1400 N, against stiffnesses above 10 N/mm
    assert down.pose == pytest.approx(up.pose, abs=1e-3)
    assert down.work.pressure == pytest.approx(up.work.pressure, abs=1e-3)
    assert sum(state.friction_work for state in states) == 0.0


def test_a_load_cycle_costs_work_and_leaves_the_saddle_lower() -> None:
    states = cycle(Grip(), (250.0, 700.0, 1400.0, 700.0, 250.0))
    assert all(state.friction_work >= 0.0 for state in states)
    assert sum(state.friction_work for state in states) > 100.0
    # friction has turned round: it now holds the saddle down where it held it up
    assert states[5].pose[11] < states[1].pose[11] - 0.5


def test_traction_never_exceeds_the_limit_and_lies_in_the_surface() -> None:
    states = cycle(Grip(), (700.0, 1400.0, 300.0))
    for state in states[1:]:
        size = np.linalg.norm(state.fields.shear, axis=1)
        # caps follow pressure to 1e-6 of the load; a point's own share may be off by 1e-4 kPa
        assert np.all(size <= 0.35 * state.work.pressure + 1e-4)
        pressed = state.work.pressure > 0.1
        across = np.sum(state.fields.shear * state.friction.normal, axis=1)
        assert across[pressed] == pytest.approx(0.0, abs=1e-9)


def test_friction_work_is_never_negative_in_any_case() -> None:
    for shape in (PLAIN, HIGH_WITHERS):
        fit = FitProblem(
            surface=shape.surface(),
            landmarks=shape.landmarks,
            saddle=model_from_numbers(ALL_ROUND, 400),
            rider=Rider(mass_kg=72.0),
            cases=(*DEFAULT_CASES, LIGHT_SEAT, *(c for c in MOVING_CASES if c not in DEFAULT_CASES)),
        )
        for state in settle_many([fit], threads=1)[0].steps:
            assert state.solver.friction_work_n_mm >= 0.0


def test_friction_is_what_keeps_a_saddle_from_rolling() -> None:
    """Without it the same pair is unstable or nearly so: the design's own trial, here on invented shapes."""
    fit = FitProblem(
        surface=PLAIN.surface(),
        landmarks=PLAIN.landmarks,
        saddle=model_from_numbers(ALL_ROUND, 400),
        rider=Rider(mass_kg=72.0, load_height_mm=60.0),
        cases=(HALT, CANTER_PEAK),
        settings=SettleSettings(both_positions=False),
    )
    smooth = replace(fit, materials=FitMaterials(grip=Grip(coefficient=0.0)))
    with_friction, without = settle_many([fit, smooth], threads=1)
    halt = with_friction.steps[2]
    assert halt.outcome is Outcome.SITS
    assert halt.solver.softest_n_mm > halt.solver.softest_frictionless_n_mm + 1.0
    assert without.steps[2].outcome is Outcome.SLIDES_OR_ROLLS_OFF
