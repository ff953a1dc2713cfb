"""Pads, re-filling, thinning, what may be altered, near against off, materials."""

import math
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import (
    ALL_ROUND,
    BADLY_FLOCKED,
    BARS,
    CUT_BACK,
    EVERYDAY_NUMNAH,
    FELT_UNDER_BARS,
    FOAM_DRESSAGE,
    PULLED_DOWN_NUMNAH,
    SIDE_SADDLE,
    TREELESS,
    TWISTED,
)
from saddlebench.engine.back.tissue import Tissue
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.alterable import (
    ARCHES,
    ArchRange,
    FillRange,
    NotAlterable,
    usual_alterations,
)
from saddlebench.engine.saddle.grid import refilled, resampled, shape_of
from saddlebench.engine.saddle.materials import (
    FELT_PAD,
    FILLS,
    FLEECE_PAD,
    PADS,
    TISSUE_BY_REGION,
    disc_pressure_kpa,
    stiffness_from_dip,
)
from saddlebench.engine.saddle.measuring import MeasuringErrors, drawn
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.pads import pad_layer, pad_over_spine, pad_thickness
from saddlebench.engine.saddle.panelled import panel_sides
from saddlebench.engine.saddle.panels import underside
from saddlebench.engine.saddle.patch import sample
from saddlebench.engine.saddle.symmetry import saddle_symmetry
from saddlebench.engine.saddle.zones import BLEND_MM, ZONE_ENDS, Filling, by_zone

MODEL = model_from_numbers(ALL_ROUND, 2000)


def test_five_kg_on_a_disc_of_fifty_mm_is_25_kpa() -> None:
    """5·9.80665 N / (π·25² mm²) = 24.97 kPa, which practice calls 25."""
    assert disc_pressure_kpa() == pytest.approx(1e3 * 5 * 9.80665 / (math.pi * 25**2), rel=1e-12)
    assert round(disc_pressure_kpa(), 2) == 24.97
    assert stiffness_from_dip(10.0) == pytest.approx(2.497, abs=5e-4)
    with pytest.raises(ValueError, match="above 0"):
        stiffness_from_dip(0.0)


def test_tissues_stand_in_the_order_of_the_regions_of_a_back() -> None:
    words = {
        Tissue.BONY_WITHERS: "withers",
        Tissue.CARTILAGE: "cartilage",
        Tissue.MUSCLE: "muscle",
        Tissue.OVER_RIBS: "ribs",
    }
    assert [words[region] in TISSUE_BY_REGION[region].name for region in Tissue] == [True] * len(Tissue)
    assert TISSUE_BY_REGION[Tissue.MUSCLE].stiffness_kpa_mm == 1.2


def test_every_material_says_what_it_rests_on_and_how_little_is_known() -> None:
    for one in (*TISSUE_BY_REGION, *FILLS.values(), *(stuff.layer(10.0) for stuff in PADS.values())):
        assert one.stiffness_kpa_mm > 0.0
        assert one.ln_sd >= 0.4
        assert one.source.startswith(("assumption", "computed"))


def test_a_pad_twice_as_thick_is_half_as_stiff() -> None:
    thin, thick = FLEECE_PAD.layer(10.0), FLEECE_PAD.layer(20.0)
    assert thin.stiffness_kpa_mm == 2.0 * thick.stiffness_kpa_mm
    assert thick.hardening_mm == 2.0 * thin.hardening_mm


def test_pad_thickness_under_points_and_over_the_spine() -> None:
    shaped = pad_layer(FELT_PAD, (12.0, 0.0, 0.0, 6.0))
    got = pad_thickness((shaped, EVERYDAY_NUMNAH), MODEL.bearing)
    behind = -MODEL.bearing.points_saddle[:, 0]
    np.testing.assert_allclose(got[behind < 60.0], 18.0)
    np.testing.assert_allclose(got[(behind > 160.0) & (behind < 290.0)], 6.0)
    np.testing.assert_allclose(got[behind > 380.0], 12.0)
    assert shaped.material.stiffness_kpa_mm == pytest.approx(FELT_PAD.modulus_kpa / 9.0)
    over = pad_over_spine((EVERYDAY_NUMNAH, PULLED_DOWN_NUMNAH), MODEL.channel, MODEL.bearing)
    np.testing.assert_allclose(over, 6.0)
    assert not pad_over_spine((FELT_UNDER_BARS,), MODEL.channel, MODEL.bearing).any()
    with pytest.raises(ValueError, match="some thickness"):
        pad_layer(FELT_PAD, (0.0, 0.0, 0.0, 0.0))


