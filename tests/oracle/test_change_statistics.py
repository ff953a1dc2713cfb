"""The change study's statistics against draws, an independent library, and a field that is known.

Sources: JCGM 101:2008, 7 (propagation by Monte Carlo) for the covariance under no change; statsmodels' GLS
(Seabold & Perktold, Proc. 9th Python in Science Conf. (2010)) for a disc's depth; the definition of a
coverage interval (JCGM 101:2008, 3.12) for intervals of volumes; the binomial distribution for the size of
scan and map.
"""

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import linalg, stats

from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.gaussian import RadialData, square_root
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.surface import SurfaceSettings, estimate_back
from saddlebench.engine.back.trend import trend_of
from saddlebench.engine.change.band import Difference, difference_of, simultaneous_band
from saddlebench.engine.change.coat import coat_offset
from saddlebench.engine.change.discs import (
    disc_patterns,
    disc_places,
    scan_discs,
    simulated_threshold,
    whitened,
)
from saddlebench.engine.change.laying import LaidTogether, lay_together
from saddlebench.engine.change.marks import shift_by_marks
from saddlebench.engine.change.numbers import numbers_of
from saddlebench.engine.change.posture import posture_moves, posture_sd
from saddlebench.engine.change.readings import common_hyper
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.unseen import even_pattern, least_told, wide_patterns
from saddlebench.engine.change.volumes import regions_of
from saddlebench.engine.frames import FloatArray
from support.visits import visited

SETTINGS = ChangeSettings(simulations=2000, draws=200, most_readings=80)
FEW = (-140.0, 0.0, 140.0, 280.0, 420.0, 560.0)
COARSE = SurfaceSettings(ds_mm=45.0, dphi_deg=9.0, most_readings=150)


@pytest.fixture(scope="module")
def laid() -> LaidTogether:
    earlier, later = (
        replace(back, estimated=estimate_back(back.estimated.points, back.record.landmarks, COARSE))
        for back in (visited(0, 1, stations=FEW), visited(180, 2, stations=FEW))
    )
    return lay_together(
        earlier,
        later,
        common_hyper((earlier, later)),
        shift_by_marks(earlier.record.landmarks, later.record.landmarks),
        coat_offset(earlier.record, later.record),
        SETTINGS,
    )


@pytest.fixture(scope="module")
def difference(laid: LaidTogether) -> Difference:
    return difference_of(laid, SETTINGS)


def backs_from_the_prior(laid: LaidTogether, count: int, rng: np.random.Generator) -> FloatArray:
    together = laid.together
    hyper, grid = together.hyper, together.grid
    along, across = node_distances(grid)
    root_s = square_root(hyper.sigma_mm**2 * matern(along, hyper.length_s_mm))
    root_phi = square_root(matern(across, hyper.length_phi))
    departures = trend_of(grid, hyper.loin_mm, hyper.hips_mm).departures
    backs = root_s @ (rng.standard_normal((count, grid.n_s, grid.n_phi)) @ root_phi.T)
    return backs + np.tensordot(rng.standard_normal((count, len(departures))), departures, axes=1)


def seen(data: RadialData, backs: FloatArray) -> FloatArray:
    return np.einsum("ij,kjl,il->ik", data.rows_s, backs, data.rows_phi, optimize=True)


def residuals_of_unchanged_pairs(laid: LaidTogether, count: int, seed: int) -> FloatArray:
    """Draw readings of unchanged backs error by error, without the covariance that is to be checked."""
    together, rng = laid.together, np.random.default_rng(seed)
    backs = backs_from_the_prior(laid, count, rng)
    out, shared = [], {}
    for rows in (together.earlier, together.later):
        data = rows.data
        z = seen(data, backs)
        for k, source in enumerate(rows.sources):
            standing = source.startswith("zero of ")
            normals = shared.get(source) if standing else None
            if normals is None:
                normals = rng.standard_normal(count)
            if standing:
                shared[source] = normals
            z += data.error_gain[:, k, None] * normals
        own = np.sqrt(data.noise_mm**2 + together.hyper.tau_mm**2)
        z += own[:, None] * rng.standard_normal(z.shape)
        flesh = SETTINGS.posture
        length = flesh.flesh_length_mm
        distance_s, distance_phi = node_distances(together.grid)
        root_s = square_root(matern(distance_s, length))
        root_phi = square_root(matern(distance_phi, length / float(np.median(data.radius_mm))))
        fields = root_s @ (rng.standard_normal((count, together.grid.n_s, together.grid.n_phi)) @ root_phi.T)
        z += flesh.flesh_mm * rows.to_radius[:, None] * seen(data, fields)
        moves = posture_moves(rows.points_back)
        for name, sd in posture_sd(flesh).items():
            z += sd * radial(laid, rows.points_back, moves[name])[:, None] * rng.standard_normal(count)
        out.append(z)
    out[1] += together.laid.gain @ rng.standard_normal((together.laid.gain.shape[1], count))
    return np.concatenate(out)


