"""Propagation of distributions against the worked example and the closed form.

Source
------
JCGM 101:2008, Evaluation of measurement data — Supplement 1 to the "Guide to the expression of uncertainty
in measurement" — Propagation of distributions using a Monte Carlo method. Clause 9.2 (additive model),
tables 2 and 3: symmetric 95 % coverage intervals of the sum of four standardised inputs, Gaussian
[−3.92, 3.92] and rectangular [−3.88, 3.88]. Clause 7.7.2: probabilistically symmetric interval. (Numbers from
memory of the document; both also follow from the normal and the Irwin–Hall distribution.)
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.doubt import coverage_interval, with_confidence
from saddlebench.engine.fit.findings import judge, rows_that_apply
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.influence import sources_of
from saddlebench.engine.fit.judged_states import states_of
from saddlebench.engine.fit.loads import HALT, Rider, State
from saddlebench.engine.fit.measures.batch import pair_of
from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.settle import settle
from saddlebench.engine.fit.uncertain import draw_inputs, drawn_marks
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.numbers import model_from_numbers

DRAWS = 200_000


@pytest.mark.parametrize(
    ("name", "limit"), [("gaussian", 3.92), ("rectangular", 3.88)], ids=["table 2", "table 3"]
)
def test_clause_9_2_additive_model(name, limit):
    rng = np.random.default_rng(101)
    size = (DRAWS, 4)
    inputs = rng.standard_normal(size) if name == "gaussian" else rng.uniform(-np.sqrt(3), np.sqrt(3), size)
    low, high = coverage_interval(inputs.sum(axis=1))
    # The 97.5 % point of M draws of a distribution of density f has the standard error √(p(1 − p)/M)/f, here
    # 0.012 with f ≈ 0.03; 0.05 is four of them.
    assert low == pytest.approx(-limit, abs=0.05)
    assert high == pytest.approx(limit, abs=0.05)


@pytest.fixture(scope="module")
def settled():
    """One settled pair, and where its panels end."""
    saddle = model_from_numbers(ALL_ROUND, 300)
    surface = PLAIN.surface()
    settings, rider = SettleSettings(both_positions=False), Rider(mass_kg=70.0)
    settlement = settle(surface, PLAIN.landmarks, saddle, (), rider, cases=(HALT,), settings=settings)
    past = MeasureKey(name=MeasureName.PAST_LAST_RIB, state=State.RIDER_UP)
    pair = pair_of(surface, PLAIN.landmarks, saddle, ())
    table = measure_pair(pair, states_of([settlement]), 0.15)
    rear_mm = float(table.columns[past][0]) + PLAIN.landmarks.last_rib.value_mm
    return surface, saddle, settlement, rear_mm


@pytest.mark.parametrize("ahead_mm", [25.0, 4.0], ids=["mostly fine", "near the limit"])
def test_linear_measure_of_a_normal_mark(settled, ahead_mm):
    """Bearing past the last rib is the panels' end less the mark: normal, with the mark's own error."""
    surface, saddle, settlement, rear_mm = settled
    sd, count = 20.0, 4000
    marks = replace(PLAIN.landmarks, last_rib=Mark(rear_mm + ahead_mm, sd))
    inputs = draw_inputs(count, np.random.SeedSequence(7), ())
    drawn = drawn_marks(inputs, marks)
    original = pair_of(surface, marks, saddle, ())
    pair = replace(
        original, marks={**original.marks, "last_rib": np.array([one.last_rib.value_mm for one in drawn])}
    )
    cloud = measure_pair(pair, states_of([settlement] * count), 0.15)
    past = MeasureKey(name=MeasureName.PAST_LAST_RIB, state=State.RIDER_UP)
    values = cloud.columns[past]
    law = stats.norm(-ahead_mm, sd)
    # Standard errors with 4,000 draws: of the mean sd/√M = 0.32; of the sd sd/√(2M) = 0.22; of a 2.5 % point
    # √(p(1 − p)/M)/f = 0.84; of a share at most 0.008. Each tolerance is about four of them.
    assert values.mean() == pytest.approx(law.mean(), abs=1.3)
    assert values.std() == pytest.approx(sd, abs=0.9)
    np.testing.assert_allclose(coverage_interval(values), law.ppf([0.025, 0.975]), atol=3.4)
    found = _finding(original, settlement, cloud, saddle, inputs, surface)
    # Fine needs the panels to end ahead of the mark; then no load lies past it either.
    assert found.confidence.shares[Verdict.FINE] == pytest.approx(law.cdf(0.0), abs=0.032)
    assert found.confidence.driver.source == "the last-rib mark"


def _finding(pair, settlement, cloud, saddle, inputs, surface):
    table = measure_pair(pair, states_of([settlement]), 0.15)
    rows = rows_that_apply(table, saddle, Horse(), DEFAULT_CRITERIA)
    shift = np.zeros((cloud.count, surface.grid.n_s, surface.grid.n_phi))
    sources = sources_of(inputs.names, inputs.values, surface.grid, shift, ())
    found = with_confidence(judge(table, saddle, Horse(), DEFAULT_CRITERIA), rows, cloud, sources)
    return next(one for one in found if one.name is FindingName.LAST_RIB)


def test_marks_that_were_not_felt_stay_so():
    inputs = draw_inputs(3, np.random.SeedSequence(1), ())
    assert drawn_marks(inputs, Landmarks()) == (Landmarks(),) * 3


def test_first_draws_of_a_longer_run_are_those_of_a_shorter_one():
    few = draw_inputs(10, np.random.SeedSequence(3), ())
    many = draw_inputs(50, np.random.SeedSequence(3), ())
    np.testing.assert_array_equal(few.values, many.values[:10])