def test_zones_blend_over_seventy_mm_and_keep_their_values_between() -> None:
    behind = np.linspace(0.0, 430.0, 4301)
    got = by_zone((1.0, 5.0, 2.0, 4.0), behind, 430.0)
    for end, (before, after) in zip(ZONE_ENDS, ((1.0, 5.0), (5.0, 2.0), (2.0, 4.0)), strict=True):
        middle = end * 430.0
        assert np.interp(middle, behind, got) == pytest.approx(0.5 * (before + after), abs=1e-6)
        assert np.interp(middle - 0.5 * BLEND_MM - 1.0, behind, got) == pytest.approx(before)
        assert np.interp(middle + 0.5 * BLEND_MM + 1.0, behind, got) == pytest.approx(after)


def test_refilling_by_nothing_changes_nothing() -> None:
    same = refilled(MODEL, Filling(), Filling())
    # The patch interpolates the points; its slopes between them are a cubic's, 1e-4 of a radian at most.
    np.testing.assert_allclose(same.bearing.points_saddle, MODEL.bearing.points_saddle, atol=1e-9)
    np.testing.assert_allclose(same.bearing.normals_saddle, MODEL.bearing.normals_saddle, atol=1e-3)
    assert same.bearing.area_mm2.sum() == pytest.approx(MODEL.bearing.area_mm2.sum(), rel=1e-4)
    np.testing.assert_allclose(same.bearing.firmness, MODEL.bearing.firmness, atol=1e-12)
    np.testing.assert_array_equal(same.bearing.zone, MODEL.bearing.zone)


def test_refilling_a_model_is_the_same_as_filling_its_numbers() -> None:
    filling = Filling(inner_mm=(5.0, 0.0, -2.0, 3.0), outer_mm=(3.0, 0.0, -2.0, 3.0))
    by_model = refilled(MODEL, filling, Filling())
    filled = replace(ALL_ROUND, filling_left=filling)
    rows, columns = shape_of(MODEL.bearing)
    near, off = (sample(underside(side), rows, columns) for side in panel_sides(filled))
    by_numbers = model_from_numbers(filled, 2000)
    points = np.vstack([near.points_saddle, off.points_saddle * np.array([1.0, -1.0, 1.0])])
    normals = np.vstack([near.normals_saddle, off.normals_saddle * np.array([1.0, -1.0, 1.0])])
    # Interpolating 2,000 points costs 0.02 mm where the corners bend.
    np.testing.assert_allclose(by_model.bearing.points_saddle, points, atol=0.02)
    np.testing.assert_allclose(by_model.bearing.normals_saddle, normals, atol=3e-3)
    assert by_model.points is not None
    assert by_numbers.points is not None
    assert by_model.points[0].cover_mm == pytest.approx(by_numbers.points[0].cover_mm, abs=1e-6)


def test_thinning_keeps_the_area_and_the_shape() -> None:
    thin = resampled(MODEL, 250)
    assert abs(len(thin.bearing.row) - 250) <= 10
    assert thin.bearing.area_mm2.sum() == pytest.approx(MODEL.bearing.area_mm2.sum(), rel=2e-4)
    direct = model_from_numbers(ALL_ROUND, 250)
    assert shape_of(thin.bearing) == shape_of(direct.bearing)
    np.testing.assert_allclose(thin.bearing.points_saddle, direct.bearing.points_saddle, atol=0.1)
    # A row that stands on the border of two zones may be filed under either.
    behind = -direct.bearing.points_saddle[:, 0] / ALL_ROUND.panel.length_mm
    clear = np.min(np.abs(behind[:, None] - np.array(ZONE_ENDS)), axis=1) > 1e-3
    np.testing.assert_array_equal(thin.bearing.zone[clear], direct.bearing.zone[clear])
    assert clear.mean() > 0.9


