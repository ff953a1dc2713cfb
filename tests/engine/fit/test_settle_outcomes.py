"""What cannot be solved or judged is said: typed outcomes and problems with cures, never NaN."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.saddles import ALL_ROUND, BARS, FELT_UNDER_BARS, TOO_LONG
from saddlebench.demo.shapes import BACK_SHAPES, PLAIN
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import InputProblemsError, Undetermined, is_known
from saddlebench.engine.fit.loads import DEFAULT_CASES, HALT, Rider, back_lifted
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import (
    Factors,
    FitMaterials,
    GirthElastic,
    Placing,
    SettleSettings,
)
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Position, Settlement
from saddlebench.engine.saddle.model import Family, SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers

HERE = SettleSettings(both_positions=False)
SADDLE = model_from_numbers(ALL_ROUND, 300)
assert isinstance(SADDLE, SaddleModel)


def fit_of(**changes: object) -> FitProblem:
    fit = FitProblem(
        surface=PLAIN.surface(),
        landmarks=PLAIN.landmarks,
        saddle=SADDLE,
        rider=Rider(mass_kg=72.0),
        cases=(HALT,),
        settings=HERE,
    )
    return replace(fit, **changes)  # type: ignore[arg-type]


def solve(**changes: object) -> Settlement:
    settlement = settle_many([fit_of(**changes)], threads=1)[0]
    for state in settlement.steps:
        assert (state.why_not is None) == (state.outcome is Outcome.SITS)
        for field in (state.gap_mm, state.pressure_kpa, state.shear_back_kpa, state.stiffness_back):
            assert np.all(np.isfinite(field))
        assert np.all(np.isfinite(state.saddle_to_back.translation_mm))
        assert np.all(state.pressure_kpa >= 0.0)
    return settlement


def problems(**changes: object) -> str:
    with pytest.raises(InputProblemsError) as raised:
        settle_many([fit_of(**changes)], threads=1)
    assert all(problem.cure for problem in raised.value.problems)
    return str(raised.value)


def test_a_saddle_far_off_the_back_lies_nowhere() -> None:
    settlement = solve(settings=replace(HERE, placing=Placing(origin_s_mm=3000.0)))
    assert [state.outcome for state in settlement.steps] == [Outcome.CANNOT_BE_JUDGED] * 3
    why = settlement.steps[0].why_not
    assert why is not None
    assert "no part of the panels" in why.reason


def test_a_saddle_half_off_the_back_cannot_be_judged_and_says_where() -> None:
    settlement = solve(settings=replace(HERE, placing=Placing(origin_s_mm=420.0)))
    judged = [state for state in settlement.steps if state.outcome is Outcome.CANNOT_BE_JUDGED]
    assert judged
    assert any("not measured" in state.why_not.reason for state in judged if state.why_not)


def test_a_saddle_longer_than_what_was_measured_cannot_be_judged() -> None:
    surface = PLAIN.surface()
    short = replace(surface, measured=surface.measured & (surface.grid.s_mm < 300.0)[:, None])
    settlement = solve(surface=short, saddle=model_from_numbers(TOO_LONG, 300))
    halt = settlement.at("halt")
    assert is_known(halt)
    assert halt.outcome is Outcome.CANNOT_BE_JUDGED
    assert halt.why_not is not None
    assert "behind the shoulder mark" in halt.why_not.reason
    assert not halt.measured.all()


def test_half_a_per_cent_of_the_load_may_lie_unmeasured() -> None:
    surface = PLAIN.surface()
    whole = solve().at("halt")
    assert is_known(whole)
    force = SADDLE.bearing.area_mm2 * whole.pressure_kpa
    s = -whole.saddle_to_back.points(SADDLE.bearing.points_saddle)[:, 0]
    shares = []
    for edge in s.max() + np.array([31.0, 16.0, 1.0, -14.0, -29.0, -60.0]):
        cut = replace(surface, measured=surface.measured & (surface.grid.s_mm < edge)[:, None])
        state = solve(surface=cut).at("halt")
        assert is_known(state)
        lost = float(np.sum(force[~state.measured]) / np.sum(force))
        assert (state.outcome is Outcome.CANNOT_BE_JUDGED) == (lost > 0.005)
        shares.append(lost)
    assert shares[0] == 0.0
    assert shares[-1] > 0.005


def test_a_saddle_narrower_than_the_spine_still_comes_to_rest_or_says_why() -> None:
    bearing = SADDLE.bearing
    squeezed = bearing.points_saddle * np.array([1.0, 0.25, 1.0])
    settlement = solve(saddle=replace(SADDLE, bearing=replace(bearing, points_saddle=squeezed)))
    assert settlement.steps[0].outcome in set(Outcome)


def test_a_treeless_saddle_is_not_judged() -> None:
    settlement = solve(saddle=replace(SADDLE, family=Family.TREELESS))
    assert {state.outcome for state in settlement.steps} == {Outcome.CANNOT_BE_JUDGED}
    why = settlement.steps[0].why_not
    assert why is not None
    assert "treeless" in why.reason


def test_a_load_high_above_the_back_goes_over_and_so_does_all_that_follows() -> None:
    high = Rider(mass_kg=95.0, load_height_mm=900.0)
    settlement = solve(rider=high, cases=DEFAULT_CASES)
    halt, trot, lifted = (settlement.at(name) for name in ("halt", "trot, peak", "back lifted"))
    assert is_known(halt)
    assert is_known(trot)
    assert is_known(lifted)
    assert halt.outcome is trot.outcome is Outcome.SLIDES_OR_ROLLS_OFF
    assert halt.why_not is not None
    assert halt.why_not.reason in ("it tips forward", "it tips back", "it rolls to the near side")
    assert trot.why_not is not None
    assert "halt" in trot.why_not.reason
    assert lifted.outcome is Outcome.SITS


def test_a_rider_far_to_one_side_goes_that_way() -> None:
    settlement = solve(rider=Rider(mass_kg=90.0, off_centre_mm=120.0, load_height_mm=200.0))
    halt = settlement.at("halt")
    assert is_known(halt)
    assert halt.outcome is Outcome.SLIDES_OR_ROLLS_OFF
    assert halt.why_not is not None
    assert "near side" in halt.why_not.reason


def test_without_a_marked_groove_only_where_it_is_put_is_solved() -> None:
    settlement = solve(landmarks=Landmarks(), settings=SettleSettings())
    assert {state.position for state in settlement.steps} == {Position.PUT}
    answer = settlement.at("halt", Position.WORKS_TO)
    assert isinstance(answer, Undetermined)
    assert "girth groove" in answer.reason


def test_without_straps_the_girth_does_nothing() -> None:
    settlement = solve(saddle=replace(SADDLE, straps=()))
    assert all(state.girth_tension_n == 0.0 for state in settlement.steps)


def test_bars_on_felt_sit() -> None:
    settlement = solve(saddle=model_from_numbers(BARS, 300), pads=(FELT_UNDER_BARS,))
    assert {state.outcome for state in settlement.steps} == {Outcome.SITS}


def test_zero_load_is_a_problem_with_a_cure() -> None:
    assert "The rider's mass is 0 kg" in problems(rider=Rider(mass_kg=0.0))
    assert "weighs 0 kg" in problems(saddle=replace(SADDLE, mass_kg=0.0))
    # without a case that puts a rider up none is needed
    assert solve(rider=Rider(mass_kg=0.0), cases=()).steps[1].outcome is Outcome.SITS


def test_all_problems_are_told_at_once() -> None:
    said = problems(
        rider=Rider(mass_kg=float("nan"), left_stirrup_share=1.5),
        cases=(HALT, HALT, replace(HALT, name="much", force_multiple=40.0), back_lifted(400.0)),
        factors=Factors(panel=-1.0),
        saddle=replace(SADDLE, mass_kg=float("nan")),
    )
    for part in (
        "mass is nan",
        "appears twice",
        "40 times",
        "400 mm",
        "factor",
        "weighs nan",
        "between 0 and 1",
    ):
        assert part in said


def test_an_empty_or_broken_underside_is_a_problem() -> None:
    nothing = {
        name: getattr(SADDLE.bearing, name)[:0]
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
    }
    assert "no bearing surface" in problems(
        saddle=replace(SADDLE, bearing=replace(SADDLE.bearing, **nothing))
    )
    broken = SADDLE.bearing.area_mm2.copy()
    broken[3] = np.nan
    assert "not usable numbers" in problems(
        saddle=replace(SADDLE, bearing=replace(SADDLE.bearing, area_mm2=broken))
    )


def test_a_back_that_is_not_numbers_is_a_problem() -> None:
    surface = PLAIN.surface()
    radius = surface.radius_mm.copy()
    radius[4, 7] = np.nan
    assert "not numbers" in problems(surface=replace(surface, radius_mm=radius))
    assert "No part of the back" in problems(
        surface=replace(surface, measured=np.zeros_like(surface.measured))
    )


def test_problems_of_every_fit_of_a_batch_are_listed() -> None:
    with pytest.raises(InputProblemsError) as raised:
        settle_many([fit_of(), fit_of(rider=Rider(mass_kg=-1.0)), fit_of(rider=Rider(mass_kg=900.0))])
    assert len(raised.value.problems) == 2


@settings(max_examples=25, deadline=None)
@given(
    back=st.sampled_from(sorted(BACK_SHAPES)),
    mass=st.floats(30.0, 150.0),
    off=st.floats(-60.0, 60.0),
    height=st.floats(0.0, 150.0),
    tissue=st.floats(0.2, 5.0),
    friction=st.floats(0.0, 2.0),
    tension=st.floats(0.0, 2.0),
    shift=st.floats(-120.0, 200.0),
)
def test_whatever_is_drawn_the_answer_is_finite_and_typed(
    back: str,
    mass: float,
    off: float,
    height: float,
    tissue: float,
    friction: float,
    tension: float,
    shift: float,
) -> None:
    shape = BACK_SHAPES[back]
    solve(
        surface=shape.surface(),
        landmarks=shape.landmarks,
        rider=Rider(mass_kg=mass, off_centre_mm=off, load_height_mm=height),
        cases=(HALT, back_lifted()),
        materials=FitMaterials(girth=GirthElastic(stiffness_n_mm=5.0)),
        factors=Factors(tissue=(tissue,) * 4, friction=friction, girth_tension=tension),
        settings=replace(HERE, placing=Placing(origin_s_mm=shift)),
    )
