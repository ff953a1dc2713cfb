"""What a saddle costs: the rule at its edges, and the directions that a fitter expects."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.cutting import panelled_for
from saddlebench.demo.saddles import (
    ALL_ROUND,
    BADLY_FLOCKED,
    CURVED_ON_A_RISE,
    EVERYDAY_NUMNAH,
    TOO_LONG,
    TOO_NARROW,
    TOO_WIDE,
    TWISTED,
)
from saddlebench.demo.shapes import PLAIN, ROACH, BackShape
from saddlebench.engine.choose import CostRules
from saddlebench.engine.choose.assess import COARSE_POINTS, FINE_POINTS, Assessed, AssessJob, assess
from saddlebench.engine.choose.cost import how_far_off
from saddlebench.engine.choose.variants import Shape
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.verdicts import Levels, at_least, at_most, either_way
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from support.choosing import wanted_for

OPEN_BAND = Levels(fine=(40.0, 75.0), borderline=(-np.inf, np.inf))


@pytest.mark.parametrize(
    ("levels", "shown", "off"),
    [
        (at_least(30.0, 20.0), (45.0, 30.0, 25.0, 20.0, 10.0), (0.0, 0.0, 0.5, 1.0, 2.0)),
        (at_most(10.0, 20.0), (0.0, 10.0, 15.0, 20.0, 40.0), (0.0, 0.0, 0.5, 1.0, 3.0)),
        (either_way(5.0, 10.0), (-10.0, -7.5, 0.0, 7.5, 15.0), (1.0, 0.5, 0.0, 0.5, 2.0)),
        (at_most(1.0, 1.0), (0.5, 1.0, 1.5, 3.0), (0.0, 0.0, 0.5, 2.0)),
        # an open band: never more than 1, reached half the fine range on
        (
            Levels(fine=(40.0, 75.0), borderline=(-np.inf, np.inf)),
            (60.0, 22.5, 0.0, 500.0),
            (0.0, 1.0, 1.0, 1.0),
        ),
    ],
)
def test_a_finding_counts_by_how_far_it_is_off(
    levels: Levels, shown: tuple[float, ...], off: tuple[float, ...]
) -> None:
    np.testing.assert_allclose(how_far_off(levels, np.array(shown)), off, atol=1e-12)


@settings(max_examples=60, derandomize=True)
@given(low=st.floats(-50, 50), fine=st.floats(1, 40), band=st.floats(1, 30), shown=st.floats(-300, 300))
def test_it_counts_nothing_just_where_the_verdict_is_fine(
    low: float, fine: float, band: float, shown: float
) -> None:
    levels = Levels(fine=(low, low + fine), borderline=(low - band, low + fine + band))
    off = float(how_far_off(levels, np.array([shown]))[0])
    verdict = levels.judge(shown)
    assert (off == 0.0) == (verdict.value == "fine")
    assert (off > 1.0 + 1e-9) <= (verdict.value == "not right")
    step = 1e-6
    assert abs(float(how_far_off(levels, np.array([shown + step]))[0]) - off) <= step / band + 1e-12


def cost_of(
    numbers: PanelledNumbers,
    rules: CostRules | None = None,
    n_points: int = COARSE_POINTS,
    back: BackShape = PLAIN,
) -> Assessed:
    record = SaddleRecord(label="x", numbers=numbers, alterable=usual_alterations(numbers))
    job = AssessJob.of(wanted_for(back), DEFAULT_CRITERIA, rules or CostRules())
    (found,) = assess(job, [Shape(record=record, pads=(EVERYDAY_NUMNAH,))], n_points)
    assert isinstance(found, Assessed)
    return found


@pytest.mark.parametrize(
    ("back", "faulty", "tells"),
    [
        (PLAIN, TOO_NARROW, {FindingName.FRONT_WIDTH, FindingName.SEAT_TILT}),
        (PLAIN, TOO_WIDE, {FindingName.FRONT_WIDTH}),
        (PLAIN, TOO_LONG, {FindingName.LAST_RIB}),
        (PLAIN, TWISTED, {FindingName.SADDLE_EQUAL}),
        (ROACH, CURVED_ON_A_RISE, {FindingName.ROCKING}),
    ],
)
def test_a_fault_costs_more_and_by_its_own_finding(
    back: BackShape, faulty: PanelledNumbers, tells: set[FindingName]
) -> None:
    # directions taught to fitters (common practice)
    good, bad = cost_of(panelled_for(back, "made for it"), back=back), cost_of(faulty, back=back)
    assert bad.total > good.total
    worse = {name for (name, one), (_, other) in zip(bad.counted, good.counted, strict=True) if one > other}
    assert worse >= tells


def test_the_sum_is_the_sum_of_what_the_findings_count() -> None:
    found = cost_of(BADLY_FLOCKED)
    assert found.total == pytest.approx(sum(value for _, value in found.counted), abs=1e-12)
    assert all(value >= 0.0 for _, value in found.counted)


def test_own_weights_are_used() -> None:
    usual = cost_of(TOO_NARROW)
    only_width = cost_of(TOO_NARROW, CostRules(weights={FindingName.FRONT_WIDTH: 4.0}))
    ((name, counts),) = only_width.counted
    assert name is FindingName.FRONT_WIDTH
    assert counts == pytest.approx(2.0 * dict(usual.counted)[FindingName.FRONT_WIDTH], rel=1e-9)


def test_the_quick_pass_comes_close_to_the_full_one() -> None:
    for numbers in (ALL_ROUND, TOO_NARROW, TOO_WIDE, BADLY_FLOCKED):
        assert abs(cost_of(numbers).total - cost_of(numbers, n_points=FINE_POINTS).total) < 1.0
