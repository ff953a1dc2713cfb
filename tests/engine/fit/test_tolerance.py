"""How far a back may change under a saddle that is fine now."""

from math import inf

import pytest

from saddlebench.engine.back.quantities import LENGTH, WITHERS_WIDTH
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import NOT_TRIED, Finding, Judged
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Side
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.tolerance import tolerances_of
from saddlebench.engine.fit.verdicts import Limit, Verdict, at_least, at_most, either_way


def _finding(name, measure, shown, levels):
    key = MeasureKey(name=measure)
    value = Measure(shown * key.unit.in_engine, key.unit) if shown is not None else Undetermined("-")
    verdict = Verdict.CANNOT_TELL if shown is None else levels.judge(shown)
    judged = Judged(limit=Limit(measure=key, levels=levels), measure=value, verdict=verdict)
    return Finding(
        name=name,
        side=Side.BOTH,
        verdict=verdict,
        as_computed=verdict,
        decided_by=judged,
        all_judged=(judged,),
        note=None,
        confidence=NOT_TRIED,
        doubt=None,
    )


def test_a_saddle_4_mm_wide_lets_the_back_shrink_6_mm_and_grow_14():
    found = tolerances_of(
        [_finding(FindingName.FRONT_WIDTH, MeasureName.WIDTH_MISMATCH, 4.0, either_way(10, 20))]
    )
    assert (found[0].quantity, found[0].lower, found[0].upper) == (WITHERS_WIDTH, -6.0, 14.0)
    assert "width against the back" in found[0].why


def test_room_above_the_withers_goes_as_the_back_gets_narrower():
    found = tolerances_of(
        [_finding(FindingName.WITHERS_TOP, MeasureName.WITHERS_TOP, 36.0, at_least(30, 20))]
    )
    assert found[0].lower == pytest.approx(-12.0)
    assert found[0].upper == inf


def test_a_saddle_40_mm_ahead_of_the_last_rib_lets_the_back_shorten_by_40():
    found = tolerances_of([_finding(FindingName.LAST_RIB, MeasureName.PAST_LAST_RIB, -40.0, at_most(0, 20))])
    assert (found[0].quantity, found[0].lower) == (LENGTH, -40.0)


@pytest.mark.parametrize("shown", [14.0, None])
def test_what_is_not_fine_now_or_not_known_sets_no_limit(shown):
    finding = _finding(FindingName.FRONT_WIDTH, MeasureName.WIDTH_MISMATCH, shown, either_way(10, 20))
    assert tolerances_of([finding]) == ()