def radial(laid: LaidTogether, points: FloatArray, moves: FloatArray) -> FloatArray:
    """Project moves onto the radius by finite differences of the earlier surface."""
    together = laid.together
    spline = PolarSpline.through(
        together.grid, together.earlier.field.estimate(together.earlier.field.data.radius_mm[:, None])[0]
    )

    def off(p: FloatArray) -> FloatArray:
        s, phi, r = together.grid.polar(p)
        return r - spline.radius(s, phi)[:, 0]

    return (off(points + 1e-3 * moves) - off(points - 1e-3 * moves)) / 2e-3


def test_the_covariance_under_no_change_is_that_of_drawn_readings(
    laid: LaidTogether, difference: Difference
) -> None:
    """V = W C Wᵀ against 100,000 unchanged pairs drawn error by error, at places picked beforehand."""
    s = np.array([-60.0, 40.0, 150.0, 260.0, 400.0, 500.0])
    phi = np.array([0.5, -0.4, 0.2, -0.7, 0.6, 0.0])
    weights = difference.weights_at(s, phi)
    total, count = np.zeros((6, 6)), 0
    for seed in range(20):
        changes = weights @ residuals_of_unchanged_pairs(laid, 5000, seed)
        total += changes @ changes.T
        count += 5000
    drawn, stated = total / count, difference.covariance(weights)
    # A variance of 10⁵ draws is sure to 0.45 %; the projection of moves differs in the second order: 5 %.
    np.testing.assert_allclose(np.diag(drawn), np.diag(stated), rtol=0.05)
    scale = np.sqrt(np.outer(np.diag(stated), np.diag(stated)))
    np.testing.assert_allclose(drawn / scale, stated / scale, atol=0.05)


def test_a_discs_depth_is_that_of_an_independent_gls(laid: LaidTogether, difference: Difference) -> None:
    together = laid.together
    surface = PolarSpline.through(difference.grid, difference.earlier_mm)
    discs = disc_places(together, surface, SETTINGS.disc_spacing_mm, SETTINGS.disc_diameters_mm)
    patterns = disc_patterns(together, discs)
    columns = np.flatnonzero((patterns**2).sum(axis=0) > 4.0)[::60]
    units, sd = whitened(together.factor, patterns[:, columns])
    rest = linalg.solve_triangular(together.factor, together.residual_mm, lower=True)
    for k, column in enumerate(columns):
        fitted = sm.GLS(together.residual_mm, patterns[:, [column]], sigma=together.covariance).fit()
        assert (units[:, k] @ rest) * sd[k] == pytest.approx(fitted.params[0], rel=1e-6, abs=1e-9)
        assert sd[k] == pytest.approx(float(np.sqrt(fitted.normalized_cov_params[0, 0])), rel=1e-6)


def test_scan_and_map_show_a_patch_in_one_unchanged_pair_of_twenty(
    laid: LaidTogether, difference: Difference
) -> None:
    """Inside the model: 1,000 unchanged pairs, drawn from C, other ones than those of the thresholds."""
    together = laid.together
    band = simultaneous_band(difference, SETTINGS)
    scanned = scan_discs(difference, SETTINGS, band.width)
    assert scanned is not None
    patterns = disc_patterns(together, scanned.discs)
    units, _ = whitened(together.factor, patterns)
    i, j = np.nonzero(difference.common)
    weights = difference.weights_at(difference.grid.s_mm[i], difference.grid.phi[j])
    spread = (weights @ together.factor) / band.sd_mm[i, j][:, None]
    normals = np.random.default_rng(99).standard_normal((len(together.factor), 1000))
    by_scan = int((np.abs(units.T @ normals).max(axis=0) > scanned.scan.threshold).sum())
    by_map = int((np.abs(spread @ normals).max(axis=0) > band.width).sum())
    # Binomial(1000, 0.05) with the thresholds' own error, 0.5 % of 2,000 simulations: once in 10,000 beyond.
    low, high = stats.binom(1000, 0.05).ppf([5e-5, 1 - 5e-5]) + np.array([-10.0, 10.0])
    assert low <= by_scan <= high
    assert low <= by_map <= high


