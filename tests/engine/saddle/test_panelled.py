"""A panelled saddle from numbers: every number comes back when it is measured on the model."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, SADDLES, wider
from saddlebench.engine.saddle.face import curvature
from saddlebench.engine.saddle.grid import LEFT, RIGHT, bearing_length, front_x, side_grid
from saddlebench.engine.saddle.model import SaddleModel, Zone
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers
from saddlebench.engine.saddle.panelled import OffSide, panel_sides
from saddlebench.engine.saddle.panels import REAR, WAIST, face, front_edge_z
from saddlebench.engine.saddle.record import model_of
from saddlebench.engine.saddle.zones import Filling

MODEL = model_from_numbers(ALL_ROUND, 4000)
PANEL, TREE = ALL_ROUND.panel, ALL_ROUND.tree


def with_tree(**changes: float) -> PanelledNumbers:
    return replace(ALL_ROUND, tree=replace(TREE, **changes))


def at(behind_mm: float, across: float) -> np.ndarray:
    """A point of the near underside."""
    return face(panel_sides(ALL_ROUND)[0]).points(np.array([behind_mm]), np.array([across]))[0]


def test_arch_width_depth_and_angle_are_measured_back() -> None:
    for width, depth, angle in ((276.0, 165.0, 84.0), (231.0, 140.0, 95.0), (330.0, 150.0, 110.0)):
        model = model_from_numbers(with_tree(width_mm=width, depth_mm=depth, angle_deg=angle), 250)
        assert model.points is not None
        left, right = model.points
        top = model.arch_saddle[:, 2].max()
        assert left.end_saddle[1] - right.end_saddle[1] == pytest.approx(width, abs=1e-9)
        assert top - left.end_saddle[2] == pytest.approx(depth, abs=1e-9)
        included = np.rad2deg(np.arccos(left.upward_saddle @ right.upward_saddle))
        assert included == pytest.approx(angle, abs=1e-9)


def test_width_between_the_sides_of_the_arch_at_any_depth_of_the_points() -> None:
    half = np.deg2rad(0.5 * TREE.angle_deg)
    left = MODEL.arch_saddle[MODEL.arch_saddle[:, 1] > 0.0]
    top = MODEL.arch_saddle[:, 2].max()
    for up in (10.0, 40.0, 70.0):
        depth = TREE.depth_mm - up
        measured = 2.0 * np.interp(depth, top - left[::-1, 2], left[::-1, 1])
        # Straight points: the width falls by 2·tan(half angle) per mm upwards; 0.1 mm is a tape's tenth.
        assert measured == pytest.approx(TREE.width_mm - 2.0 * up * np.tan(half), abs=0.1)


def test_the_top_of_the_arch_stands_its_rise_above_the_roof_at_the_waist() -> None:
    assert MODEL.arch_saddle[:, 2].max() == pytest.approx(PANEL.channel_depth_mm[0] + TREE.rise_mm)
    np.testing.assert_allclose(MODEL.arch_saddle[:, 0], -TREE.behind_mm, atol=1e-12)


def test_the_panel_lies_along_the_points_one_cover_below_their_inner_face() -> None:
    assert MODEL.points is not None
    point = MODEL.points[0]
    inner, outer, middle = (at(TREE.behind_mm, across) for across in (0.0, 1.0, 0.5))
    chord = (outer - inner) / np.linalg.norm(outer - inner)
    assert abs(chord @ point.upward_saddle) == pytest.approx(1.0, abs=1e-12)
    away = middle - point.end_saddle
    off_line = np.linalg.norm(away - (away @ point.upward_saddle) * point.upward_saddle)
    assert off_line == pytest.approx(TREE.cover_mm, abs=1e-9)
    # And the panel reaches below the point's end.
    assert (outer - point.end_saddle) @ point.upward_saddle < 0.0


def test_a_flatter_front_face_turns_about_its_middle() -> None:
    flat = replace(ALL_ROUND, panel=replace(PANEL, front_flatter_deg=6.0))
    turned = face(panel_sides(flat)[0])
    d = np.array([TREE.behind_mm])
    chord = turned.points(d, np.array([1.0]))[0] - turned.points(d, np.array([0.0]))[0]
    old = at(TREE.behind_mm, 1.0) - at(TREE.behind_mm, 0.0)
    between = np.arccos(chord @ old / np.linalg.norm(chord) / np.linalg.norm(old))
    assert np.rad2deg(between) == pytest.approx(6.0, abs=1e-9)
    middle = 0.5 * (turned.points(d, np.array([1.0]))[0] + turned.points(d, np.array([0.0]))[0])
    still = 0.5 * (at(TREE.behind_mm, 1.0) + at(TREE.behind_mm, 0.0))
    # The inner edge keeps its half channel, so the chord's middle slides along the old chord's line.
    normal = np.array([0.0, old[2], -old[1]]) / np.linalg.norm(old)
    assert abs((middle - still) @ normal) < 1.5


@pytest.mark.parametrize(("place", "index"), [(WAIST, 0), (REAR, 1)])
def test_face_angles_widths_rounding_and_channel_are_measured_back(place: float, index: int) -> None:
    d = place * PANEL.length_mm
    v = np.linspace(0.0, 1.0, 2001)
    line = face(panel_sides(ALL_ROUND)[0]).points(np.full_like(v, d), v)
    chord = line[-1] - line[0]
    assert np.rad2deg(np.arctan2(-chord[2], chord[1])) == pytest.approx(PANEL.angle_deg[index], abs=1e-9)
    # The polyline of 2,000 chords is shorter than the arc by (κw)²/24·10⁻⁷ of it.
    along = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert along == pytest.approx(PANEL.width_mm[index + 1], abs=1e-5)
    normal = np.array([0.0, chord[2], -chord[1]]) / np.linalg.norm(chord)
    stands_out = ((line - line[0]) @ normal).max()
    assert stands_out == pytest.approx(PANEL.rounding_mm, abs=1e-5)
    assert 2.0 * line[0, 1] == pytest.approx(PANEL.channel_mm[index + 1], abs=1e-9)


def test_the_inner_edge_is_the_zero_of_heights_at_the_waist_and_rises_to_the_rear() -> None:
    length = PANEL.length_mm
    assert at(WAIST * length, 0.0)[2] == pytest.approx(0.0, abs=1e-12)
    swept = PANEL.tail_sweep_mm * (1.0 - 0.1 * length / 80.0) ** 3
    assert at(REAR * length, 0.0)[2] == pytest.approx(PANEL.rear_rise_mm + swept, abs=1e-9)


@pytest.mark.parametrize(("angle", "lower"), [(70.0, 7.1), (90.0, 5.0), (110.0, 3.5)])
def test_ten_mm_wider_at_the_point_ends_lowers_the_front_as_the_trade_says(
    angle: float, lower: float
) -> None:
    """Common practice: 7 / 5 / 3.5 mm at 70 / 90 / 110° included; 5 mm over the half angle's tangent."""
    base = with_tree(angle_deg=angle, width_mm=300.0)
    wide = wider(base, 10.0, "wider")
    higher_face = front_edge_z(panel_sides(wide)[0]) - front_edge_z(panel_sides(base)[0])
    # The face stands higher in the saddle, so the saddle comes to lie lower by as much.
    assert higher_face == pytest.approx(lower, abs=0.05)
    assert higher_face == pytest.approx(5.0 / np.tan(np.deg2rad(0.5 * angle)), rel=1e-12)


