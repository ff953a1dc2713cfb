"""What an alteration does, and the plan as a whole: limits, policies, families, replica, bedding."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import (
    ALL_ROUND,
    BADLY_FLOCKED,
    BARS,
    EVERYDAY_NUMNAH,
    FLOCK_GONE_IN_FRONT,
    FOAM_DRESSAGE,
    NARROW_FOR_A_COB,
    ROCKING,
    TREELESS,
)
from saddlebench.demo.shapes import FORWARD_GIRTH, LEFT_SHOULDER, PLAIN, WIDE_COB, BackShape
from saddlebench.engine.alter import (
    Aim,
    Alteration,
    AlterationPlan,
    Place,
    Policy,
    QuickPlan,
    ReplicaCheck,
    Shim,
    ShimPlace,
    Turn,
    altered,
    hand_plan,
    on_replica,
    plan_alteration,
    quick_plan,
    try_alteration,
)
from saddlebench.engine.alter import fields as coupling
from saddlebench.engine.alter.bedding import bedding_of, bench_alteration
from saddlebench.engine.alter.outcome import off_count
from saddlebench.engine.errors import InputProblemsError, Undetermined
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.grid import refilled
from saddlebench.engine.saddle.model import SaddleModel, Zone
from saddlebench.engine.saddle.numbers import SaddleNumbers, model_from_numbers
from saddlebench.engine.saddle.zones import Filling


def fit_of(shape: BackShape, numbers: SaddleNumbers, n_points: int = 600) -> FitProblem:
    model = model_from_numbers(numbers, n_points)
    assert isinstance(model, SaddleModel)
    return FitProblem(
        surface=shape.surface(),
        landmarks=shape.landmarks,
        saddle=model,
        pads=(EVERYDAY_NUMNAH,),
        rider=Rider(mass_kg=72.0),
        cases=(HALT,),
        settings=SettleSettings(both_positions=False),
    )


def planned(
    shape: BackShape, numbers: SaddleNumbers, policy: Policy | None = None, arch: str = "bent steel"
) -> AlterationPlan:
    found = plan_alteration(fit_of(shape, numbers), usual_alterations(numbers, arch), policy)
    assert isinstance(found, AlterationPlan)
    return found


@pytest.fixture(scope="module")
def larch() -> AlterationPlan:
    return planned(LEFT_SHOULDER, FLOCK_GONE_IN_FRONT)


def test_wool_moves_the_underside_as_the_slow_way_does(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coupling, "ROUNDER", 0.0)
    model = model_from_numbers(BADLY_FLOCKED, 2000)
    assert isinstance(model, SaddleModel)
    left = Filling.even((6.0, 0.0, -4.0, 0.0))
    right = Filling(inner_mm=(0.0, 0.0, 3.0, 5.0), outer_mm=(0.0, 0.0, 5.0, 9.0))
    slow = refilled(model, left, right)
    quick = altered(model, Alteration(fill_left=left, fill_right=right))
    assert quick.bearing.points_saddle == pytest.approx(slow.bearing.points_saddle, abs=0.05)
    cosine = np.sum(quick.bearing.normals_saddle * slow.bearing.normals_saddle, axis=1)
    assert np.rad2deg(np.arccos(np.clip(cosine, -1.0, 1.0))).max() < 1.5
    assert quick.bearing.area_mm2 == pytest.approx(slow.bearing.area_mm2, rel=0.03)
    assert quick.points is not None
    assert slow.points is not None
    assert quick.points[0].cover_mm == pytest.approx(slow.points[0].cover_mm, abs=0.01)


def test_more_wool_is_firmer_rounder_and_narrows_the_channel() -> None:
    model = model_from_numbers(ALL_ROUND, 600)
    assert isinstance(model, SaddleModel)
    filled = altered(model, Alteration(fill_left=Filling.even((0.0, 8.0, 8.0, 0.0))))
    near = (model.bearing.side == 1) & (model.bearing.zone == Zone.SEAT)
    rise = np.linalg.norm(filled.bearing.points_saddle - model.bearing.points_saddle, axis=1)
    columns = int(model.bearing.column.max()) + 1
    middle, edge = model.bearing.column == columns // 2, model.bearing.column == 0
    assert rise[near & middle].mean() > rise[near & edge].mean() + 0.5
    assert np.all(filled.bearing.firmness[near] > 1.1 * model.bearing.firmness[near])
    assert filled.channel.half_width_left_mm.min() < model.channel.half_width_left_mm.min() - 0.5
    assert np.array_equal(filled.channel.half_width_right_mm, model.channel.half_width_right_mm)
    off = model.bearing.side == -1
    assert np.array_equal(filled.bearing.points_saddle[off], model.bearing.points_saddle[off])


def test_a_badly_flocked_saddle_is_bettered_and_nothing_made_worse(larch: AlterationPlan) -> None:
    turns = [change.turn for change in larch.changes]
    assert turns.count(Turn.BETTER) >= 3
    assert Turn.WORSE not in turns
    assert larch.misfit_after < 0.6 * larch.misfit_before
    assert larch.misfit_free < 1.1 * larch.misfit_after


def test_a_saddle_and_a_back_alike_on_both_sides_get_the_same_near_and_off() -> None:
    plan = planned(PLAIN, ROCKING)
    assert not plan.alteration.is_nothing
    assert plan.alteration.fill_left == plan.alteration.fill_right


def test_a_saddle_that_fits_is_left_alone() -> None:
    plan = planned(PLAIN, ALL_ROUND)
    assert plan.alteration.is_nothing
    assert plan.after is plan.before


def test_where_nothing_allowed_is_enough_the_limit_is_named() -> None:
    plan = planned(WIDE_COB, NARROW_FOR_A_COB, arch="moulded")
    assert plan.alteration.arch_mm == 0.0
    assert plan.not_reached
    named = {one.what: one.limit for one in plan.binding}
    assert "builder" in named["front arch"]
    assert any("less at most" in limit for limit in named.values())
    opened = planned(WIDE_COB, NARROW_FOR_A_COB)
    assert opened.alteration.arch_mm > 0.0
    assert opened.misfit_after < plan.misfit_after


def test_foam_gets_shims_bars_get_them_removable_and_treeless_nothing() -> None:
    foam = planned(PLAIN, FOAM_DRESSAGE)
    assert foam.alteration.fill_left.is_nothing
    assert foam.alteration.shims
    assert all(shim.place is ShimPlace.UNDER_TREE for shim in foam.alteration.shims)
    assert all(shim.thickness_mm in (3.0, 5.0, 6.0) for shim in foam.alteration.shims)
    bars = planned(PLAIN, BARS)
    assert bars.alteration.fill_left.is_nothing
    assert all(shim.place is ShimPlace.IN_PAD for shim in bars.alteration.shims)
    assert isinstance(model_from_numbers(TREELESS, 600), Undetermined)


def test_the_smaller_shoulder_gets_something_removable_and_no_wool_in_front() -> None:
    plan = planned(LEFT_SHOULDER, FLOCK_GONE_IN_FRONT, Policy(aim=Aim.BIGGER_SHOULDER))
    assert plan.alteration.fill_right.inner_mm[0] == plan.alteration.fill_right.outer_mm[0] == 0.0
    assert all(not shim.on_left and shim.place is ShimPlace.IN_PAD for shim in plan.alteration.shims)


def test_room_is_left_where_the_fitter_says() -> None:
    hollow = Policy(aim=Aim.LEAVE_ROOM, room_over=(Place(on_left=True, zone=Zone.FRONT),))
    spared = planned(PLAIN, BADLY_FLOCKED, hollow)
    even = planned(PLAIN, BADLY_FLOCKED)

    def near_front(plan: AlterationPlan) -> float:
        return plan.alteration.fill_left.inner_mm[0] + plan.alteration.fill_left.outer_mm[0]

    assert near_front(spared) < near_front(even)


def test_straps_are_changed_only_where_that_leaves_fewer_findings_off() -> None:
    plan = planned(FORWARD_GIRTH, ALL_ROUND)
    kept = planned(FORWARD_GIRTH, ALL_ROUND, Policy(straps=False))
    assert kept.alteration.straps is None
    if plan.alteration.straps is not None:
        assert plan.alteration.straps[0] == "point strap"
        assert off_count(plan.after) < off_count(kept.after)
    else:
        assert plan.alteration == kept.alteration


def test_by_hand_is_looked_at_like_a_plan(larch: AlterationPlan) -> None:
    fit = fit_of(LEFT_SHOULDER, FLOCK_GONE_IN_FRONT)
    same = hand_plan(fit, larch.alteration)
    assert isinstance(same, AlterationPlan)
    assert [change.after.as_computed for change in same.changes] == [
        change.after.as_computed for change in larch.changes
    ]
    assert same.misfit_before == pytest.approx(larch.misfit_before, rel=0.02)
    with pytest.raises(InputProblemsError, match="no girth strap called"):
        hand_plan(fit, replace(larch.alteration, straps=("wither strap",)))


def test_the_quick_plan_foretells_the_slow_ones_misfit(larch: AlterationPlan) -> None:
    found = quick_plan(
        fit_of(LEFT_SHOULDER, FLOCK_GONE_IN_FRONT, 300), usual_alterations(FLOCK_GONE_IN_FRONT, "bent steel")
    )
    assert isinstance(found, QuickPlan)
    assert found.misfit_before == pytest.approx(larch.misfit_before, rel=0.15)
    assert found.misfit_after == pytest.approx(larch.misfit_free, rel=0.25)


def test_a_shim_in_the_pad_is_pressed_thinner_by_what_it_is_made_of() -> None:
    thick = [
        Shim(on_left=True, zone=Zone.FRONT, thickness_mm=10.0, stuff=stuff, place=ShimPlace.IN_PAD).pressed_mm
        for stuff in ("felt", "gel", "foam")
    ]
    assert 10.0 > thick[0] > thick[1] > thick[2] >= 4.0


def test_on_the_hard_replica_a_curved_saddle_shows_its_ends_and_rocks() -> None:
    straight, curved = on_replica(fit_of(PLAIN, ALL_ROUND)), on_replica(fit_of(PLAIN, ROCKING))
    assert isinstance(straight, ReplicaCheck)
    assert isinstance(curved, ReplicaCheck)
    ends = [gap.widest_mm for gap in curved.gaps if gap.zone in (Zone.FRONT, Zone.REAR)]
    assert min(ends) > 4.0
    assert max(gap.widest_mm for gap in straight.gaps) < 2.0
    assert isinstance(straight.rock_mm, float)
    assert isinstance(curved.rock_mm, float)
    assert curved.rock_mm > 3.0 * straight.rock_mm


def test_new_flock_leaves_the_bench_thicker_and_lets_the_front_down() -> None:
    fit = fit_of(PLAIN, ALL_ROUND)
    wanted = Alteration(fill_left=Filling.even((6.0, 0, 0, -4.0)), fill_right=Filling.even((6.0, 0, 0, -4.0)))
    bench = bench_alteration(wanted)
    assert bench.fill_left.inner_mm == pytest.approx((6.0 / 0.85, 0.0, 0.0, -4.0))
    told = bedding_of(wanted, lambda change: try_alteration(fit, change))
    assert not isinstance(told, Undetermined)
    withers = told[0]
    assert isinstance(withers.new, float)
    assert isinstance(withers.least_lost, float)
    assert isinstance(withers.most_lost, float)
    assert withers.new > withers.least_lost > withers.most_lost
    assert isinstance(bedding_of(Alteration(), lambda change: try_alteration(fit, change)), Undetermined)
