"""Mirrors and rigid moves: what must not change does not, what must swap swaps."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, TWISTED
from saddlebench.demo.shapes import LEFT_SHOULDER, PLAIN
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import is_known
from saddlebench.engine.fit._kernels.energy import evaluate
from saddlebench.engine.fit._kernels.parts import Friction, Loads
from saddlebench.engine.fit.contact import kernel_back, underside
from saddlebench.engine.fit.laws import tabulated
from saddlebench.engine.fit.loads import HALT, TROT_PEAK, Rider, back_lifted
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import Factors, FitMaterials, SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settlement
from saddlebench.engine.fit.steps import new_work
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel, StrapPair
from saddlebench.engine.saddle.numbers import model_from_numbers
from support.bodies import NO_PULL

MIRROR = np.array([1.0, -1.0, 1.0])
CASES = (HALT, TROT_PEAK, back_lifted())
HERE = SettleSettings(both_positions=False)


def mirrored_back(surface: BackSurface) -> BackSurface:
    """Return the back seen in a mirror; its grid is symmetric about the midline."""
    assert surface.grid.phi == pytest.approx(-surface.grid.phi[::-1], abs=1e-12)
    radius = surface.radius_mm[:, ::-1]
    return replace(
        surface,
        radius_mm=radius,
        sd_mm=surface.sd_mm[:, ::-1],
        measured=surface.measured[:, ::-1],
        tissue=surface.tissue[:, ::-1],
        spline=PolarSpline.through(surface.grid, np.ascontiguousarray(radius)),
    )


def mirrored_saddle(saddle: SaddleModel) -> SaddleModel:
    """Return the saddle seen in a mirror, its points in the same order as before."""
    bearing, seat = saddle.bearing, saddle.seat
    return replace(
        saddle,
        bearing=replace(
            bearing,
            points_saddle=bearing.points_saddle * MIRROR,
            normals_saddle=bearing.normals_saddle * MIRROR,
            side=-bearing.side,
        ),
        straps=tuple(
            StrapPair(name=s.name, left_saddle=s.right_saddle * MIRROR, right_saddle=s.left_saddle * MIRROR)
            for s in saddle.straps
        ),
        seat=replace(
            seat,
            stirrup_bar_left=seat.stirrup_bar_right * MIRROR,
            stirrup_bar_right=seat.stirrup_bar_left * MIRROR,
            load_y_mm=-seat.load_y_mm,
        ),
        centre_of_mass_saddle=saddle.centre_of_mass_saddle * MIRROR,
    )


def mirrored_marks(marks: Landmarks) -> Landmarks:
    return replace(marks, shoulder_left=marks.shoulder_right, shoulder_right=marks.shoulder_left)


def solve(surface: BackSurface, marks: Landmarks, saddle: SaddleModel, rider: Rider) -> Settlement:
    fit = FitProblem(surface=surface, landmarks=marks, saddle=saddle, rider=rider, cases=CASES, settings=HERE)
    return settle_many([fit], threads=1)[0]


def test_a_symmetric_pair_settles_symmetrically() -> None:
    saddle = model_from_numbers(ALL_ROUND, 500)
    settlement = solve(PLAIN.surface(), PLAIN.landmarks, saddle, Rider(mass_kg=72.0))
    side = saddle.bearing.side
    left, right = np.flatnonzero(side > 0), np.flatnonzero(side < 0)
    order = np.lexsort((saddle.bearing.column[left], saddle.bearing.row[left]))
    left = left[order]
    right = right[np.lexsort((saddle.bearing.column[right], saddle.bearing.row[right]))]
    for state in settlement.steps:
        assert state.outcome is Outcome.SITS
        # rounding of 1e-13 grows with the softest direction, a thousandth of the stiffest: 1e-9 is ample
        assert state.saddle_to_back.translation_mm[1] == pytest.approx(0.0, abs=1e-8)
        assert state.pressure_kpa[left] == pytest.approx(state.pressure_kpa[right], abs=1e-8)
        assert state.gap_mm[left] == pytest.approx(state.gap_mm[right], abs=1e-8)


def test_mirroring_back_saddle_and_rider_swaps_left_and_right() -> None:
    surface, marks = LEFT_SHOULDER.surface(), LEFT_SHOULDER.landmarks
    saddle = model_from_numbers(TWISTED, 500)
    rider = Rider(mass_kg=70.0, off_centre_mm=12.0, left_stirrup_share=0.6)
    seen = solve(surface, marks, saddle, rider)
    in_mirror = solve(
        mirrored_back(surface),
        mirrored_marks(marks),
        mirrored_saddle(saddle),
        replace(rider, off_centre_mm=-12.0, left_stirrup_share=0.4),
    )
    for state, image in zip(seen.steps, in_mirror.steps, strict=True):
        assert state.outcome is image.outcome is Outcome.SITS
        assert abs(state.saddle_to_back.translation_mm[1]) > 0.01
        # the same arithmetic with signs changed: what differs is rounding, grown as above
        assert image.saddle_to_back.translation_mm == pytest.approx(
            state.saddle_to_back.translation_mm * MIRROR, abs=1e-7
        )
        assert image.pressure_kpa == pytest.approx(state.pressure_kpa, abs=1e-7)
        assert image.shear_back_kpa == pytest.approx(state.shear_back_kpa * MIRROR, abs=1e-7)


def moved_along(surface: BackSurface, marks: Landmarks, by_mm: float) -> tuple[BackSurface, Landmarks]:
    """Return back and marks all shifted to the rear."""
    grid = replace(surface.grid, s0_mm=surface.grid.s0_mm + by_mm)
    shifted = {
        name: replace(mark, value_mm=mark.value_mm + by_mm)
        for name in ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right", "girth_groove")
        if is_known(mark := getattr(marks, name)) and isinstance(mark, Mark)
    }
    moved = replace(surface, grid=grid, spline=replace(surface.spline, grid=grid))
    return moved, replace(marks, **shifted)


def test_shifting_everything_along_the_back_changes_nothing() -> None:
    surface, marks = LEFT_SHOULDER.surface(), LEFT_SHOULDER.landmarks
    saddle = model_from_numbers(ALL_ROUND, 400)
    rider = Rider(mass_kg=70.0)
    here = solve(surface, marks, saddle, rider)
    there = solve(*moved_along(surface, marks, 137.0), saddle, rider)
    for state, other in zip(here.steps, there.steps, strict=True):
        assert other.pressure_kpa == pytest.approx(state.pressure_kpa, abs=1e-7)
        assert other.saddle_to_back.translation_mm == pytest.approx(
            state.saddle_to_back.translation_mm - [137.0, 0.0, 0.0], abs=1e-7
        )


def test_another_order_of_the_points_changes_nothing() -> None:
    saddle = model_from_numbers(ALL_ROUND, 400)
    shuffled = np.random.default_rng(3).permutation(saddle.bearing.area_mm2.size)
    bearing = replace(
        saddle.bearing,
        **{
            name: getattr(saddle.bearing, name)[shuffled]
            for name in (
                "points_saddle",
                "normals_saddle",
                "area_mm2",
                "side",
                "row",
                "column",
                "zone",
                "edge_mm",
                "outer_edge_mm",
                "firmness",
            )
        },
    )
    rider = Rider(mass_kg=70.0)
    first = solve(LEFT_SHOULDER.surface(), LEFT_SHOULDER.landmarks, saddle, rider)
    second = solve(LEFT_SHOULDER.surface(), LEFT_SHOULDER.landmarks, replace(saddle, bearing=bearing), rider)
    for state, other in zip(first.steps, second.steps, strict=True):
        assert other.pressure_kpa == pytest.approx(state.pressure_kpa[shuffled], abs=1e-7)


def roll(angle: float) -> FloatArray:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])


def contact(
    surface: BackSurface, saddle: SaddleModel, pose: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Return energy, gradient and pressures of contact alone."""
    under = underside(saddle, ())
    n = under.area_n_kpa.size
    work = new_work(n, np.zeros(4, dtype=np.int64))
    gradient, hessian, extra = np.zeros(6), np.zeros((6, 6)), np.zeros((6, 6))
    free = np.zeros((n, 3))
    friction = Friction(
        stiffness=0.0,
        coefficient=0.0,
        anchor=free,
        cap=np.zeros(n),
        normal=free.copy(),
        first=free.copy(),
        first_gap=np.zeros(n),
    )
    loads = Loads(
        points=np.zeros((0, 4)),
        seat_n=0.0,
        seat_x=0.0,
        seat_y=0.0,
        seat_z=0.0,
        seat_curvature=0.001,
        seat_reach=90.0,
    )
    energy = evaluate(
        kernel_back(surface, 60.0),
        under.panels(np.full(n, 2, dtype=np.int64)),
        tabulated(under.layers.over_tissues(FitMaterials(), Factors())),
        friction,
        NO_PULL,
        loads,
        pose,
        work,
        0.0,
        gradient,
        hessian,
        extra,
    )
    return energy, gradient, work.pressure


