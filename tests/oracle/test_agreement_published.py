"""Limits of agreement, intraclass correlation and gauge studies against published examples and libraries.

Sources: Bland & Altman, Lancet i (1986) 307–310 (peak flow, 17 subjects; data as in several public
repositories; figures the paper prints for repeated readings from memory). Shrout & Fleiss, Psychol Bull 86
(1979) 420–428 (six targets, four judges; printed figures from memory, the same as pingouin's). Automotive
Industry Action Group, Measurement Systems Analysis, 4th ed. (2010), the example of ten parts, three
appraisers, three trials. Libraries: pingouin (intraclass correlation), statsmodels (analysis of variance).
"""

import numpy as np
import pandas as pd
import pingouin
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from saddlebench.engine.change.repeat.agreement import limits_of_agreement, limits_with_repeats
from saddlebench.engine.change.repeat.gauge import crossed_table, gauge_study, share_of_tolerance
from saddlebench.engine.change.repeat.icc import Form, complete_table, intraclass
from saddlebench.engine.errors import Undetermined

LARGE_1 = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427.0])
LARGE_2 = np.array([490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421.0])
MINI_1 = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451.0])
MINI_2 = np.array([525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443.0])
JUDGED = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=float
)
GAUGED = np.array(
    [
        [
            [0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36],
            [0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25],
            [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
        ],
        [
            [0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68],
            [0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62],
            [0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50],
        ],
        [
            [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
            [-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
            [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
        ],
    ]
).transpose(2, 0, 1)


def test_bland_altman_1986_first_readings():
    found = limits_of_agreement(LARGE_1, MINI_1)
    assert found.bias == pytest.approx(-2.11764705882)
    assert found.sd == pytest.approx(38.7651298736)
    assert (found.lower, found.upper) == pytest.approx((-78.0959054849, 73.8606113673), abs=1e-6)
    assert found.bias_interval == pytest.approx((-22.0488376966, 17.8135435790), abs=1e-6)


def test_bland_altman_1986_interval_of_a_limit_is_near_the_papers_approximation():
    """The paper: standard error √(3s²/n), 16.3 L/min, times t 2.12. The exact interval leans outwards."""
    found = limits_of_agreement(LARGE_1, MINI_1)
    low, high = found.upper_interval
    assert (high - low) / 2.0 == pytest.approx(2.12 * 16.28, rel=0.08)
    assert high - found.upper > found.upper - low


def test_bland_altman_1986_repeated_readings_give_37_7():
    pairs = [
        [np.array(pair) for pair in zip(one, other, strict=True)]
        for one, other in ((LARGE_1, LARGE_2), (MINI_1, MINI_2))
    ]
    assert limits_with_repeats(*pairs).sd == pytest.approx(37.7, abs=0.06)


def test_repeated_readings_agree_with_statsmodels_variance_components():
    rows = [
        {"backs": back, "method": method, "value": value}
        for method, readings in (("large", (LARGE_1, LARGE_2)), ("mini", (MINI_1, MINI_2)))
        for one in readings
        for back, value in enumerate(one)
    ]
    held = pd.DataFrame(rows)
    within = {}
    for method, part in held.groupby("method"):
        table = anova_lm(ols("value ~ C(backs)", data=part).fit())
        within[method] = table.loc["Residual", "mean_sq"]
    means = held.groupby(["backs", "method"])["value"].mean().unstack()
    expected = (means["large"] - means["mini"]).var() + 0.5 * within["large"] + 0.5 * within["mini"]
    pairs = [
        [np.array(pair) for pair in zip(one, other, strict=True)]
        for one, other in ((LARGE_1, LARGE_2), (MINI_1, MINI_2))
    ]
    assert limits_with_repeats(*pairs).sd ** 2 == pytest.approx(expected)


def test_single_readings_are_repeats_of_one():
    alone = limits_of_agreement(LARGE_1, MINI_1)
    as_repeats = limits_with_repeats([np.array([v]) for v in LARGE_1], [np.array([v]) for v in MINI_1])
    assert (as_repeats.bias, as_repeats.lower, as_repeats.upper) == pytest.approx(
        (alone.bias, alone.lower, alone.upper)
    )


@pytest.mark.parametrize("repeats", [1, 3])
def test_intervals_of_the_limits_hold_in_95_of_100_sets(repeats):
    rng = np.random.default_rng(repeats)
    sd = np.sqrt(2.0 * 1.0 + 1.5**2)
    inside = 0
    for _ in range(500):
        apart = rng.normal(0.4, 1.5, 12)
        first = [a + rng.normal(0.0, 1.0, repeats) for a in apart]
        second = [rng.normal(0.0, 1.0, repeats) for _ in apart]
        found = limits_with_repeats(first, second)
        if repeats == 1:
            found = limits_of_agreement(np.ravel(first), np.ravel(second))
        inside += found.upper_interval[0] <= 0.4 + 1.959964 * sd <= found.upper_interval[1]
    assert 0.925 <= inside / 500 <= 0.975


def test_shrout_fleiss_1979_six_forms():
    found = {one.form: one.value for one in intraclass(JUDGED)}
    assert found[Form.ONE_WAY] == pytest.approx(0.165742, abs=1e-6)
    assert found[Form.AGREEMENT] == pytest.approx(0.289764, abs=1e-6)
    assert found[Form.CONSISTENCY] == pytest.approx(0.714841, abs=1e-6)
    assert found[Form.ONE_WAY_MEAN] == pytest.approx(0.442797, abs=1e-6)
    assert found[Form.AGREEMENT_MEAN] == pytest.approx(0.620051, abs=1e-6)
    assert found[Form.CONSISTENCY_MEAN] == pytest.approx(0.909316, abs=1e-6)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # pingouin's own use of pandas
def test_pingouin_agrees_on_every_form_and_interval():
    frame = pd.DataFrame(
        [(target, judge, JUDGED[target, judge]) for target in range(6) for judge in range(4)],
        columns=["target", "judge", "value"],
    )
    theirs = pingouin.intraclass_corr(data=frame, targets="target", raters="judge", ratings="value")
    interval = next(name for name in theirs.columns if name.startswith("CI95"))
    for ours, (_, row) in zip(intraclass(JUDGED), theirs.iterrows(), strict=True):
        assert ours.value == pytest.approx(row["ICC"], abs=1e-9)
        assert (ours.low, ours.high) == pytest.approx(tuple(row[interval]), abs=0.0051)


def test_aiag_example_by_analysis_of_variance():
    found = gauge_study(GAUGED)
    assert found.is_pooled
    assert found.interaction_probability == pytest.approx(0.974, abs=5e-4)
    assert found.repeatability == pytest.approx(0.199933, abs=1e-6)
    assert found.reproducibility == pytest.approx(0.226838, abs=1e-6)
    assert found.gauge == pytest.approx(0.302372, abs=1e-6)
    assert found.parts == pytest.approx(1.042327, abs=1e-6)
    assert 100.0 * found.of_total == pytest.approx(27.86, abs=0.005)
    assert found.distinct_categories == 4


def test_aiag_example_against_a_tolerance_of_8():
    """The same ten parts with a tolerance of 8: what handbooks of statistics programs print, from memory.

    Each share is 6 standard deviations over the tolerance, in per cent.
    """
    found = gauge_study(GAUGED).against(8.0)
    assert 6.0 * found.gauge == pytest.approx(1.81423, abs=1e-5)
    assert 100.0 * found.of_tolerance == pytest.approx(22.68, abs=0.005)
    assert 100.0 * share_of_tolerance(found.repeatability, 8.0) == pytest.approx(14.99, abs=0.006)
    assert 100.0 * share_of_tolerance(found.reproducibility, 8.0) == pytest.approx(17.01, abs=0.005)
    assert 100.0 * share_of_tolerance(found.parts, 8.0) == pytest.approx(78.17, abs=0.005)
    assert 100.0 * share_of_tolerance(found.total, 8.0) == pytest.approx(81.40, abs=0.005)
    assert isinstance(found.against(None).of_tolerance, Undetermined)
    assert found.against(None) == gauge_study(GAUGED)
    with pytest.raises(ValueError, match="no width"):
        found.against(0.0)


def test_statsmodels_agrees_on_a_gauge_study_with_interaction():
    rng = np.random.default_rng(3)
    table = (
        rng.normal(0.0, 5.0, (8, 1, 1))
        + rng.normal(0.0, 2.0, (1, 3, 1))
        + rng.normal(0.0, 3.0, (8, 3, 1))
        + rng.normal(0.0, 1.0, (8, 3, 2))
    )
    frame = pd.DataFrame(
        [(p, o, table[p, o, r]) for p in range(8) for o in range(3) for r in range(2)],
        columns=["part", "operator", "value"],
    )
    squares = anova_lm(ols("value ~ C(part) * C(operator)", data=frame).fit())
    mean = squares["mean_sq"]
    crossed = mean["C(part):C(operator)"]
    found = gauge_study(table).against(40.0)
    assert not found.is_pooled
    assert found.repeatability**2 == pytest.approx(mean["Residual"])
    assert found.interaction**2 == pytest.approx((crossed - mean["Residual"]) / 2)
    assert found.parts**2 == pytest.approx((mean["C(part)"] - crossed) / 6)
    of_operators = max((mean["C(operator)"] - crossed) / 16, 0.0)
    assert found.reproducibility**2 == pytest.approx(found.interaction**2 + of_operators)
    assert found.of_tolerance == pytest.approx(6.0 * found.gauge / 40.0)


def test_what_is_missing_is_said():
    assert isinstance(limits_of_agreement(np.ones(2), np.zeros(2)), Undetermined)
    assert isinstance(intraclass(np.ones((1, 3))), Undetermined)
    assert isinstance(intraclass(np.ones((4, 3))), Undetermined)
    assert isinstance(gauge_study(GAUGED[:, :1]), Undetermined)
    assert isinstance(gauge_study(GAUGED).of_tolerance, Undetermined)
    cells = {("a", "x"): [1.0, 2.0], ("a", "y"): [1.0], ("b", "x"): [3.0]}
    assert crossed_table(cells).shape == (1, 2, 1)
    assert complete_table({("a", "x"): 1.0, ("a", "y"): 2.0, ("b", "x"): 3.0}).tolist() == [[1.0, 2.0]]
