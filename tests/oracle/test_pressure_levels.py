"""Pressure under ordinary riders and saddles against pressure-mat studies, like for like.

Sources: von Peinen et al. (2010) Equine Vet J Suppl 38:650–653 (sound controls, at the withers: walk mean
7.8, max 13.4 kPa; trot 9.8 and 21.0; canter 10.9 and 24.7; horses with dry spots at trot 18.1 and 43.4); de
Cocq et al. (2010) Equine Vet J Suppl 38 (mean total force at trot 671 ± 143 N); Meschan et al. (2007) Vet J
173:578–584 and MacKechnie-Guire et al. (2019), PMC6827167 (a tree one size narrow loads the rear, one size
wide the front or middle). Total loaded area: 1000–1500 cm² (order of magnitude, from memory).

Like for like: the stride's mean is the rider's weight, so halt is compared with means over the stride, and
the ratio p99/mean with the published ratios of maximum to mean. Stiffness is assumed (no horse-specific value
is published), so the mean says load over area; the ratio is the test.
"""

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, FOAM_DRESSAGE, TOO_NARROW, TOO_WIDE
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.loads import HALT, TROT_PEAK, WALK_PEAK, Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settled
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import SaddleNumbers, model_from_numbers

CONTACT_KPA = 1.0


def settled(numbers: SaddleNumbers, rider_kg: float) -> tuple[SaddleModel, dict[str, Settled]]:
    saddle = model_from_numbers(numbers, 1000)
    assert isinstance(saddle, SaddleModel)
    fit = FitProblem(
        surface=PLAIN.surface(),
        landmarks=PLAIN.landmarks,
        saddle=saddle,
        rider=Rider(mass_kg=rider_kg),
        cases=(HALT, WALK_PEAK, TROT_PEAK),
        settings=SettleSettings(both_positions=False),
    )
    states = {state.case.name: state for state in settle_many([fit], threads=1)[0].steps}
    assert all(state.outcome is Outcome.SITS for state in states.values())
    return saddle, states


def levels(saddle: SaddleModel, state: Settled) -> tuple[float, float, float]:
    """Return area-weighted mean and 99th percentile over the contact [kPa], and its area [cm²]."""
    area, p = saddle.bearing.area_mm2, state.pressure_kpa
    touching = p > CONTACT_KPA
    order = np.argsort(p[touching])
    share = np.cumsum(area[touching][order]) / np.sum(area[touching])
    p99 = float(p[touching][order][np.searchsorted(share, 0.99)])
    mean = float(np.sum(area[touching] * p[touching]) / np.sum(area[touching]))
    return mean, p99, float(np.sum(area[touching])) / 100.0


@pytest.mark.parametrize("numbers", [ALL_ROUND, FOAM_DRESSAGE], ids=["wool", "foam"])
@pytest.mark.parametrize("rider_kg", [70.0, 80.0])
def test_halt_lies_within_the_published_means_of_sound_horses(
    numbers: SaddleNumbers, rider_kg: float
) -> None:
    saddle, states = settled(numbers, rider_kg)
    mean, p99, area = levels(saddle, states["halt"])
    # the stride's mean, walk to canter, in sound horses: 7.8–10.9 kPa over riders some 60–80 kg; the area is
    # this saddle's, so the mean may lie a kilopascal to either side
    assert 6.8 < mean < 11.9
    assert 800.0 < area < 1500.0
    # maximum over mean in the same rows: 13.4/7.8 = 1.7, 21.0/9.8 = 2.1, 24.7/10.9 = 2.3. Those are peaks of
    # the stride and of single sensors; standing and at the 99th percentile it must be lower, above even.
    assert 1.1 < p99 / mean < 1.8


def test_walk_and_trot_peaks_against_published_maxima() -> None:
    saddle, states = settled(ALL_ROUND, 72.0)
    walk = levels(saddle, states["walk, peak"])
    trot = levels(saddle, states["trot, peak"])
    # peak with peak: sound horses' maxima are 13.4 kPa at walk, 21.0 at trot; with dry spots 30.6 and 43.4.
    # Standing stiffness under a trot's peak leaves out stiffening with rate, which would raise it.
    assert 10.0 < walk[1] < 30.6
    assert 18.0 < trot[1] < 43.4


def thirds(saddle: SaddleModel, state: Settled) -> FloatArray:
    """Return the shares of the load on front, middle and rear third of the bearing length."""
    force = saddle.bearing.area_mm2 * state.pressure_kpa
    x = saddle.bearing.points_saddle[:, 0]
    part = (x.max() - x) / (x.max() - x.min())
    third = np.minimum((3.0 * part).astype(int), 2)
    return np.bincount(third, weights=force, minlength=3) / force.sum()


def test_one_size_narrow_loads_the_rear_one_size_wide_the_front() -> None:
    shares = {}
    for name, numbers in (("narrow", TOO_NARROW), ("right", ALL_ROUND), ("wide", TOO_WIDE)):
        saddle, states = settled(numbers, 72.0)
        shares[name] = thirds(saddle, states["halt"])
    # Published as directions (pressures of the rear third 5.0 → 6.3 kPa at walk with one size narrow, +26 %):
    # asked for here is a shift of at least 2 % of the load, ten times what the panels' tiles can do.
    assert shares["narrow"][2] > shares["right"][2] + 0.02
    assert shares["wide"][2] < shares["right"][2] - 0.02
    assert shares["wide"][0] > shares["right"][0] + 0.02
    assert shares["narrow"][0] < shares["right"][0] - 0.02


def test_total_force_is_the_riders_weight_not_a_peak() -> None:
    _, states = settled(ALL_ROUND, 671.0 / 9.80665)
    halt = states["halt"]
    assert is_known(halt)
    # a mean total force of 671 N at trot: a rider's weight; a saddle of 7.5 kg and the girth add to it, and
    # inclined faces bear some per cent more than the weight
    saddle = model_from_numbers(ALL_ROUND, 1000)
    assert isinstance(saddle, SaddleModel)
    force = float(np.sum(saddle.bearing.area_mm2 * halt.pressure_kpa)) * 1e-3
    assert force == pytest.approx(671.0 + 7.5 * 9.80665 + 2.0 * halt.girth_tension_n, rel=0.12)
