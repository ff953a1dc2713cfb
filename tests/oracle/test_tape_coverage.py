"""Does a back by tape and hand know how coarse it is?

The yardstick is the definition of a coverage interval (JCGM 101:2008, 3.12): 95 % of 95 % intervals contain
the value. Backs are taken by a hand that errs as the instrument states, on invented backs in closed form and
on meshes of real horses; the estimate is held against the back itself. The prior is held against the one
published width that was found (see the test).
"""

from functools import cache

import numpy as np
import pytest

from saddlebench.demo.shapes import BACK_SHAPES
from saddlebench.engine.back.backwards import SectionAt, sections_of_radius
from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.gaussian import square_root
from saddlebench.engine.back.instruments import TapeAndHand
from saddlebench.engine.back.likelihood import Priors
from saddlebench.engine.back.outline import half_outlines
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.record import measure_points
from saddlebench.engine.back.scan import cut_scan, points_from_scan
from saddlebench.engine.back.scan_align import AlignedScan, align_scan
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.back.tape import out_at
from saddlebench.engine.back.trend import trend_of
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.scans import read_scan
from support.measured import true_radius
from support.taped import taped

PLACES = np.linspace(-80.0, 480.0, 6)
PHI = np.linspace(-1.7, 1.7, 801)
NORMAL_95 = 1.959964


def the_tape() -> TapeAndHand:
    tape = example_instrument("tape-hand")
    assert isinstance(tape, TapeAndHand)
    return tape


def test_intervals_cover_on_invented_backs_and_are_as_wide_as_they_must_be() -> None:
    rng = np.random.default_rng(1)
    shares, widths, misses = [], [], []
    for shape in BACK_SHAPES.values():
        section_at = sections_of_radius(shape.radius, shape.axis_z_mm, PHI)
        record = taped(section_at, the_tape(), (PLACES * shape.scale).tolist(), shape.landmarks, rng)
        surface = estimate_back(measure_points(record), shape.landmarks).surface
        error = (surface.radius_mm - true_radius(shape, surface.grid))[surface.measured]
        sd = surface.sd_mm[surface.measured]
        shares.append(float(np.mean(np.abs(error) < NORMAL_95 * sd)))
        widths.append(float(np.median(sd)))
        misses.append(float(np.sqrt(np.mean(error**2))))
    assert np.mean(shares) >= 0.93, np.round(shares, 2)
    # Wide because it must be: what was missed is of the size that is stated, not a small part of it.
    assert 0.4 * np.mean(widths) < np.mean(misses) < np.mean(widths), (misses, widths)
    assert 6.0 < np.mean(widths) < 16.0


@pytest.mark.real_data
@pytest.mark.parametrize(
    "name", ["horse-a", "horse-b-pose0", "horse-b-pose6", "horse-b-pose14", "horse-c-reference"]
)
def test_intervals_cover_on_real_horses(real_backs, name: str) -> None:
    """Sections of a mesh at a 1.60 m horse's size, every 20 mm, against a tape's back of six stations."""
    aligned = align_scan(read_scan(*real_backs[name]))
    dense = points_from_scan(aligned, np.arange(-80.0, 481.0, 20.0))
    rng = np.random.default_rng(2)
    shares = []
    for _ in range(2):
        record = taped(sections_of_mesh(aligned), the_tape(), PLACES.tolist(), aligned.landmarks, rng)
        back = estimate_back(measure_points(record), aligned.landmarks)
        s, phi, radius = back.surface.grid.polar(dense.points_back)
        inside = back.support.contains(s, phi)
        error = (back.surface.spline.radius(s, phi)[:, 0] - radius)[inside]
        sd = PolarSpline.through(back.surface.grid, back.surface.sd_mm).radius(s, phi)[inside, 0]
        assert inside.sum() > 500
        shares.append(float(np.mean(np.abs(error) < NORMAL_95 * sd)))
    assert np.mean(shares) >= 0.90, shares


def sections_of_mesh(aligned: AlignedScan) -> SectionAt:
    """Sections of a mesh to the nearest millimetre along, from side to side about an axis 250 mm down."""

    @cache
    def section(place: int) -> FloatArray:
        yz = cut_scan(aligned, np.array([float(place)]))[0].yz
        return yz[np.argsort(np.arctan2(yz[:, 0], yz[:, 1] + 250.0))]

    return lambda distance_mm: section(round(distance_mm))


@pytest.mark.parametrize(
    ("mean_mm", "sd_mm"),
    # Width at T10, 150 mm below the midline, eight horses: 31.2 ± 2.4 cm in a saddle of the right width,
    # 29.8 ± 1.4 cm in one too wide with a pad. Abstract of a half-pad and shim study, International
    # Conference on Canine and Equine Locomotion, Utrecht 2023.
    [(312.0, 24.0), (298.0, 14.0)],
)
def test_what_is_believed_before_any_reading_holds_the_published_width(mean_mm: float, sd_mm: float) -> None:
    widths = prior_widths(60.0, 150.0)
    low, high = np.percentile(widths, [2.5, 97.5])
    assert low < mean_mm - 2.0 * sd_mm
    assert mean_mm + 2.0 * sd_mm < high
    # Not so vague that it says nothing: it is centred on a horse, within a hand.
    assert abs(np.median(widths) - mean_mm) < 80.0


def prior_widths(place_mm: float, depth_mm: float) -> FloatArray:
    """Widths of backs drawn from the surface's prior, where both sides sink so far."""
    grid = PolarGrid(s0_mm=-60.0, ds_mm=30.0, n_s=12, phi0=-1.8, dphi=0.06, n_phi=61, axis_z_mm=-200.0)
    hyper = Priors().medians(loin_mm=460.0)
    along, across = node_distances(grid)
    root_s = square_root(hyper.sigma_mm**2 * matern(along, hyper.length_s_mm))
    root_phi = square_root(matern(across, hyper.length_phi))
    trend, rng = trend_of(grid, hyper.loin_mm, hyper.hips_mm), np.random.default_rng(0)
    draws = trend.mean_mm + np.tensordot(
        rng.standard_normal((400, len(trend.departures))), trend.departures, axes=1
    )
    draws += root_s @ (rng.standard_normal((400, grid.n_s, grid.n_phi)) @ root_phi.T)
    station = round((place_mm - grid.s0_mm) / grid.ds_mm)
    found = []
    for radius in draws[:, station]:
        left, right, _ = half_outlines(
            np.stack([radius * np.sin(grid.phi), radius * np.cos(grid.phi)], axis=1)
        )
        outs = [out_at(left, depth_mm), out_at(right, depth_mm)]
        found += [sum(out for out in outs if out is not None)] if None not in outs else []
    assert len(found) > 300
    return np.array(found)