def test_an_even_saddle_is_even_and_a_twisted_one_is_found_out() -> None:
    even = saddle_symmetry(MODEL)
    assert not isinstance(even.points, Undetermined)
    assert not isinstance(even.panels, Undetermined)
    assert even.points.distance_mm == 0.0
    assert even.panels.largest_mm == 0.0
    twisted = saddle_symmetry(model_from_numbers(TWISTED, 2000))
    assert not isinstance(twisted.points, Undetermined)
    assert not isinstance(twisted.stirrup_bars, Undetermined)
    assert not isinstance(twisted.panels, Undetermined)
    assert twisted.points.outward_mm == pytest.approx(TWISTED.off_side.point_out_mm)
    assert twisted.stirrup_bars.forward_mm == pytest.approx(-7.0)
    assert twisted.stirrup_bars.distance_mm == pytest.approx(7.0)
    # Lower by 9 mm at 90 % of the length, seen along a face that lies at some 44°: cos 44° of it.
    assert twisted.panels.by_zone_mm[3] == pytest.approx(9.0 * math.cos(math.radians(44.0)), abs=1.0)


def test_a_dent_near_in_front_is_found_where_it_is() -> None:
    panels = saddle_symmetry(model_from_numbers(BADLY_FLOCKED, 4000)).panels
    assert not isinstance(panels, Undetermined)
    # Near is dented by 9 mm 75 mm behind the front edge, so off stands out more there.
    assert panels.largest_mm == pytest.approx(9.0, abs=0.3)
    assert panels.behind_mm == pytest.approx(75.0, abs=6.0)


def test_wool_is_flocked_foam_and_bars_are_not_and_each_says_why() -> None:
    wool = usual_alterations(ALL_ROUND, "bent steel")
    assert isinstance(wool.fill_left, FillRange)
    assert isinstance(wool.arch, ArchRange)
    assert wool.reasons == ()
    foam = usual_alterations(FOAM_DRESSAGE, "moulded")
    assert isinstance(foam.fill_left, NotAlterable)
    assert any("foam" in reason for reason in foam.reasons)
    assert any("builder" in reason for reason in foam.reasons)
    assert "bars have no flock" in usual_alterations(BARS).reasons
    assert isinstance(usual_alterations(TREELESS).arch, NotAlterable)
    assert isinstance(usual_alterations(SIDE_SADDLE).fill_right, FillRange)


def test_a_cracked_arch_is_never_set() -> None:
    cracked = ARCHES["cracked or riveted"]
    assert isinstance(cracked, NotAlterable)
    assert "never" in cracked.reason


def test_a_narrow_panel_is_not_filled_by_halves() -> None:
    narrow = replace(ALL_ROUND, panel=replace(ALL_ROUND.panel, width_mm=(150.0, 65.0, 120.0)))
    fill = usual_alterations(narrow).fill_left
    assert isinstance(fill, FillRange)
    assert fill.halves_apart == (True, False, False, True)


@pytest.mark.parametrize("numbers", [ALL_ROUND, CUT_BACK, BARS, SIDE_SADDLE], ids=lambda one: one.label)
def test_drawn_numbers_make_models_on_one_grid_and_the_seed_decides_them(numbers: RigidNumbers) -> None:
    one, again, other = (drawn(numbers, np.random.default_rng(seed)) for seed in (3, 3, 4))
    assert one == again
    assert one != other
    grid = shape_of(model_from_numbers(numbers, 500).bearing)
    held = [model_from_numbers(each, grid) for each in (one, other)]
    assert [shape_of(model.bearing) for model in held] == [grid, grid]
    moved = np.linalg.norm(held[0].bearing.points_saddle - held[1].bearing.points_saddle, axis=1)
    assert 0.5 < moved.mean() < 25.0


def test_drawn_tree_widths_have_the_tape_s_spread() -> None:
    generator = np.random.default_rng(11)
    widths = [drawn(ALL_ROUND, generator).tree.width_mm for _ in range(400)]
    # Standard errors of mean and spread of 400 draws: 0.1 and 0.07 mm; three of them.
    assert np.mean(widths) == pytest.approx(ALL_ROUND.tree.width_mm, abs=0.3)
    assert np.std(widths) == pytest.approx(MeasuringErrors().tree_width_mm, abs=0.22)
