"""The slopes of a settled saddle against settling it again with a little more and a little less."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import EVERYDAY_NUMNAH, FLOCK_GONE_IN_FRONT, NARROW_FOR_A_COB
from saddlebench.demo.shapes import LEFT_SHOULDER, WIDE_COB, BackShape
from saddlebench.engine.alter.objective import Aimed, Lies, aimed_at, jacobian, lies
from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.alter.pressed import pressed_of
from saddlebench.engine.alter.slopes import slopes_of
from saddlebench.engine.alter.variables import Kind
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import FitMaterials, SettleSettings
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.materials import TISSUE
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers

STEP_MM = 0.05


def aimed(shape: BackShape, numbers: PanelledNumbers) -> Aimed:
    """One tissue everywhere: a point that comes over another region would jump to that region's law."""
    fit = FitProblem(
        surface=shape.surface(),
        landmarks=shape.landmarks,
        saddle=model_from_numbers(numbers, 400),
        pads=(EVERYDAY_NUMNAH,),
        rider=Rider(mass_kg=72.0),
        cases=(HALT,),
        materials=FitMaterials(tissue=(TISSUE,) * 4),
        settings=SettleSettings(both_positions=False, force_tolerance=1e-10),
    )
    found = aimed_at(fit, usual_alterations(numbers, "bent steel"), Policy())
    assert isinstance(found, Aimed)
    return found


@pytest.fixture(
    scope="module",
    params=[(LEFT_SHOULDER, FLOCK_GONE_IN_FRONT), (WIDE_COB, NARROW_FOR_A_COB)],
    ids=["unequal shoulders", "wide cob"],
)
def at_rest(request: pytest.FixtureRequest) -> tuple[Aimed, Lies]:
    aim = aimed(*request.param)
    here = lies(aim, np.zeros(len(aim.variables)))
    assert isinstance(here, Lies)
    return aim, here


def beside(aim: Aimed, here: Lies, k: int, by_mm: float) -> Lies:
    x = here.x.copy()
    x[k] += by_mm
    found = lies(aim, x, here)
    assert isinstance(found, Lies)
    return found


def test_gaps_answer_as_foretold_in_every_step(at_rest: tuple[Aimed, Lies]) -> None:
    aim, here = at_rest
    found = slopes_of(here.rig, here.states, aim.moves)
    assert not isinstance(found, Undetermined)
    bare = replace(aim, firmer=np.zeros_like(aim.firmer))
    arch = next(k for k, one in enumerate(aim.variables) if one.kind is Kind.ARCH)
    for k in (0, 7, arch):
        up, down = beside(bare, here, k, STEP_MM), beside(bare, here, k, -STEP_MM)
        for step in range(3):
            gaps = [pressed_of(one.rig, one.states[step]).gap_mm for one in (up, down)]
            differs = (gaps[0] - gaps[1]) / (2.0 * STEP_MM)
            error = np.linalg.norm(differs - found[step].gap[:, k])
            assert error < 0.02 * np.linalg.norm(differs)


def test_the_misfit_answers_to_every_variable_as_foretold(at_rest: tuple[Aimed, Lies]) -> None:
    aim, here = at_rest
    slopes = jacobian(aim, here)
    assert not isinstance(slopes, Undetermined)
    for k in range(len(aim.variables)):
        up, down = beside(aim, here, k, STEP_MM), beside(aim, here, k, -STEP_MM)
        differs = (up.residual - down.residual) / (2.0 * STEP_MM)
        # what is left: points that begin to touch or to slip within the step
        assert np.linalg.norm(differs - slopes[:, k]) < 0.006 * np.linalg.norm(differs), aim.variables[
            k
        ].words()
        of_misfit = (up.misfit - down.misfit) / (2.0 * STEP_MM)
        size = 2.0 * np.linalg.norm(here.residual) * np.linalg.norm(differs)
        assert abs(of_misfit - 2.0 * here.residual @ slopes[:, k]) < 0.005 * size
