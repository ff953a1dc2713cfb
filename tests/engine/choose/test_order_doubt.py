"""Which of two saddles stands first: how sure that is, and what the doubt of it goes with."""

import numpy as np
import pytest

from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.choose import Shortlist, ShortlistSettings, shortlist
from saddlebench.engine.choose.order_doubt import Tried, order_doubt, order_doubts
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.saddle_error import MODE_WORDS
from saddlebench.engine.fit.uncertain import MARK_WORDS, TISSUE, Inputs, draw_inputs, with_own_saddle
from saddlebench.engine.fit.worth_repeating import SourceKind
from saddlebench.engine.frames import FloatArray
from support.choosing import small_stock, wanted_for

N = 400
RIB, CHANNEL = MARK_WORDS["last_rib"], MODE_WORDS["channel_mm"]


def inputs_of(saddle: int, count: int = N) -> Inputs:
    common = draw_inputs(count, np.random.SeedSequence(5), ())
    return with_own_saddle(common, np.random.SeedSequence(5, spawn_key=(3, saddle)))


def tried(key: str, inputs: Inputs, cost: FloatArray) -> Tried:
    return Tried(key=key, label=key.title(), cost=cost, inputs=inputs)


def pair(gap: float) -> tuple[Tried, Tried]:
    """The first costs what its own channel adds; the other more by a gap and what the last rib adds."""
    ours, theirs = inputs_of(1), inputs_of(2)
    tissue = 5.0 * ours.of(TISSUE)
    first = tried("rowan", ours, 10.0 + tissue + 0.6 * ours.of(CHANNEL))
    other = tried("sallow", theirs, 10.0 + tissue + gap + 1.0 * theirs.of(RIB))
    return first, other


def test_what_doubts_both_alike_does_not_doubt_their_order() -> None:
    found = order_doubt(*pair(0.3), ())
    assert found is not None
    shares = {one.source: one.share for one in found.sources}
    # Var = 1 (the rib) + 0.36 (the first one's channel); the softness of the back drops out.
    assert set(shares) == {RIB, f"{CHANNEL} (Rowan)"}
    assert shares[RIB] == pytest.approx(1.0 / 1.36, abs=0.06)
    assert shares[f"{CHANNEL} (Rowan)"] == pytest.approx(0.36 / 1.36, abs=0.06)
    kinds = {one.source: one.kind for one in found.sources}
    assert kinds == {RIB: SourceKind.MARK, f"{CHANNEL} (Rowan)": SourceKind.SADDLE}


def test_its_share_of_tries_is_counted_and_drawn_at_one_place() -> None:
    found = order_doubt(*pair(0.3), ())
    assert found is not None
    # Φ(0.3 / √1.36)
    assert found.agreeing == pytest.approx(0.601, abs=0.05)
    assert found.lead == pytest.approx(0.3 / np.sqrt(1.36), abs=0.13)
    for one in found.sources:
        assert (one.low + one.high) / 2.0 == pytest.approx(found.lead)


def test_a_repeat_of_the_largest_source_tells_more_often_the_nearer_it_is_to_being_told() -> None:
    near, far = (order_doubt(*pair(gap), ()) for gap in (0.1, 0.9))
    assert near is not None
    assert far is not None
    assert not isinstance(near.best, Undetermined)
    assert not isinstance(far.best, Undetermined)
    assert near.best.source == far.best.source == RIB
    assert near.best.settles < far.best.settles


def test_an_order_that_four_tries_of_five_agree_on_is_told() -> None:
    assert (found := order_doubt(*pair(2.0), ())) is not None
    assert found.is_told
    assert order_doubts(pair(2.0), ()) == ()
    assert len(order_doubts(pair(0.3), ())) == 1


def test_saddles_that_cost_the_same_or_were_tried_otherwise_are_no_rivals() -> None:
    first, _ = pair(0.3)
    assert order_doubt(first, tried("sallow", inputs_of(2), first.cost), ()) is None
    fewer = inputs_of(2, count=N - 1)
    assert order_doubt(first, tried("sallow", fewer, first.cost[1:]), ()) is None
    elsewhere = draw_inputs(N, np.random.SeedSequence(6), ())
    assert order_doubt(first, tried("sallow", elsewhere, first.cost + 1.0), ()) is None


def test_only_what_is_the_saddles_own_is_drawn_anew() -> None:
    one, two = inputs_of(1), inputs_of(2)
    assert np.array_equal(one.of(RIB), two.of(RIB))
    assert abs(float(np.corrcoef(one.of(CHANNEL), two.of(CHANNEL))[0, 1])) < 0.2
    assert np.array_equal(inputs_of(1).values, one.values)


@pytest.fixture(scope="module")
def listed() -> Shortlist:
    return shortlist(
        wanted_for(PLAIN, with_doubt=True), small_stock(40), ShortlistSettings(length=3, draws=24)
    )


def test_a_lists_first_place_is_held_against_those_level_with_it(listed: Shortlist) -> None:
    first = listed.entries[0]
    rivals = {one.other for one in listed.order_doubts}
    assert rivals
    assert rivals <= set(first.level_with)
    for one in listed.order_doubts:
        assert one.first == first.key
        assert not one.is_told
        assert 0.2 < one.agreeing < 0.8