def test_a_rarer_level_is_read_off_the_number_of_independent_places() -> None:
    """For k independent normals the 1/500 point of the maximum is known in closed form."""
    units = np.eye(40)
    settings = ChangeSettings(simulations=20000)
    expected = stats.norm.ppf(0.5 + 0.5 * (1.0 - 0.002) ** (1.0 / 40.0))
    assert simulated_threshold(units, settings, 0.002) == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize("kind", ["even", "wide"])
def test_the_least_wide_change_is_told_in_95_of_100_cases(
    laid: LaidTogether, difference: Difference, kind: str
) -> None:
    """Inside the model: 1,000 fresh pairs with a gain of the stated depth, and with half of it."""
    together = laid.together
    scanned = scan_discs(difference, SETTINGS, 3.0)
    assert scanned is not None
    pattern = even_pattern(together) if kind == "even" else wide_patterns(together, scanned)[:, [20]]
    (depth,) = least_told(together, scanned, pattern, seed=0)
    white = linalg.solve_triangular(together.factor, pattern, lower=True)
    normals = np.random.default_rng(98).standard_normal((len(white), 1000))

    def told(share: float) -> int:
        scores = scanned.units.T @ (normals + share * depth * white)
        return int((np.abs(scores).max(axis=0) > scanned.scan.threshold).sum())

    # Binomial(1000, 0.95), once in 10,000 beyond; the depth's own error from 400 draws is as large again.
    low, high = stats.binom(1000, 0.95).ppf([5e-5, 1 - 5e-5]) + np.array([-20.0, 20.0])
    assert low <= told(1.0) <= high
    assert told(0.5) < 600


def test_a_sums_variance_is_that_of_its_drawn_errors(difference: Difference) -> None:
    """The closed form against 4,000 errors drawn with their change: sure to 2.2 %, three of these."""
    marks = visited(0, 1, stations=FEW).record.landmarks
    known = [r.weights for r in regions_of(difference, marks) if r.weights is not None][:3]
    drawn = np.concatenate(
        [difference.error_draws(replace(SETTINGS, draws=1000, seed=seed)) for seed in range(4)]
    )
    for weights in known:
        found = float(np.mean(np.einsum("kij,ij->k", drawn, weights) ** 2))
        assert difference.error_variance(weights) == pytest.approx(found, rel=0.067)


def test_intervals_of_volumes_cover(difference: Difference) -> None:
    """95 % intervals over 1,000 changes drawn from what is believed of changes."""
    marks = visited(0, 1, stations=FEW).record.landmarks
    known = [r.weights for r in regions_of(difference, marks) if r.weights is not None]
    weights = np.stack(known) / 1000.0
    errors = difference.error_draws(replace(SETTINGS, draws=1000))
    sd = np.sqrt(np.mean(np.einsum("kij,rij->kr", errors, weights) ** 2, axis=0))
    fresh = difference.error_draws(replace(SETTINGS, draws=1000, seed=5))
    held = np.abs(np.einsum("kij,rij->kr", fresh, weights)) < 1.959964 * sd
    assert 0.93 <= held.mean() <= 0.97
    assert held.mean(axis=0).min() > 0.91
    assert len(known) >= 8


def test_intervals_of_widths_heights_and_angles_cover(difference: Difference) -> None:
    """95 % intervals of every number's change on 50 fresh errors, drawn apart from the intervals'."""
    marks = visited(0, 1, stations=FEW).record.landmarks
    errors = difference.error_draws(replace(SETTINGS, draws=150))
    fresh = difference.error_draws(replace(SETTINGS, draws=50, seed=6))
    held: dict[str, list[bool]] = {}
    for error in fresh:
        for number in numbers_of(replace(difference, radius_mm=error), marks, errors):
            if isinstance(number.change, Estimate):
                held.setdefault(number.key, []).append(number.change.low <= 0.0 <= number.change.high)
    shares = np.array([np.mean(inside) for inside in held.values()])
    assert len(shares) >= 30
    assert {key.split(": ")[1].split(" ")[0] for key in held} >= {"width", "height", "withers", "area"}
    # 50 backs and 150 draws an interval: one number is sure to 0.03, all of them together to 0.015.
    assert 0.92 <= shares.mean() <= 0.98
    assert shares.min() > 0.82
