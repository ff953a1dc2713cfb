"""What is drawn beside the back: each input moves what it says, by the size it says, and nothing else."""

import numpy as np
import pytest
from simple_pairs import MARKS, plain_saddle

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.fit.measures.batch import STRIDE_MM
from saddlebench.engine.fit.saddle_error import MODE_WORDS, MODES, error_sizes, perturbed
from saddlebench.engine.fit.settings import FitMaterials
from saddlebench.engine.fit.uncertain import (
    GIRTH_TENSION,
    draw_inputs,
    drawn_factors,
    drawn_marks,
    drawn_pads,
    drawn_saddle_errors,
    drawn_stride,
)
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.shape_error import SaddleError

SADDLE = plain_saddle()
PAD = PadLayer(
    name="felt",
    thickness_mm=(8.0, 8.0, 6.0, 6.0),
    material=Material(name="felt", stiffness_kpa_mm=5.0, ln_sd=0.3, source="assumption"),
)
COUNT = 20_000
INPUTS = draw_inputs(COUNT, np.random.SeedSequence(4), (PAD,))
TIGHT = 4.0 / np.sqrt(2.0 * COUNT)
"""Four relative standard errors of a standard deviation from this many draws."""


def moved(mode, by):
    errors = np.zeros((1, len(MODES)))
    errors[0, MODES.index(mode)] = by
    return perturbed(SADDLE, errors)[0]


def shift(saddle):
    return saddle.bearing.points_saddle - SADDLE.bearing.points_saddle


def test_no_error_leaves_the_saddle_as_it_is():
    same = perturbed(SADDLE, np.zeros((1, len(MODES))))[0]
    assert np.all(shift(same) == 0.0)
    np.testing.assert_array_equal(same.arch_saddle, SADDLE.arch_saddle)
    np.testing.assert_array_equal(same.channel.roof_z_mm, SADDLE.channel.roof_z_mm)


def test_arch_width_is_that_between_the_point_ends():
    wider = moved("arch_width_mm", 6.0)
    ends = [point.end_saddle[1] for point in wider.points]
    assert ends[0] - ends[1] == pytest.approx(180.0 + 6.0)
    assert np.all(shift(wider)[SADDLE.bearing.row > 20] == 0.0)


def test_heights_move_their_own_end():
    t = (SADDLE.bearing.row + 0.5) / 40.0
    np.testing.assert_allclose(shift(moved("front_height_mm", 2.0))[:, 2], 2.0 * (1 - t) ** 2)
    np.testing.assert_allclose(shift(moved("rear_height_mm", 2.0))[:, 2], 2.0 * t**2)
    np.testing.assert_allclose(shift(moved("rocker_mm", 2.0))[:, 2], 8.0 * t * (1 - t))


def test_twist_is_opposite_near_and_off():
    dz = shift(moved("twist_mm", 4.0))[:, 2]
    side = SADDLE.bearing.side
    np.testing.assert_allclose(dz[side > 0], -dz[side < 0])
    assert dz.max() == pytest.approx(2.0, rel=0.02)  # half of it at the last row, 5 mm inside the end


def test_face_angle_turns_both_faces_alike():
    dz = shift(moved("face_angle", 0.02))[:, 2]
    outer = SADDLE.bearing.column == 5
    inner = SADDLE.bearing.column == 0
    np.testing.assert_allclose(dz[inner] - dz[outer], 0.02 * 50.0)


def test_channel_and_roof():
    wider = moved("channel_mm", 5.0).channel
    np.testing.assert_allclose(wider.half_width_left_mm + wider.half_width_right_mm, 85.0)
    higher = moved("roof_mm", 3.0)
    np.testing.assert_allclose(higher.channel.roof_z_mm, 48.0)
    assert higher.arch_saddle[:, 2].max() == pytest.approx(53.0)


def test_every_mode_has_words_and_a_size():
    assert set(MODE_WORDS) == set(MODES)
    assert all(size > 0.0 for size in error_sizes(SaddleError()))


def test_drawn_sizes_are_the_stated_ones():
    errors = drawn_saddle_errors(INPUTS, SaddleError())
    np.testing.assert_allclose(errors.std(axis=0), error_sizes(SaddleError()), rtol=TIGHT)
    marks = drawn_marks(INPUTS, MARKS)
    last_rib = np.array([one.last_rib.value_mm for one in marks])
    assert last_rib.std() == pytest.approx(20.0, rel=TIGHT)
    assert last_rib.mean() == pytest.approx(500.0, abs=4.0 * 20.0 / np.sqrt(COUNT))
    factors = drawn_factors(INPUTS, FitMaterials(), SADDLE, (PAD,))
    muscle = np.log([one.tissue[2] for one in factors])
    # A common spread of 0.45 and a regional one of 0.2, independent: √(0.45² + 0.2²).
    assert muscle.std() == pytest.approx(np.hypot(0.45, 0.2), rel=TIGHT)
    ribs = np.log([one.tissue[3] for one in factors])
    assert np.std(muscle - ribs) == pytest.approx(0.2 * np.sqrt(2.0), rel=TIGHT)
    pad = np.log([one.pads[0] for one in factors])
    assert pad.std() == pytest.approx(0.3, rel=TIGHT)
    thickness = np.log([pads[0].thickness_mm[0] / 8.0 for pads in drawn_pads(INPUTS, (PAD,), 0.1)])
    assert thickness.std() == pytest.approx(0.1, rel=TIGHT)


def test_girth_tension_never_vanishes():
    factors = drawn_factors(INPUTS, FitMaterials(), SADDLE, (PAD,))
    tension = np.array([one.girth_tension for one in factors])
    assert tension.min() > 0.0
    above = INPUTS.of(GIRTH_TENSION) > -3.0
    np.testing.assert_allclose(tension[above], 1.0 + 30.0 / 120.0 * INPUTS.of(GIRTH_TENSION)[above])


def test_stride_is_even_between_its_teaching_values():
    stride = drawn_stride(INPUTS)
    low, high = STRIDE_MM
    assert low < stride.min() < stride.max() < high
    # Quantiles of an even distribution; the logistic form of Φ is off by up to 1 %, sampling by 0.4 %.
    np.testing.assert_allclose(
        np.quantile(stride, [0.25, 0.5, 0.75]), low + (high - low) * np.array([0.25, 0.5, 0.75]), atol=1.0
    )


def test_unfelt_marks_and_absent_pads_stay_absent():
    few = draw_inputs(2, np.random.SeedSequence(1), ())
    only = Landmarks(last_rib=Mark(500.0, 10.0))
    assert drawn_marks(few, only)[0].withers == Landmarks().withers
    assert drawn_pads(few, (), 0.1) == ((), ())
