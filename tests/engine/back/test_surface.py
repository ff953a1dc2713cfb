"""A back's surface from measured points: near the truth, symmetric, honest where nothing was measured."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import BACK_SHAPES, HIGH_WITHERS, LEFT_SHOULDER, PLAIN, SWAY, BackShape
from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.radial import averaged, cells, radial_data
from saddlebench.engine.back.stations import MeasuredPoints, Station
from saddlebench.engine.back.surface import (
    EstimatedBack,
    RadiusEstimate,
    SurfaceSettings,
    estimate_back,
    grid_for,
    radius_at,
)
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from support.measured import SIX_PLACES, points_of, true_radius

TWENTY = tuple(np.linspace(-180.0, 630.0, 20))


@pytest.fixture(scope="module")
def plain() -> EstimatedBack:
    return estimate_back(points_of(PLAIN, rng=np.random.default_rng(1)), PLAIN.landmarks)


@pytest.mark.parametrize("shape", BACK_SHAPES.values(), ids=lambda shape: shape.name)
def test_a_well_measured_back_is_found_again(shape: BackShape) -> None:
    points = points_of(shape, TWENTY, n_side=16, noise_mm=0.7, rng=np.random.default_rng(2))
    back = estimate_back(points, shape.landmarks)
    surface = back.surface
    error = (surface.radius_mm - true_radius(shape, surface.grid))[surface.measured]
    # 0.7 mm of noise a point, 33 points a section: a field smooth over 250 mm averages some of it away.
    assert float(np.sqrt(np.mean(error**2))) < 0.5
    share = np.mean(np.abs(error) < 1.96 * surface.sd_mm[surface.measured])
    # Nominal 95 % pointwise; the crown of the withers is rougher than the model believes.
    assert 0.88 <= share <= 1.0
    assert float(surface.sd_mm[surface.measured].mean()) < 0.6


def test_three_sections_do_not_collapse_the_length_scale() -> None:
    points = points_of(SWAY, (20.0, 270.0, 540.0), rng=np.random.default_rng(3))
    back = estimate_back(points, SWAY.landmarks)
    assert back.posterior.hyper.length_s_mm > 180.0
    surface = back.surface
    error = (surface.radius_mm - true_radius(SWAY, surface.grid))[surface.measured]
    # What lies between three sections is guessed, and the deviation says so.
    assert float(np.mean(np.abs(error) < 1.96 * surface.sd_mm[surface.measured])) > 0.85
    between, at = (radius_at(back, s, 0.0) for s in (145.0, 270.0))
    assert isinstance(between, RadiusEstimate)
    assert isinstance(at, RadiusEstimate)
    assert between.sd_mm > 2.5 * at.sd_mm


def test_the_first_pass_slopes_turn_a_misplaced_station_into_a_radial_error() -> None:
    points = points_of(HIGH_WITHERS)
    n = len(points.noise_mm)
    along = np.zeros((n, 3, 1))
    along[points.station == 0, 0, 0] = 1.0
    placed = replace(points, sensitivity=along, error_sd=np.array([10.0]), error_source=("station 1, place",))
    grid = grid_for(points, SurfaceSettings())
    exact = PolarSpline.through(grid, true_radius(HIGH_WITHERS, grid))
    s, phi, _ = grid.polar(points.points_back)
    slopes = exact.radius(s, phi)[:, 1:3]
    gain = radial_data(placed, grid, slopes).error_gain[:, 0]
    # x forward is s backward: a station 10 mm too far forward reads a surface R_s · 10 mm away.
    np.testing.assert_allclose(gain, np.where(points.station == 0, 10.0 * slopes[:, 0], 0.0), atol=1e-12)


def test_shared_errors_stay_shared(plain: EstimatedBack) -> None:
    points = points_of(PLAIN, lift_sd_mm=3.0)
    back = estimate_back(points, PLAIN.landmarks)
    s = np.array([110.0, 110.0])
    covariance = back.posterior.covariance_at(s, np.array([0.15, -0.15]))
    # A lift of 3 mm moves both sides near the top alike: nearly all of the variance is common.
    assert covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]) > 0.8
    difference = covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]
    assert np.sqrt(difference) < 1.0 < np.sqrt(covariance[0, 0])


def test_symmetric_points_make_a_symmetric_surface() -> None:
    back = estimate_back(points_of(PLAIN, lift_sd_mm=1.0), PLAIN.landmarks)
    radius, sd = back.surface.radius_mm, back.surface.sd_mm
    # Rounding through a covariance of condition 1e6: 1e-16 · 1e6 · 300 mm.
    np.testing.assert_allclose(radius, radius[:, ::-1], atol=1e-7)
    np.testing.assert_allclose(sd, sd[:, ::-1], atol=1e-6)
    assert np.array_equal(back.surface.measured, back.surface.measured[:, ::-1])
    assert np.array_equal(back.surface.tissue, back.surface.tissue[:, ::-1])


def mirrored(points: MeasuredPoints) -> MeasuredPoints:
    flip = np.array([1.0, -1.0, 1.0])
    return replace(
        points,
        points_back=points.points_back * flip,
        sensitivity=points.sensitivity * flip[:, None],
        side=(-points.side).astype(np.int8),
    )


@pytest.mark.parametrize("n_side", [6, 40], ids=["few", "thinned"])
def test_mirrored_points_make_the_mirrored_surface(n_side: int) -> None:
    points = points_of(LEFT_SHOULDER, n_side=n_side, lift_sd_mm=1.0, rng=np.random.default_rng(4))
    settings = SurfaceSettings(most_readings=250)
    marks = LEFT_SHOULDER.landmarks
    other = replace(marks, shoulder_left=marks.shoulder_right, shoulder_right=marks.shoulder_left)
    one = estimate_back(points, marks, settings).surface
    two = estimate_back(mirrored(points), other, settings).surface
    # The optimiser stops where rounding lets it: hyperparameters agree to 1e-6, radii follow.
    np.testing.assert_allclose(two.radius_mm, one.radius_mm[:, ::-1], atol=1e-4)
    assert np.array_equal(two.measured, one.measured[:, ::-1])
    assert np.array_equal(two.tissue, one.tissue[:, ::-1])


def test_outside_what_was_measured_says_what_to_measure(plain: EstimatedBack) -> None:
    front, rear = radius_at(plain, -200.0, 0.0), radius_at(plain, 700.0, 0.1)
    assert isinstance(front, NotMeasured)
    assert isinstance(rear, NotMeasured)
    assert front.stations == (1,)
    assert "in front of station 1" in front.reason
    assert rear.stations == (6,)
    low = radius_at(plain, 300.0, -1.7)
    assert isinstance(low, NotMeasured)
    assert low.stations == (4, 5)
    assert "right (off)" in low.reason
    inside = radius_at(plain, 300.0, -1.0)
    assert isinstance(inside, RadiusEstimate)
    grid = plain.surface.grid
    beyond = (grid.s_mm < -160.0) | (grid.s_mm > 570.0)
    assert not plain.surface.measured[beyond].any()
    assert np.all(np.isfinite(plain.surface.radius_mm))


def test_a_long_gap_is_not_measured_in_its_middle() -> None:
    points = points_of(PLAIN, (-100.0, 0.0, 90.0, 600.0), rng=np.random.default_rng(5))
    back = estimate_back(points, PLAIN.landmarks)
    gap = radius_at(back, 345.0, 0.2)
    assert isinstance(gap, NotMeasured)
    assert gap.stations == (3, 4)
    assert "510 mm apart" in gap.reason
    assert isinstance(radius_at(back, 595.0, 0.2), RadiusEstimate)


def test_a_missing_side_is_not_measured_there() -> None:
    points = points_of(PLAIN, rng=np.random.default_rng(6))
    keep = points.side >= 0
    left = replace(
        points,
        points_back=points.points_back[keep],
        station=points.station[keep],
        side=points.side[keep],
        sensitivity=points.sensitivity[keep],
        noise_mm=points.noise_mm[keep],
    )
    back = estimate_back(left, PLAIN.landmarks)
    assert isinstance(radius_at(back, 200.0, 0.8), RadiusEstimate)
    assert isinstance(radius_at(back, 200.0, -0.8), NotMeasured)
    assert not back.surface.measured[:, back.surface.grid.phi < -0.1].any()


def test_a_station_measured_twice_is_one_place() -> None:
    points = points_of(PLAIN, (*SIX_PLACES, SIX_PLACES[0]), rng=np.random.default_rng(7))
    back = estimate_back(points, PLAIN.landmarks)
    once = estimate_back(points_of(PLAIN, rng=np.random.default_rng(7)), PLAIN.landmarks)
    assert len(back.support.s_mm) == len(SIX_PLACES)
    twice_sd, once_sd = (radius_at(b, SIX_PLACES[0], 0.5) for b in (back, once))
    assert isinstance(twice_sd, RadiusEstimate)
    assert isinstance(once_sd, RadiusEstimate)
    assert twice_sd.sd_mm < once_sd.sd_mm


def test_thousands_of_points_are_averaged_without_losing_accuracy() -> None:
    points = points_of(SWAY, tuple(np.linspace(-190.0, 640.0, 40)), n_side=60, rng=np.random.default_rng(8))
    back = estimate_back(points, SWAY.landmarks)
    assert len(points.noise_mm) == 4840
    assert len(back.posterior.data.radius_mm) <= 700
    surface = back.surface
    error = (surface.radius_mm - true_radius(SWAY, surface.grid))[surface.measured]
    sparse = estimate_back(
        points_of(SWAY, tuple(np.linspace(-190.0, 640.0, 20)), n_side=16, rng=np.random.default_rng(8)),
        SWAY.landmarks,
    ).surface
    coarse = (sparse.radius_mm - true_radius(SWAY, sparse.grid))[sparse.measured]
    assert np.sqrt(np.mean(error**2)) < 0.8 * np.sqrt(np.mean(coarse**2))


def test_averages_see_the_field_as_their_points_do() -> None:
    points = points_of(PLAIN, tuple(np.linspace(-150.0, 560.0, 6)), n_side=90, lift_sd_mm=2.0)
    grid = grid_for(points, SurfaceSettings())
    data = radial_data(points, grid)
    label = cells(points, grid, 300)
    few = averaged(data, label)
    assert len(few.radius_mm) <= 300
    nodes = true_radius(SWAY, grid)
    seen = np.einsum("ij,jk,ik->i", data.rows_s, nodes, data.rows_phi)
    mean = np.bincount(label, seen) / np.bincount(label)
    # Stations lie at one distance: the product of averages is the average of products, to rounding.
    np.testing.assert_allclose(np.einsum("ij,jk,ik->i", few.rows_s, nodes, few.rows_phi), mean, atol=1e-9)
    np.testing.assert_allclose(few.error_gain.max(), 2.0, rtol=0.05)
    np.testing.assert_allclose(few.noise_mm.min(), 0.7 / np.sqrt(np.bincount(label).max()), rtol=1e-9)


def test_draws_follow_the_stated_deviation(plain: EstimatedBack) -> None:
    drawn = draw_radii(plain, 200, seed=1)
    surface = plain.surface
    assert drawn.shape == (200, surface.grid.n_s, surface.grid.n_phi)
    ratio = drawn.std(axis=0)[surface.measured] / surface.sd_mm[surface.measured]
    # A deviation from 200 draws is known to 1/√400 = 5 %; the extreme of thousands to five times that.
    assert abs(float(ratio.mean()) - 1.0) < 0.05
    assert 0.75 < ratio.min() < ratio.max() < 1.25


def test_points_that_make_no_surface_are_all_named() -> None:
    one = points_of(PLAIN, (100.0,))
    with pytest.raises(InputProblemsError, match="Only one place along the back"):
        estimate_back(one, PLAIN.landmarks)
    twice = points_of(PLAIN, (100.0, 104.0))
    with pytest.raises(InputProblemsError, match="Only one place along the back"):
        estimate_back(twice, PLAIN.landmarks)
    points = points_of(PLAIN)
    broken = points.points_back.copy()
    broken[3, 1] = np.nan
    with pytest.raises(InputProblemsError, match="not finite"):
        estimate_back(replace(points, points_back=broken), PLAIN.landmarks)
    far = points.points_back.copy()
    far[[0, 40], 2] = 1e9
    with pytest.raises(InputProblemsError) as caught:
        estimate_back(replace(points, points_back=far), PLAIN.landmarks)
    assert [problem.where.station for problem in caught.value.problems] == [1, 2]
    belly = points.points_back.copy()
    belly[30] = [20.0, 10.0, -600.0]
    with pytest.raises(InputProblemsError, match="station 2: Some points lie far below the back"):
        estimate_back(replace(points, points_back=belly), PLAIN.landmarks)


def test_topline_points_alone_serve_without_widening_what_was_measured() -> None:
    points = points_of(SWAY, (20.0, 270.0, 540.0), rng=np.random.default_rng(9))
    s = np.arange(20.0, 540.0, 40.0)
    z = SWAY.radius(s, 0.0) + SWAY.axis_z_mm
    n = len(s)
    with_topline = replace(
        points,
        points_back=np.concatenate([points.points_back, np.stack([-s, np.zeros(n), z], axis=1)]),
        station=np.concatenate([points.station, np.full(n, -1, np.int32)]),
        side=np.concatenate([points.side, np.zeros(n, np.int8)]),
        sensitivity=np.zeros((len(points.noise_mm) + n, 3, 0)),
        noise_mm=np.concatenate([points.noise_mm, np.full(n, 0.7)]),
    )
    back = estimate_back(with_topline, SWAY.landmarks)
    bare = estimate_back(points, SWAY.landmarks)
    at, without = radius_at(back, 400.0, 0.0), radius_at(bare, 400.0, 0.0)
    assert isinstance(at, RadiusEstimate)
    assert isinstance(without, RadiusEstimate)
    assert at.sd_mm < 0.4 * without.sd_mm
    assert len(back.support.s_mm) == 3


def test_stations_keep_the_fitters_numbers() -> None:
    points = points_of(PLAIN)
    renumbered = replace(
        points, stations=tuple(Station(number=10 - k, distance_mm=d) for k, d in enumerate(SIX_PLACES))
    )
    back = estimate_back(renumbered, PLAIN.landmarks)
    gap = radius_at(back, 900.0, 0.0)
    assert isinstance(gap, NotMeasured)
    assert gap.stations == (5,)
