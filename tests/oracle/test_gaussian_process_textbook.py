"""The Kronecker-structured posterior, its draws and its likelihood against dense textbook formulas.

C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press (2006): eq. 2.23–2.24
(posterior mean and covariance with noise), 2.40 (explicit basis functions with a Gaussian prior are a prior
mean and a summand of the kernel), 2.43 (marginal likelihood), 4.14 and 4.17 (Matérn, general and 5/2).
Written here with whole matrices and explicit inverses, sharing nothing with the code but the grid's
interpolation, which has an oracle of its own; the correlation is the general form with a Bessel function.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import gamma, kv

from saddlebench.demo.shapes import LEFT_SHOULDER
from saddlebench.engine.back.correlation import (
    CROWN_STRETCH,
    CROWN_WIDTH,
    WITHERS_BLEND_MM,
    WITHERS_END_MM,
    WITHERS_STRETCH,
    matern,
)
from saddlebench.engine.back.draws import draw_field
from saddlebench.engine.back.gaussian import GaussianField, Hyperparameters, condition
from saddlebench.engine.back.likelihood import Priors, Restricted
from saddlebench.engine.back.polar import PolarGrid, interpolation_rows
from saddlebench.engine.back.radial import radial_data
from saddlebench.engine.back.trend import (
    HIPS_BESIDE,
    HIPS_BLEND_MM,
    HIPS_FADE,
    HIPS_LENGTH_MM,
    HIPS_LENGTH_PHI,
    TREND_TERMS,
    hips,
)
from saddlebench.engine.frames import FloatArray
from support.measured import points_of

GRID = PolarGrid(s0_mm=-210.0, ds_mm=60.0, n_s=15, phi0=-1.8, dphi=0.2, n_phi=19, axis_z_mm=-220.0)
HYPER = Hyperparameters(
    sigma_mm=15.0, length_s_mm=220.0, length_phi=1.0, tau_mm=0.4, hips_mm=12.0, loin_mm=460.0
)
LOGARITHMS = np.log([HYPER.sigma_mm, HYPER.length_s_mm, HYPER.length_phi, HYPER.tau_mm, HYPER.hips_mm])


@dataclass(frozen=True)
class Dense:
    """The whole problem in plain matrices."""

    H: FloatArray
    K: FloatArray
    errors: FloatArray
    mean: FloatArray
    z: FloatArray

    @property
    def V(self) -> FloatArray:
        return self.H @ self.K @ self.H.T + self.errors

    @property
    def posterior(self) -> tuple[FloatArray, FloatArray]:
        gain = self.K @ self.H.T @ np.linalg.inv(self.V)
        return self.mean + gain @ (self.z - self.H @ self.mean), self.K - gain @ self.H @ self.K


def matern_by_bessel(distance: FloatArray, length: float) -> FloatArray:
    t = np.sqrt(5.0) * np.maximum(distance, 1e-12) / length
    return 2.0 ** (1 - 2.5) / gamma(2.5) * t**2.5 * kv(2.5, t)


@pytest.fixture(scope="module")
def case() -> tuple[GaussianField, Dense]:
    rng = np.random.default_rng(11)
    points = points_of(LEFT_SHOULDER, n_side=5, lift_sd_mm=1.5, rng=rng)
    slopes = rng.normal(0.0, [0.1, 40.0], (len(points.noise_mm), 2))
    data = radial_data(points, GRID, slopes)
    field = condition(data, HYPER)
    s, phi, r = GRID.polar(points.points_back)
    rows_s = interpolation_rows(GRID.n_s, (s - GRID.s0_mm) / GRID.ds_mm)
    rows_phi = interpolation_rows(GRID.n_phi, (phi - GRID.phi0) / GRID.dphi)
    H = np.stack([np.kron(a, b) for a, b in zip(rows_s, rows_phi, strict=True)])
    stretched = GRID.phi + CROWN_STRETCH * np.tanh(GRID.phi / CROWN_WIDTH)
    # 1 + a in front of the withers' end and 1 behind: 1 + a(1 − tanh u)/2, whose integral has ln cosh u.
    u = (GRID.s_mm - WITHERS_END_MM) / WITHERS_BLEND_MM
    along = GRID.s_mm + WITHERS_STRETCH / 2 * (GRID.s_mm - WITHERS_BLEND_MM * np.log(np.cosh(u)))
    K = HYPER.sigma_mm**2 * np.kron(
        matern_by_bessel(np.abs(np.subtract.outer(along, along)), HYPER.length_s_mm),
        matern_by_bessel(np.abs(np.subtract.outer(stretched, stretched)), HYPER.length_phi),
    )
    # dr − R_s ds − R_φ dφ for a change dp of the point, by hand: ds = −dx, dφ and dr of plane polars.
    y, up = points.points_back[:, 1], points.points_back[:, 2] - GRID.axis_z_mm
    gradient = np.stack(
        [slopes[:, 0], y / r - slopes[:, 1] * up / r**2, up / r + slopes[:, 1] * y / r**2], axis=1
    )
    G = np.einsum("ij,ijm->im", gradient, points.sensitivity) * points.error_sd
    noise = points.noise_mm**2 * (gradient**2).sum(axis=1) + HYPER.tau_mm**2
    u = np.repeat(GRID.s_mm / 300.0, GRID.n_phi)
    angle = np.tile(GRID.phi, GRID.n_s)
    across = {"one": angle**0, "ridge": np.sqrt(angle**2 + 0.12**2), "square": angle**2, "lean": angle}
    B = np.stack([u**power * across[name] for power, name, _, _ in TREND_TERMS], axis=1)
    beta, sd = np.array([term[2:] for term in TREND_TERMS]).T
    sides = HYPER.hips_mm * hips(GRID, HYPER.loin_mm).reshape(-1, GRID.n_s * GRID.n_phi).T
    prior = K + B @ np.diag(sd**2) @ B.T + sides @ sides.T
    return field, Dense(H, prior, G @ G.T + np.diag(noise), B @ beta, r)


def test_eq_4_17_matern_five_halves() -> None:
    distance = np.linspace(0.5, 900.0, 60)
    # Two closed forms of one function: rounding of the Bessel function, 1e-13 relative.
    np.testing.assert_allclose(matern(distance, 200.0), matern_by_bessel(distance, 200.0), rtol=1e-11)


def test_sides_behind_the_ribs_have_the_covariance_of_a_weighted_product() -> None:
    """Rasmussen & Williams (2006), 4.2.4: a product of covariance functions, weighted, is one."""
    behind = 1.0 / (1.0 + np.exp(-2.0 * (GRID.s_mm - HYPER.loin_mm) / HIPS_BLEND_MM))
    beside = 1.0 / (1.0 + np.exp(-2.0 * (np.abs(GRID.phi) - HIPS_BESIDE) / HIPS_FADE))
    weight = np.kron(behind, beside)
    closed = np.kron(
        matern_by_bessel(np.abs(np.subtract.outer(GRID.s_mm, GRID.s_mm)), HIPS_LENGTH_MM),
        matern_by_bessel(np.abs(np.subtract.outer(GRID.phi, GRID.phi)), HIPS_LENGTH_PHI),
    )
    ways = hips(GRID, HYPER.loin_mm).reshape(-1, GRID.n_s * GRID.n_phi)
    # What is left out is a covariance too, of components below a fortieth: together below 1 in 144 of one.
    difference = ways.T @ ways - weight[:, None] * closed * weight
    assert np.abs(difference).max() < 1.0 / 144.0
    assert np.linalg.eigvalsh(-difference).min() > -1e-8


def test_eq_2_23_posterior_mean(case: tuple[GaussianField, Dense]) -> None:
    field, dense = case
    mean, _ = dense.posterior
    # The readings' covariance has a condition of 1e5 to 1e6: 1e-16 times that times radii near 300 mm.
    np.testing.assert_allclose(field.estimate(dense.z[:, None])[0].ravel(), mean, atol=1e-7)


def test_eq_2_24_posterior_covariance(case: tuple[GaussianField, Dense]) -> None:
    field, dense = case
    _, covariance = dense.posterior
    variance = field.standard_deviation().ravel() ** 2
    # Differences of σ² = 225 with the same condition: 1e-7 mm² is a nanometre's worth of deviation.
    np.testing.assert_allclose(variance, np.diag(covariance), atol=1e-7)
    rng = np.random.default_rng(5)
    functionals = rng.normal(size=(7, GRID.n_s, GRID.n_phi)) / GRID.n_s
    flat = functionals.reshape(7, -1)
    np.testing.assert_allclose(field.covariance(functionals), flat @ covariance @ flat.T, atol=1e-6)
    s, phi = np.array([-33.0, 100.0, 371.0]), np.array([0.41, -0.2, -1.1])
    rows = np.stack(
        [
            np.kron(a, b)
            for a, b in zip(
                interpolation_rows(GRID.n_s, (s - GRID.s0_mm) / GRID.ds_mm),
                interpolation_rows(GRID.n_phi, (phi - GRID.phi0) / GRID.dphi),
                strict=True,
            )
        ]
    )
    np.testing.assert_allclose(field.covariance_at(s, phi), rows @ covariance @ rows.T, atol=1e-7)


def test_conditional_draws_have_the_posterior_moments(case: tuple[GaussianField, Dense]) -> None:
    field, dense = case
    mean, covariance = dense.posterior
    count = 4000
    drawn = draw_field(field, count, seed=3).reshape(count, -1)
    sd = np.sqrt(np.diag(covariance))
    inside = sd > 1e-3
    # The mean of n draws is normal with sd/√n: the largest of 285 correlated nodes stays under 4.5.
    away = (drawn.mean(axis=0) - mean)[inside] / sd[inside] * np.sqrt(count)
    assert np.abs(away).max() < 4.5
    # A variance ratio has the relative deviation √(2/n) = 0.022: 4.5 of them.
    ratio = drawn.var(axis=0, ddof=1)[inside] / sd[inside] ** 2
    assert np.abs(ratio - 1.0).max() < 4.5 * np.sqrt(2.0 / count)
    # And correlation between nodes: whitened by the exact covariance of 12 nodes, the sample is the identity.
    nodes = np.flatnonzero(inside)[:: inside.sum() // 12][:12]
    factor = np.linalg.cholesky(covariance[np.ix_(nodes, nodes)])
    white = np.linalg.solve(factor, (drawn[:, nodes] - mean[nodes]).T)
    # Entries of a sample covariance of n unit normals deviate by √(1/n) (off the diagonal): 5 of them.
    assert np.abs(np.cov(white) - np.eye(len(nodes))).max() < 5.0 * np.sqrt(2.0 / count)


def test_draws_repeat_and_a_longer_run_begins_with_the_shorter(case: tuple[GaussianField, Dense]) -> None:
    field, _ = case
    few, more = draw_field(field, 3, seed=9), draw_field(field, 8, seed=9)
    # The same numbers through products of other widths: rounding only.
    np.testing.assert_allclose(more[:3], few, atol=1e-8)
    assert np.abs(draw_field(field, 3, seed=10) - few).max() > 0.1


def test_eq_2_43_likelihood_with_the_mean_integrated_out(case: tuple[GaussianField, Dense]) -> None:
    field, dense = case
    problem = Restricted.of(field.data, Priors(), HYPER.loin_mm)
    logarithms = LOGARITHMS
    got, _ = problem.value_and_gradient(logarithms)
    residual = dense.z - dense.H @ dense.mean
    expected = 0.5 * (np.linalg.slogdet(dense.V)[1] + residual @ np.linalg.inv(dense.V) @ residual)
    beliefs = Priors().in_order
    expected += sum(
        0.5 * ((x - np.log(p.median)) / p.ln_sd) ** 2 for x, p in zip(logarithms, beliefs, strict=True)
    )
    # r'V⁻¹r of some hundred, through a covariance of condition 1e6.
    assert got == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    "away", [(0.0, 0.0, 0.0, 0.0, 0.0), (0.4, -0.5, 0.3, 0.6, -1.0), (-0.7, 0.4, -0.5, -0.4, 0.5)]
)
def test_gradient_of_the_likelihood_by_differences(
    case: tuple[GaussianField, Dense], away: tuple[float, ...]
) -> None:
    problem = Restricted.of(case[0].data, Priors(), HYPER.loin_mm)
    at = LOGARITHMS + np.array(away)
    _, gradient = problem.value_and_gradient(at)
    step = 1e-4
    for k in range(len(at)):
        move = step * np.eye(len(at))[k]
        slope = (problem.value_and_gradient(at + move)[0] - problem.value_and_gradient(at - move)[0]) / (
            2 * step
        )
        # Central differences: step² times a third derivative of order 100; 1e-8 of rounding over the step.
        assert gradient[k] == pytest.approx(slope, abs=2e-4 * max(1.0, abs(slope)))
