"""A change that is told and not named: what its accounts add up to, and what is said of it."""

from dataclasses import replace

import numpy as np
import pytest

from engine.change.test_change_naming import N, row_of_discs, scene
from saddlebench.engine.change.naming import Scene
from saddlebench.engine.change.results import Unplaced
from saddlebench.engine.change.unplaced import unplaced
from saddlebench.exchange.change_unplaced import measure_again_mm, unplaced_words
from saddlebench.exchange.readers import Language, Reader, read_by


def _beside(scores: list[float], over_mm: float, *, wide: float = -100.0) -> Scene:
    """Discs of a row that runs down a flank."""
    return replace(
        scene(scores, wide=wide), discs=replace(row_of_discs(), from_midline_mm=np.full(N, over_mm))
    )


def test_two_ways_that_are_alike_leave_the_direction_open_and_the_half_sure() -> None:
    known = unplaced(_beside([4.5, -4.5], 90.0))
    assert known.fuller == pytest.approx(0.5, abs=0.01)
    assert known.front > 0.98
    assert (known.left, known.right) == (pytest.approx(1.0), pytest.approx(0.0))
    assert known.half_mm == 1400.0
    assert {s for s, _ in known.middles_mm} == {0.0, 400.0}
    assert not known.is_wide_likely


def test_a_wide_change_that_may_lie_behind_is_known() -> None:
    assert unplaced(_beside([4.5, -4.5], 90.0, wide=100.0)).is_wide_likely


KNOWN = Unplaced(
    s_mm=123.0,
    from_midline_mm=-80.0,
    half_mm=210.0,
    fuller=0.55,
    front=0.93,
    left=0.1,
    right=0.9,
    middles_mm=((123.0, -80.0),),
    is_wide_likely=True,
)


def test_what_is_known_and_what_would_settle_it_are_said() -> None:
    assert measure_again_mm(KNOWN) == (70.0, 120.0, 170.0)
    with read_by(Reader()):
        where, wider, again = (one.replace("\u00a0", " ") for one in unplaced_words(KNOWN))
    assert where == (
        "If it is in one place, it most likely lies so: on the off (right) side (90 of 100); "
        "in the front half, before 210 mm behind the shoulder mark (93 of 100)."
    )
    assert "wide part of the back" in wider
    assert "stations at 70, 120 and 170 mm behind the shoulder mark" in again


def test_nothing_surer_than_not_is_said_to_be_so() -> None:
    open_all = replace(KNOWN, fuller=0.5, front=0.5, left=0.45, right=0.45, is_wide_likely=False)
    with read_by(Reader()):
        assert unplaced_words(open_all)[0] == "Not even its side, half or direction is surer than not."


@pytest.mark.parametrize("known", [KNOWN, replace(KNOWN, left=1.0, right=0.0, front=0.2, fuller=0.1)])
def test_all_of_it_is_told_in_german(known: Unplaced) -> None:
    with read_by(Reader(language=Language.GERMAN)):
        told = " ".join(unplaced_words(known))
    assert "most likely" not in told
    assert not {"side", "half", "record", "behind", "stations"} & set(told.replace(":", " ").split())
    assert "von 100" in told
