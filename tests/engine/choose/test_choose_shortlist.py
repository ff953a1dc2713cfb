"""The shortlist against the exhaustive run, and what it says of itself."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import A_SHAPED, PLAIN, WIDE_COB
from saddlebench.engine.choose import (
    Candidate,
    CostRules,
    Depth,
    HowSure,
    Shortlist,
    ShortlistSettings,
    Wanted,
    season,
    shortlist,
    takers,
)
from saddlebench.engine.choose.assess import (
    COARSE_POINTS,
    FINE_POINTS,
    Assessed,
    AssessJob,
    assess,
    first_looks,
)
from saddlebench.engine.choose.finalists import room_of
from saddlebench.engine.choose.variants import variants_of
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.numbers import TreelessNumbers
from saddlebench.exchange.chosen_words import work_of
from support.choosing import for_the_cob, small_stock, wanted_for

BRIEF = ShortlistSettings(length=5, draws=0, with_studies=False, try_fill=False)
OWN_ERRORS = ErrorsUsed(whose="Anna with a comb", times=1.4)
EXHAUSTIVE = replace(BRIEF, exhaustive=True)


@pytest.fixture(scope="module")
def cob() -> Wanted:
    return wanted_for(WIDE_COB)


@pytest.fixture(scope="module")
def quick_list(cob: Wanted) -> Shortlist:
    return shortlist(cob, small_stock(), BRIEF)


def order(found: Shortlist) -> list[tuple[str, float]]:
    return [(entry.key, entry.cost) for entry in found.entries]


def test_nothing_is_lost_against_the_exhaustive_run(cob: Wanted, quick_list: Shortlist) -> None:
    everything = shortlist(cob, small_stock(), EXHAUSTIVE)
    assert order(quick_list) == order(everything)
    assert quick_list.work.in_full < everything.work.in_full
    assert everything.work.quick == 0


def test_nothing_is_lost_on_a_measured_back_either() -> None:
    measured, few = wanted_for(WIDE_COB, with_doubt=True), small_stock(60)
    assert order(shortlist(measured, few, BRIEF)) == order(shortlist(measured, few, EXHAUSTIVE))


def test_the_saddles_made_for_the_cob_are_found_at_the_top(quick_list: Shortlist) -> None:
    assert for_the_cob(small_stock()) == {entry.key for entry in quick_list.entries[:2]}
    assert all(entry.arch_by_mm == 0.0 and entry.cost < 0.1 for entry in quick_list.entries[:2])


def test_the_order_of_the_stock_does_not_matter(cob: Wanted, quick_list: Shortlist) -> None:
    assert order(shortlist(cob, small_stock()[::-1], BRIEF)) == order(quick_list)


def test_every_saddle_is_accounted_for(quick_list: Shortlist) -> None:
    work = quick_list.work
    tried = work.candidates - len(quick_list.ruled_out) - len(quick_list.not_judged)
    assert work.candidates == len(small_stock())
    assert 0 < tried <= work.ways
    assert work.shapes == work.first >= work.quick >= work.in_full
    odd = {c.key for c in small_stock() if isinstance(c.record.numbers, TreelessNumbers)}
    assert odd <= {one.key for one in quick_list.not_judged}
    assert all(one.measured > one.allowed for one in quick_list.ruled_out)


def test_costs_rise_down_the_list_and_add_up(quick_list: Shortlist) -> None:
    costs = [entry.cost for entry in quick_list.entries]
    assert costs == sorted(costs)
    for entry in quick_list.entries:
        price = quick_list.rules.arch_set if entry.arch_by_mm else 0.0
        assert entry.cost == pytest.approx(price + sum(value for _, value in entry.counted))
        assert entry.depth is Depth.FULL


def test_saddles_with_equal_numbers_share_a_place(cob: Wanted, quick_list: Shortlist) -> None:
    best = next(one for one in small_stock() if one.key == quick_list.entries[0].key)
    twins = [
        replace(best, key=f"{best.key}-{k}", record=replace(best.record, label=f"twin {k}")) for k in (1, 2)
    ]
    found = shortlist(cob, (*twins, *small_stock()), BRIEF)
    assert found.work.shapes == quick_list.work.shapes
    assert found.entries[0].alike == (twins[0].key, twins[1].key)
    assert [entry.cost for entry in found.entries] == [entry.cost for entry in quick_list.entries]


def test_own_weights_change_the_order(cob: Wanted, quick_list: Shortlist) -> None:
    rules = CostRules(arch_set=0.0)
    free = shortlist(cob, small_stock(), replace(BRIEF, rules=rules))
    assert free.entries[-1].cost <= quick_list.entries[-1].cost
    assert order(free) != order(quick_list)


def test_stopped_in_the_quick_pass_it_says_that_it_is_partial(cob: Wanted) -> None:
    told: list[str] = []
    found = shortlist(
        cob,
        small_stock(),
        BRIEF,
        progress=lambda _done, _of, doing: told.append(doing),
        stop=lambda: told[-1].startswith("quick"),
    )
    assert not found.is_complete
    assert 0 < found.work.quick < found.work.first
    assert {entry.depth for entry in found.entries} == {Depth.QUICK}
    assert all(isinstance(entry.how_sure, Undetermined) for entry in found.entries)


def test_stopped_at_once_it_is_partial_and_empty(cob: Wanted) -> None:
    found = shortlist(cob, small_stock(), BRIEF, stop=lambda: True)
    assert not found.is_complete
    assert 0 < found.work.first < found.work.shapes
    assert found.entries == ()


def test_the_first_look_is_never_above_the_quick_pass(cob: Wanted) -> None:
    job = AssessJob.of(cob, BRIEF.criteria, BRIEF.rules)
    shapes = variants_of(small_stock(), None, lambda _record, _pads: True).shapes[::15]
    looked = []
    for first, quick in zip(first_looks(job, shapes), assess(job, shapes, COARSE_POINTS), strict=True):
        assert isinstance(first, float)
        assert isinstance(quick, Assessed)
        assert first <= quick.total + 1e-9
        looked.append(first)
    assert max(looked) > 1.0


def test_an_empty_stock_and_one_that_does_not_fit_give_empty_lists(cob: Wanted) -> None:
    assert shortlist(cob, (), BRIEF).entries == ()
    narrow = [one for one in small_stock() if "extra narrow" in one.label][:3]
    found = shortlist(cob, narrow, BRIEF)
    assert found.entries == ()
    assert len(found.ruled_out) == len(narrow)


@pytest.fixture(scope="module")
def with_doubt() -> Shortlist:
    few: tuple[Candidate, ...] = small_stock()[:40]
    settings = ShortlistSettings(length=3, draws=12, seed=4)
    wanted = replace(wanted_for(PLAIN, with_doubt=True), own_errors=OWN_ERRORS)
    return shortlist(wanted, few, settings)


def test_a_list_that_was_tried_says_whose_errors_it_goes_by(
    with_doubt: Shortlist, quick_list: Shortlist
) -> None:
    assert "1.4 times those that the instrument states" in work_of(with_doubt)[-1]
    stated = work_of(replace(with_doubt, own_errors=None))
    assert stated[-1] == "The measuring errors are those that the instrument states."
    assert not any("errors" in line for line in work_of(quick_list))


def test_each_entry_carries_findings_reasons_and_confidence(with_doubt: Shortlist) -> None:
    assert len(with_doubt.entries) == 3
    for entry in with_doubt.entries:
        assert entry.study is not None
        assert entry.study.draws == 12
        assert isinstance(entry.how_sure, HowSure)
        assert 0.0 <= entry.how_sure.stays <= 1.0
        assert 0.5 < entry.how_sure.verdicts_hold <= 1.0
        assert 0 < len(entry.speaks_for) <= 3
        assert len(entry.speaks_against) == 3
        assert all(one.verdict is Verdict.FINE for one in entry.speaks_for)
        off = {one.name for one in entry.speaks_against if room_of(one) < 0.0}
        assert not off & {one.name for one in entry.speaks_for}


def test_what_is_off_is_named_before_what_has_little_room(with_doubt: Shortlist) -> None:
    for entry in with_doubt.entries:
        worst: dict[str, float] = {}
        for name, value in entry.counted:
            worst[name] = max(value, worst.get(name, 0.0))
        told = [worst[one.name] for one in entry.speaks_against]
        assert told == sorted(told, reverse=True)
        assert told[0] == max(worst.values())


def test_level_is_mutual(with_doubt: Shortlist) -> None:
    level = {entry.key: set(entry.level_with) for entry in with_doubt.entries}
    for key, others in level.items():
        assert key not in others
        assert all(key in level[other] for other in others)


def test_changed_fill_is_in_workable_steps_and_pays(with_doubt: Shortlist) -> None:
    stock = {one.key: one for one in small_stock()}
    plain = shortlist(
        wanted_for(PLAIN, with_doubt=True),
        small_stock()[:40],
        ShortlistSettings(length=3, draws=0, with_studies=False, try_fill=False),
    )
    assert with_doubt.entries[-1].cost <= plain.entries[-1].cost
    for entry in with_doubt.entries:
        assert entry.key in stock
        if entry.fill is None:
            continue
        for filling in (entry.fill.fill_left, entry.fill.fill_right):
            steps = np.array([*filling.inner_mm, *filling.outer_mm]) / 3.0
            np.testing.assert_array_equal(steps, np.round(steps))


def test_a_season_gives_each_horse_its_own_shortlist(cob: Wanted, quick_list: Shortlist) -> None:
    horses = (replace(cob, key="1"), wanted_for(A_SHAPED, key="2"))
    lists = season(horses, small_stock(), BRIEF)
    first = next(lists)
    assert first.wanted_key == "1"
    assert order(first) == order(quick_list)
    assert [one.wanted_label for one in lists] == [A_SHAPED.name]


def test_the_horses_for_one_saddle(cob: Wanted) -> None:
    made_for_it = next(one for one in small_stock() if one.key in for_the_cob(small_stock()))
    horses = (wanted_for(PLAIN, key="1"), replace(cob, key="2"))
    found = takers(made_for_it, horses, BRIEF)
    assert found.is_complete
    assert found.takers[0].wanted_key == "2"
    assert found.takers[0].entry.rank == 1
    named = {one.wanted_label for one in found.takers} | {horse for horse, _ in found.ruled_out}
    assert named == {PLAIN.name, WIDE_COB.name}
    stopped = takers(made_for_it, horses, BRIEF, stop=lambda: True)
    assert not stopped.is_complete


def test_a_saddle_that_found_no_rest_in_the_quick_pass_counts_only_what_is_certain() -> None:
    steep = wanted_for(A_SHAPED)
    job = AssessJob.of(steep, BRIEF.criteria, BRIEF.rules)
    shapes = variants_of(small_stock(), None, lambda _record, _pads: True).shapes
    quick = [(shape, assess(job, [shape], COARSE_POINTS)[0]) for shape in shapes[170:200]]
    restless = [(s, one) for s, one in quick if isinstance(one, Assessed) and not one.sits]
    assert restless
    for shape, one in restless:
        full = assess(job, [shape], FINE_POINTS)[0]
        assert isinstance(full, Assessed)
        assert one.least < min(full.total, one.total)
    assert all(one.least == one.total for _, one in quick if isinstance(one, Assessed) and one.sits)
