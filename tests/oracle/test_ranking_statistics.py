"""Ranks and their agreement against SciPy's.

Kendall MG (1938) A new measure of rank correlation. Biometrika 30:81–93; `scipy.stats.kendalltau` (tau-b) and
`scipy.stats.rankdata` (least rank of ties).
"""

import numpy as np
import pytest
from scipy.stats import kendalltau, rankdata

from saddlebench.demo.shapes import WIDE_COB
from saddlebench.engine.choose.assess import COARSE_POINTS, FINE_POINTS, Assessed, AssessJob, assess
from saddlebench.engine.choose.cost import CostRules
from saddlebench.engine.choose.limits import HardLimits
from saddlebench.engine.choose.ranking import Tries
from saddlebench.engine.choose.settings import MARGIN
from saddlebench.engine.choose.shortlist import sieve
from saddlebench.engine.choose.variants import variants_of
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from support.choosing import small_stock, wanted_for


def test_the_quick_pass_orders_as_the_full_one_and_errs_within_its_margin() -> None:
    wanted = wanted_for(WIDE_COB)
    kept, _, _ = sieve(wanted, small_stock(), HardLimits())
    shapes = variants_of(kept, None, lambda _record, _pads: True).shapes[:24]
    job = AssessJob.of(wanted, DEFAULT_CRITERIA, CostRules())
    costs = []
    for n_points in (COARSE_POINTS, FINE_POINTS):
        found = assess(job, shapes, n_points)
        assert all(isinstance(one, Assessed) for one in found)
        costs.append(np.array([one.total for one in found if isinstance(one, Assessed)]))
    quick, full = costs
    assert kendalltau(quick, full).statistic > 0.9
    assert (quick - full).max() < MARGIN


@pytest.mark.parametrize("length", [1, 3, 7])
def test_staying_in_the_list_is_the_least_rank_within_its_length(length: int) -> None:
    rng = np.random.default_rng(2)
    costs = np.round(rng.gamma(2.0, 1.0, (9, 40)), 1)
    tries = Tries(costs={str(k): row for k, row in enumerate(costs)})
    ranks = rankdata(costs, method="min", axis=0)
    for k in range(9):
        assert tries.stays(str(k), length) == pytest.approx(np.mean(ranks[k] <= length))


def test_level_is_told_by_the_share_of_tries_in_which_one_is_better() -> None:
    low, high = np.zeros(100), np.ones(100)
    mixed = np.where(np.arange(100) < 25, -1.0, 0.5)
    tries = Tries(costs={"low": low, "high": high, "mixed": mixed})
    assert tries.level_with("low", ("low", "high", "mixed")) == ("mixed",)
    assert tries.level_with("high", ("low", "high", "mixed")) == ()
