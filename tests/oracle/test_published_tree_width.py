"""What a saddle of the wrong width does, against published effects and common practice.

Source of directions and figures: Meschan EM, Peham C, Schobesberger H, Licka TF (2007) Vet J 173:578-584 (one
tree size is 2 cm): at walk the mean pressure under the rear third is 6.3 ± 1.0 kPa with the narrow tree
against 5.0 ± 0.9 with the best one; a wide tree loads the front or the middle. A wide tree with a pad under
it still loads the front more than a correct one (Utrecht 2023, conference abstract; the direction only). What
10 mm of width do to the height of the front is common practice: 7, 5 and 3.5 mm at 70, 90 and 110°.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, TOO_NARROW, TOO_WIDE
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.alter import Alteration, try_alteration
from saddlebench.engine.alter.fields import arch_field
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.loads import HALT, Rider, State
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Part, PressureKey, PressureName
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.materials import FLEECE_PAD, FOAM_PAD, GEL_PAD, PadStuff
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers
from saddlebench.engine.saddle.pads import pad_layer

NARROW_OVER_BEST = ((6.3 - 1.0) / (5.0 + 0.9), (6.3 + 1.0) / (5.0 - 0.9))
"""Rear third at walk, with both published standard deviations."""


def problem(numbers: PanelledNumbers) -> FitProblem:
    model = model_from_numbers(numbers, 1000)
    assert isinstance(model, SaddleModel)
    return FitProblem(
        surface=PLAIN.surface(),
        landmarks=PLAIN.landmarks,
        saddle=model,
        rider=Rider(mass_kg=72.0),
        cases=(HALT,),
        settings=SettleSettings(both_positions=False),
    )


@cache
def looked(which: str) -> FitStudy:
    numbers = {"best": ALL_ROUND, "narrow": TOO_NARROW, "wide": TOO_WIDE}[which]
    return try_alteration(problem(numbers), Alteration())


def number(study: FitStudy, key: MeasureKey | PressureKey) -> float:
    measure = study.put.measures.at(key)
    assert isinstance(measure, Measure)
    return measure.shown


def finding(study: FitStudy, name: FindingName) -> Finding:
    return next(one for one in study.findings if one.name is name)


def third(study: FitStudy, part: Part) -> float:
    return number(study, MeasureKey(name=MeasureName.THIRD_SHARE, state=State.RIDER_UP, part=part))


def mean_kpa(study: FitStudy, part: Part) -> float:
    return number(study, PressureKey(name=PressureName.MEAN, state=State.RIDER_UP, part=part))


def withers(study: FitStudy) -> float:
    return number(study, MeasureKey(name=MeasureName.WITHERS_TOP, state=State.GIRTHED))


def tilt(study: FitStudy) -> float:
    return number(study, MeasureKey(name=MeasureName.SEAT_TILT, state=State.RIDER_UP))


def test_too_narrow_sits_high_tips_back_and_loads_the_rear() -> None:
    best, narrow = looked("best"), looked("narrow")
    assert withers(narrow) > withers(best) + 5.0
    assert abs(tilt(narrow)) > abs(tilt(best)) + 1.0
    assert third(narrow, Part.REAR) > third(best, Part.REAR) + 2.0
    ratio = mean_kpa(narrow, Part.REAR) / mean_kpa(best, Part.REAR)
    assert ratio > 1.0
    assert NARROW_OVER_BEST[0] <= ratio <= NARROW_OVER_BEST[1]
    assert finding(narrow, FindingName.FRONT_WIDTH).as_computed is not Verdict.FINE


def test_too_wide_drops_in_front_and_loads_front_or_middle() -> None:
    best, wide = looked("best"), looked("wide")
    assert withers(wide) < withers(best) - 3.0
    assert third(wide, Part.REAR) < third(best, Part.REAR)
    ahead = [third(study, Part.FRONT) + third(study, Part.MIDDLE) for study in (best, wide)]
    assert ahead[1] > ahead[0]


def test_the_pinch_of_a_narrow_arch_lies_at_the_ends_of_its_points() -> None:
    lowest = []
    for which in ("best", "narrow"):
        study = looked(which)
        state = study.settlement.at(HALT.name)
        assert not isinstance(state, type(None))
        bearing = study.saddle.bearing
        front = bearing.zone == 0
        height = bearing.points_saddle[front, 2]
        pressure = state.pressure_kpa[front]
        lower = height < np.median(height)
        lowest.append(float(pressure[lower].mean() / pressure.mean()))
    assert lowest[1] > lowest[0]


@pytest.mark.parametrize(("stuff", "thickness"), [(FLEECE_PAD, 20.0), (FOAM_PAD, 15.0), (GEL_PAD, 15.0)])
@pytest.mark.parametrize("which", ["narrow", "wide"])
def test_a_soft_pad_does_not_mend_a_wrong_tree(stuff: PadStuff, thickness: float, which: str) -> None:
    numbers = {"narrow": TOO_NARROW, "wide": TOO_WIDE}[which]
    pad = pad_layer(stuff, (thickness,) * 4)
    padded = try_alteration(problem(numbers), replace(Alteration(), pad=pad))
    bare = looked(which)
    if which == "narrow":
        assert finding(padded, FindingName.FRONT_WIDTH).as_computed is Verdict.NOT_RIGHT
        assert abs(tilt(padded)) > 0.8 * abs(tilt(bare))
    else:
        assert third(padded, Part.FRONT) > third(looked("best"), Part.FRONT)


@pytest.mark.parametrize(("included_deg", "drop_mm"), [(70.0, 7.0), (90.0, 5.0), (110.0, 3.5)])
def test_ten_mm_wider_lets_the_front_down_by_what_its_angle_says(included_deg: float, drop_mm: float) -> None:
    half = np.deg2rad(0.5 * included_deg)
    model = problem(replace(ALL_ROUND, tree=replace(ALL_ROUND.tree, angle_deg=included_deg))).saddle
    moves = 10.0 * arch_field(model).moves
    assert model.points is not None
    front = (model.bearing.side == 1) & (model.bearing.row == 0)
    out = float(moves[front, 1].max())
    # along a flank at this angle a face that stands further out comes to bear again this much lower
    assert out / np.tan(half) == pytest.approx(drop_mm, rel=0.06)