def test_contact_does_not_know_which_way_is_up() -> None:
    """Rolling back and saddle together about the back's axis: the same pressures, forces that turn along."""
    surface = LEFT_SHOULDER.surface()
    angle = 0.37
    # a roll to positive w_x lifts the left side: every place of the back moves to a smaller φ
    grid = replace(surface.grid, phi0=surface.grid.phi0 - angle)
    rolled = replace(surface, grid=grid, spline=replace(surface.spline, grid=grid))
    saddle = model_from_numbers(ALL_ROUND, 400)
    pose = np.concatenate([np.eye(3).ravel(), [-195.0, 4.0, -118.0]])
    axis = np.array([0.0, 0.0, surface.grid.axis_z_mm])
    about = roll(angle)
    energy, gradient, pressure = contact(surface, saddle, pose)
    other_energy, other_gradient, other_pressure = contact(
        rolled, saddle, np.concatenate([about.ravel(), axis + about @ (pose[9:] - axis)])
    )
    assert pressure.max() > 5.0
    # the same splines at the same places: rounding only
    assert other_energy == pytest.approx(energy, rel=1e-11)
    assert other_pressure == pytest.approx(pressure, abs=1e-9)
    assert other_gradient[:3] == pytest.approx(about @ gradient[:3], abs=1e-8)
    assert other_gradient[3:] == pytest.approx(about @ gradient[3:], abs=1e-6)