def test_total_area_hardly_depends_on_the_count() -> None:
    fine = MODEL.bearing.area_mm2.sum()
    for n_points in (250, 500, 1000, 2000):
        coarse = model_from_numbers(ALL_ROUND, n_points).bearing.area_mm2.sum()
        # A fourth-order rule on cells of 20 mm and panels curved over 300 mm: a few parts in a million.
        assert coarse == pytest.approx(fine, rel=2e-5)


def test_area_of_a_straight_flat_panel_is_length_times_width_less_its_corners() -> None:
    even = replace(
        PANEL,
        channel_mm=(70.0,) * 3,
        width_mm=(100.0,) * 3,
        angle_deg=(40.0, 40.0),
        rounding_mm=0.0,
        tail_sweep_mm=0.0,
        rear_rise_mm=0.0,
        front_corner_mm=0.0,
        rear_corner_mm=40.0,
    )
    # Points at 100° with their face through the inner edge at height 0 make the panel one plane.
    half = np.deg2rad(50.0)
    width = 2.0 * (
        35.0
        + TREE.cover_mm / np.cos(half)
        + (TREE.depth_mm - PANEL.channel_depth_mm[0] - TREE.rise_mm) * np.tan(half)
    )
    flat = replace(ALL_ROUND, tree=replace(TREE, angle_deg=100.0, width_mm=float(width)), panel=even)
    side = panel_sides(flat)[0]
    assert front_edge_z(side) == pytest.approx(0.0, abs=1e-9)
    got = model_from_numbers(flat, 1000).bearing
    # A corner set back by 40·|2v − 1|³ takes a quarter of 40 mm off the length on average.
    assert got.area_mm2.sum() == pytest.approx(2.0 * 100.0 * (430.0 - 10.0), rel=1e-6)
    np.testing.assert_allclose(
        got.normals_saddle[got.side == 1],
        np.tile([0.0, -np.sin(np.deg2rad(40)), -np.cos(np.deg2rad(40))], (len(got.row) // 2, 1)),
        atol=1e-9,
    )


@pytest.mark.parametrize("record", SADDLES, ids=lambda record: record.label)
def test_every_model_is_sound(record) -> None:
    model = model_of(record, 500)
    if not isinstance(model, SaddleModel):
        assert not record.family.is_rigid
        assert "not rigid" in model.reason
        return
    bearing = model.bearing
    np.testing.assert_allclose(np.linalg.norm(bearing.normals_saddle, axis=1), 1.0, atol=1e-12)
    assert (bearing.normals_saddle[:, 2] < 0.0).all()
    assert (bearing.area_mm2 > 0.0).all()
    assert (bearing.side * bearing.points_saddle[:, 1] > 0.0).all()
    assert (bearing.edge_mm > 0.0).all()
    assert (bearing.edge_mm <= bearing.outer_edge_mm + 1e-12).all()
    assert set(bearing.zone.tolist()) == {int(zone) for zone in Zone}
    assert (bearing.firmness > 0.0).all()
    assert front_x(bearing) == pytest.approx(0.0, abs=2.0)
    assert not bearing.points_saddle.flags.writeable
    assert (np.diff(model.channel.x_mm) < 0.0).all()
    assert (np.diff(model.seat.x_mm) < 0.0).all()
    assert model.seat.x_mm[-1] < model.seat.lowest_x_mm < model.seat.x_mm[0]


def test_rows_count_from_the_front_and_columns_from_the_inner_edge() -> None:
    grid = side_grid(MODEL.bearing, MODEL.bearing.points_saddle, RIGHT)
    assert (np.diff(grid[:, 5, 0]) < 0.0).all()
    assert (np.diff(grid[40, :, 1]) < 0.0).all()
    assert bearing_length(MODEL.bearing) == pytest.approx(PANEL.length_mm, abs=0.1)


def test_tails_front_rolls_and_the_outer_edge_carry_little() -> None:
    held = side_grid(MODEL.bearing, MODEL.bearing.firmness, LEFT)
    rows, columns = held.shape
    beyond = TREE.footprint.beyond
    assert held[-1, columns // 2] == pytest.approx(beyond)
    assert held[rows // 2, -1] == pytest.approx(beyond, abs=0.02)
    assert held[rows // 2, columns // 3] == pytest.approx(1.0)


def test_a_thinner_panel_is_firmer_and_a_softer_zone_softer() -> None:
    changed = replace(PANEL, thickness_mm=(15.0, 30.0, 30.0, 30.0), firmness=(1.0, 1.0, 0.5, 1.0))
    bearing = model_from_numbers(replace(ALL_ROUND, panel=changed), 2000).bearing
    held = side_grid(bearing, bearing.firmness, LEFT)
    behind = -side_grid(bearing, bearing.points_saddle, LEFT)[:, 6, 0]
    assert held[np.argmin(np.abs(behind - 60.0)), 6] == pytest.approx(2.0)
    assert held[np.argmin(np.abs(behind - 275.0)), 6] == pytest.approx(0.5, abs=0.01)


def test_filling_moves_the_underside_along_its_normals() -> None:
    even = replace(ALL_ROUND, filling_left=Filling.even((4.0, 4.0, 4.0, 4.0)))
    got, base = (model_from_numbers(one, 1000) for one in (even, ALL_ROUND))
    left = base.bearing.side == 1
    move = (got.bearing.points_saddle - base.bearing.points_saddle)[left]
    np.testing.assert_allclose(move, 4.0 * base.bearing.normals_saddle[left], atol=1e-6)
    np.testing.assert_array_equal(got.bearing.points_saddle[~left], base.bearing.points_saddle[~left])
    assert got.points is not None
    assert base.points is not None
    assert got.points[0].cover_mm == pytest.approx(base.points[0].cover_mm + 4.0)
    assert got.points[1].cover_mm == base.points[1].cover_mm


def test_differences_of_the_off_side_leave_the_near_side_alone() -> None:
    crooked = replace(ALL_ROUND, off_side=OffSide(point_out_mm=4.0, panel_drop_mm=6.0))
    got, base = (model_from_numbers(one, 500) for one in (crooked, ALL_ROUND))
    left = base.bearing.side == 1
    np.testing.assert_array_equal(got.bearing.points_saddle[left], base.bearing.points_saddle[left])
    assert got.points is not None
    assert got.points[1].end_saddle[1] == pytest.approx(-0.5 * TREE.width_mm - 4.0)


def test_curvature_of_an_arc_from_its_length_and_height() -> None:
    radius, angle = 120.0, 0.9
    length = np.array([radius * angle])
    height = np.array([radius * (1.0 - np.cos(0.5 * angle))])
    # Six fixed-point steps, each leaving (κw)²/24 = 3 % of the error here.
    np.testing.assert_allclose(curvature(height, length), 1.0 / radius, rtol=1e-7)
    np.testing.assert_allclose(curvature(-height, length), -1.0 / radius, rtol=1e-7)
