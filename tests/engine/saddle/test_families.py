"""What is special to cut-back heads, bars, side-saddles and saddles without a rigid tree."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, BARS, CUT_BACK, FLEXIBLE, SIDE_SADDLE, TREELESS
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.bars import FRONT, MIDDLE, OffBar, bar_face
from saddlebench.engine.saddle.bars import REAR as BAR_REAR
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.saddle.numbers import family_of, model_from_numbers
from saddlebench.engine.saddle.symmetry import saddle_symmetry


def test_bars_give_back_angle_width_spread_rocker_and_crown() -> None:
    one, bar = bar_face(BARS, off=False), BARS.bar
    rises = (bar.rocker_mm[0], 0.0, bar.rocker_mm[1])
    for i, part in enumerate((FRONT, MIDDLE, BAR_REAR)):
        v = np.linspace(0.0, 1.0, 2001)
        line = one.points(np.full_like(v, part * bar.length_mm), v)
        chord = line[-1] - line[0]
        assert np.rad2deg(np.arctan2(-chord[2], chord[1])) == pytest.approx(bar.angle_deg[i], abs=1e-9)
        assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() == pytest.approx(bar.width_mm[i], abs=1e-4)
        assert 2.0 * line[0, 1] == pytest.approx(bar.spread_mm[i], abs=1e-9)
        assert line[1000, 2] == pytest.approx(rises[i], abs=1e-9)
        normal = np.array([0.0, chord[2], -chord[1]]) / np.linalg.norm(chord)
        assert ((line - line[0]) @ normal).max() == pytest.approx(bar.crown_mm, abs=1e-5)


def test_tips_stand_away_by_their_flare_and_the_middle_not_at_all() -> None:
    plain = replace(BARS, bar=replace(BARS.bar, flare_mm=(0.0, 0.0)))
    got, base = (model_from_numbers(one, 4000).bearing for one in (BARS, plain))
    away = np.einsum("ij,ij->i", base.points_saddle - got.points_saddle, base.normals_saddle)
    behind = -base.points_saddle[:, 0]
    # The foremost points lie 3 mm and more behind the tip: (1 − 3/55)³ of the flare.
    assert 0.75 * BARS.bar.flare_mm[0] < away[behind < 10.0].max() <= BARS.bar.flare_mm[0]
    assert np.abs(away[(behind > 60.0) & (behind < 400.0)]).max() < 1e-9


def test_bars_have_no_points_and_their_skirts_reach_beyond_them() -> None:
    model = model_from_numbers(BARS, 500)
    assert model.points is None
    assert model.skirts_x_mm is not None
    front, rear = model.skirts_x_mm
    assert front == BARS.skirts_mm[0]
    assert rear == -BARS.bar.length_mm - BARS.skirts_mm[1]
    assert model.panel is BARS.bar.lining


def test_a_twisted_bar_is_seen_on_the_off_side_only() -> None:
    twisted = replace(BARS, off_bar=OffBar(rear_drop_mm=5.0))
    panels = saddle_symmetry(model_from_numbers(twisted, 500)).panels
    assert not isinstance(panels, Undetermined)
    assert panels.by_zone_mm[3] > 3.0
    assert abs(panels.by_zone_mm[0]) < 1.5


def test_the_arch_of_a_cut_back_head_runs_round_the_cut() -> None:
    model = model_from_numbers(CUT_BACK, 500)
    tree, cut = CUT_BACK.base.tree, CUT_BACK.cut
    rearmost = model.arch_saddle[np.argmin(model.arch_saddle[:, 0])]
    assert -rearmost[0] == pytest.approx(tree.behind_mm + cut.depth_mm)
    assert rearmost[1] == pytest.approx(0.0, abs=1e-9)
    sides = model.arch_saddle[np.isclose(np.abs(model.arch_saddle[:, 1]), 0.5 * cut.width_mm)]
    assert len(sides) == 2
    assert sides[:, 2].max() - rearmost[2] == pytest.approx(cut.rear_lower_mm)
    assert model.channel.x_mm[0] == pytest.approx(rearmost[0])
    assert model.channel.roof_z_mm[0] == pytest.approx(rearmost[2])


def test_a_cut_back_bears_as_the_panelled_saddle_it_is_built_on() -> None:
    cut, base = model_from_numbers(CUT_BACK, 500), model_from_numbers(CUT_BACK.base, 500)
    np.testing.assert_array_equal(cut.bearing.points_saddle, base.bearing.points_saddle)


def test_a_side_saddle_has_unequal_sides_one_stirrup_and_a_balance_strap() -> None:
    model = model_from_numbers(SIDE_SADDLE, 1000)
    assert model.points is not None
    near, off = model.points
    assert near.length_mm > off.length_mm
    assert near.end_saddle[2] < off.end_saddle[2]
    bearing = model.bearing
    assert bearing.area_mm2[bearing.side == 1].sum() > bearing.area_mm2[bearing.side == -1].sum()
    np.testing.assert_array_equal(model.seat.stirrup_bar_left, model.seat.stirrup_bar_right)
    assert model.seat.stirrup_bar_left[1] > 0.0
    assert model.seat.load_y_mm == -SIDE_SADDLE.load_off_mm
    balance = model.straps[-1]
    assert balance.name == "balance strap"
    assert balance.right_saddle[1] < 0.0 < balance.left_saddle[1]
    assert isinstance(saddle_symmetry(model).points, Undetermined)
    assert len(model_from_numbers(replace(SIDE_SADDLE, balance_strap=None), 250).straps) == 2


@pytest.mark.parametrize("numbers", [TREELESS, FLEXIBLE])
def test_what_is_not_rigid_is_recorded_and_not_judged(numbers) -> None:
    answer = model_from_numbers(numbers, 500)
    assert isinstance(answer, Undetermined)
    assert "not rigid" in answer.reason
    assert "not covered by the model" in answer.reason
    assert not family_of(numbers).is_rigid


def test_families_are_named_once_each() -> None:
    held = [family_of(one) for one in (ALL_ROUND, CUT_BACK, BARS, SIDE_SADDLE, TREELESS, FLEXIBLE)]
    assert held == list(Family)
