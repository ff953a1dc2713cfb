"""The half-space's view of a settled saddle, where it must agree with springs and where it may not."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.cutting import panelled_for
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.halfspace import Substrate
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.second_opinion import HALF_SPACE_TISSUE, laid_flat, second_opinion
from saddlebench.engine.fit.settle import settle
from saddlebench.engine.fit.settled import Outcome
from saddlebench.engine.saddle.numbers import model_from_numbers

TISSUE = Substrate(contact_modulus_kpa=HALF_SPACE_TISSUE.stiffness_kpa_mm, layer_kpa_mm=1.2)


@pytest.fixture(scope="module")
def pair():
    saddle = model_from_numbers(panelled_for(PLAIN, "made up"), 1000)
    settled = settle(PLAIN.surface(), PLAIN.landmarks, saddle, (), Rider(mass_kg=70.0)).at("halt")
    assert settled.outcome is Outcome.SITS
    return saddle.bearing, settled


def test_on_hard_ground_the_layer_alone_gives_the_pressures_of_springs(pair):
    bearing, settled = pair
    k = 0.8
    springs = replace(settled, pressure_kpa=k * np.maximum(0.0, -settled.gap_mm))
    opinion = second_opinion(bearing, springs, Substrate(contact_modulus_kpa=1e9, layer_kpa_mm=k))
    # The same law on a grid: what is left comes from carrying gap and pressure between points and grid.
    assert opinion.rank_correlation > 0.97
    assert opinion.second.peak_kpa == pytest.approx(opinion.first.peak_kpa, rel=0.05)
    np.testing.assert_allclose(opinion.second.thirds, opinion.first.thirds, atol=0.02)


def test_load_place_of_load_and_sides_are_kept(pair):
    bearing, settled = pair
    opinion = second_opinion(bearing, settled, TISSUE)
    load = opinion.pressure_kpa @ bearing.area_mm2
    assert load == pytest.approx(settled.pressure_kpa @ bearing.area_mm2, rel=1e-9)
    assert opinion.second.left_share == pytest.approx(opinion.first.left_share, abs=0.005)
    flat = laid_flat(bearing)
    centres = [p * bearing.area_mm2 @ flat / load for p in (opinion.pressure_kpa, settled.pressure_kpa)]
    # Half a cell of the grid, 8 mm.
    np.testing.assert_allclose(*centres, atol=4.0)


def test_spreading_moves_load_to_the_edges_but_little_between_thirds(pair):
    bearing, settled = pair
    opinion = second_opinion(bearing, settled, TISSUE)
    edge = bearing.edge_mm < 10.0
    shares = [(p * bearing.area_mm2)[edge].sum() for p in (opinion.pressure_kpa, settled.pressure_kpa)]
    assert shares[0] > shares[1]
    np.testing.assert_allclose(opinion.second.thirds, opinion.first.thirds, atol=0.08)
    assert opinion.residual < 1e-4


def test_a_stiffer_and_a_softer_ground_differ_in_peak_only_so_much(pair):
    bearing, settled = pair
    spread = np.exp(HALF_SPACE_TISSUE.ln_sd)
    peaks = [
        second_opinion(
            bearing, settled, replace(TISSUE, contact_modulus_kpa=TISSUE.contact_modulus_kpa * factor)
        ).second.peak_kpa
        for factor in (1.0 / spread, spread)
    ]
    # What the wide prior leaves open: told, not hidden.
    assert peaks[0] != pytest.approx(peaks[1], rel=0.02)
    assert max(peaks) < 2.0 * min(peaks)


def test_without_a_settled_saddle_there_is_no_opinion(pair):
    bearing, settled = pair
    for changes in ({"outcome": Outcome.SLIDES_OR_ROLLS_OFF}, {"pressure_kpa": 0.0 * settled.pressure_kpa}):
        opinion = second_opinion(bearing, replace(settled, **changes), TISSUE)
        assert isinstance(opinion, Undetermined)
        assert "no pressure to compare" in opinion.reason
    with pytest.raises(ValueError, match="points were settled"):
        second_opinion(bearing, replace(settled, gap_mm=settled.gap_mm[:-1]), TISSUE)


def test_laid_flat_keeps_lengths_across(pair):
    bearing, _ = pair
    flat = laid_flat(bearing)
    assert (np.sign(flat[:, 1]) == bearing.side).all()
    row = np.flatnonzero((bearing.side == 1) & (bearing.row == bearing.row.max() // 2))
    row = row[np.argsort(bearing.column[row])]
    steps = np.linalg.norm(np.diff(bearing.points_saddle[row, 1:], axis=0), axis=1)
    np.testing.assert_allclose(np.diff(flat[row, 1]), steps)
