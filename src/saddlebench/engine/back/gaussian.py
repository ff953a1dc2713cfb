"""A Gaussian process on the nodes of the polar grid, seen through a spline and correlated reading errors.

`z = H F + e`, `F = B β + f` at the nodes: `f` has the covariance `σ² K_s ⊗ K_φ` (Matérn 5/2 along and
across), `β` a weak prior of what every back is like, `e` the covariance `Σ = G Gᵀ + diag(noise²) + τ² I`. `H`
is the bicubic spline's own interpolation, so what is estimated is exactly what the solver reads. A flat prior
of β (generalised least squares) was tried: beyond the readings its draws left anything a back can be.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): eq. 2.23–2.24 (posterior), 2.40
(explicit mean functions with a Gaussian prior), 4.17 (Matérn 5/2).
"""

from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from saddlebench.engine.back.polar import PolarGrid, interpolation_rows, nodes_to_coefficients
from saddlebench.engine.frames import FloatArray

CROWN_STRETCH, CROWN_WIDTH = 0.5, 0.2
"""How much, and over what angle [rad], the midline is stretched for the correlation across."""
WITHERS_STRETCH, WITHERS_END_MM, WITHERS_BLEND_MM = 0.8, 40.0, 60.0
"""How much the back is stretched along in front of a place, and how softly, for the correlation along."""
LOIN_STRETCH, LOIN_BLEND_MM = 2.5, 40.0
"""How much it is stretched behind where the loin begins, and how softly: flank and hip turn fast there."""
MEAN_RIDGE = 0.12
"""Angle [rad] over which the mean's ridge on the midline is rounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hyperparameters:
    """What the estimate assumes of backs and readings; fixed once found."""

    sigma_mm: float
    """Standard deviation of the back about its smooth mean."""
    length_s_mm: float
    """Correlation length along the back."""
    length_phi: float
    """Correlation length across, in stretched angle [rad]."""
    tau_mm: float
    """Independent error of every point beyond what the instrument states (skin, coat, breath)."""
    loin_mm: float
    """Where the loin begins, behind which a back turns faster along [mm behind the mark]; not estimated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RadialData:
    """Readings as radii over the grid, with how each sees the nodes and what errors it carries."""

    grid: PolarGrid
    radius_mm: FloatArray
    """(n,) float [mm]."""
    weights_s: FloatArray
    """(n, n_s + 2) float, weights on spline coefficients along."""
    weights_phi: FloatArray
    """(n, n_phi + 2) float, weights on spline coefficients across."""
    rows_s: FloatArray
    """(n, n_s) float, weights on nodes along; a reading sees `rows_s[i] ⊗ rows_phi[i]`."""
    rows_phi: FloatArray
    """(n, n_phi) float, weights on nodes across."""
    error_gain: FloatArray
    """(n, m) float, radial error per standard deviation of each shared elementary error [mm]."""
    noise_mm: FloatArray
    """(n,) float, standard deviation of the independent error [mm]."""

    def __post_init__(self) -> None:
        for name in ("radius_mm", "weights_s", "weights_phi", "rows_s", "rows_phi", "error_gain", "noise_mm"):
            getattr(self, name).flags.writeable = False

    @property
    def stated_covariance(self) -> FloatArray:
        """(n, n) float [mm²], the covariance the instrument states."""
        covariance = self.error_gain @ self.error_gain.T
        covariance[np.diag_indices_from(covariance)] += self.noise_mm**2
        return covariance

    @property
    def observation(self) -> sparse.csr_array:
        """(n, (n_s + 2)·(n_phi + 2)) sparse: how readings see the spline's coefficients."""
        width = self.weights_phi.shape[1]
        row, i = np.nonzero(self.weights_s)
        value_s = self.weights_s[row, i]
        entry, j = np.nonzero(self.weights_phi[row])
        value = value_s[entry] * self.weights_phi[row[entry], j]
        shape = (len(self.radius_mm), self.weights_s.shape[1] * width)
        return sparse.csr_array((value, (row[entry], i[entry] * width + j)), shape=shape)


def matern(distance: FloatArray, length: float) -> FloatArray:
    """Return the Matérn 5/2 correlation at distance (any shape,) float, in the unit of its length.

    Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), eq. 4.17.
    """
    t = np.sqrt(5.0) * distance / length
    return (1.0 + t + t * t / 3.0) * np.exp(-t)


def matern_slope(distance: FloatArray, length: float) -> FloatArray:
    """Return its derivative by ln(length) at distance (any shape,) float, in the unit of its length."""
    t = np.sqrt(5.0) * distance / length
    return t * t * (1.0 + t) / 3.0 * np.exp(-t)


def node_distances(grid: PolarGrid, loin_mm: float | None = None) -> tuple[FloatArray, FloatArray]:
    """Return the distances between nodes along (n_s, n_s) [mm] and across (n_phi, n_phi) [rad].

    Across, the angle is stretched about the midline, where a withers' crown turns far faster than a flank;
    along, the withers are stretched, which rise and fall faster than the back behind them, and what lies
    behind `loin_mm`, if told: a shape turns fast there, while a change of flesh is as smooth as elsewhere.
    """
    across = grid.phi + CROWN_STRETCH * np.tanh(grid.phi / CROWN_WIDTH)
    in_front = -_behind(-grid.s_mm, -WITHERS_END_MM, WITHERS_BLEND_MM)
    along = grid.s_mm + WITHERS_STRETCH * in_front
    if loin_mm is not None:
        along = along + LOIN_STRETCH * _behind(grid.s_mm, loin_mm, LOIN_BLEND_MM)
    return np.abs(along[:, None] - along[None, :]), np.abs(across[:, None] - across[None, :])


def _behind(s_mm: FloatArray, place_mm: float, blend_mm: float) -> FloatArray:
    """Return how far `s` (n,) lies behind a place [mm], softly: a slope from 0 to 1, a hyperbolic tangent."""
    return np.asarray(0.5 * blend_mm * np.logaddexp(0.0, 2.0 * (s_mm - place_mm) / blend_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The smooth mean that every back has, and how far backs depart from it."""

    mean_mm: FloatArray
    """(n_s, n_phi) float, its expected value at the nodes [mm]."""
    departures: FloatArray
    """(p, n_s, n_phi) float, one standard deviation of each independent departure [mm]."""


TREND_TERMS = (
    (0, "one", 230.0, 40.0),
    (0, "ridge", -145.0, 60.0),
    (0, "square", 84.0, 30.0),
    (0, "lean", 0.0, 15.0),
    (1, "one", -37.0, 50.0),
    (1, "ridge", 17.0, 30.0),
    (1, "square", -4.0, 15.0),
    (2, "one", 18.0, 30.0),
)
"""Power of s/300 mm, function of φ, mean and deviation of each term's coefficient [mm].

Assumptions: least-squares fits of the demo's invented backs from 1.15 to 1.75 m about an axis 200 mm deep,
their spread taken three to four times.
"""


def trend_of(grid: PolarGrid) -> Trend:
    """Return the trend at a grid's nodes: a rounded ridge and a parabola across, curving along the back."""
    phi = grid.phi
    across = {
        "one": np.ones_like(phi),
        "ridge": np.sqrt(phi**2 + MEAN_RIDGE**2),
        "square": phi**2,
        "lean": phi,
    }
    terms = np.stack(
        [np.outer((grid.s_mm / 300.0) ** power, across[name]) for power, name, _, _ in TREND_TERMS]
    )
    mean = np.array([term[2] for term in TREND_TERMS])
    sd = np.array([term[3] for term in TREND_TERMS])
    return Trend(mean_mm=np.tensordot(mean, terms, axes=1), departures=sd[:, None, None] * terms)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaussianField:
    """The field given readings: the covariance of any linear functional, and what means and draws need."""

    data: RadialData
    hyper: Hyperparameters
    trend: Trend
    kernel_s: FloatArray
    """(n_s, n_s) float [mm²], σ² times the correlation along."""
    kernel_phi: FloatArray
    """(n_phi, n_phi) float [1]."""
    seen_departures: FloatArray
    """(n, p) float, the trend's departures as the readings see them [mm]."""
    error_factor: FloatArray
    """(n, n) float, lower Cholesky factor of Σ [mm]."""
    factor: FloatArray
    """(n, n) float, lower Cholesky factor of the readings' whole covariance [mm]."""
    observation: sparse.csr_array
    """How readings see the spline's coefficients."""
    frame_moves_mm: FloatArray
    """(q, n_s, n_phi) float, what one standard deviation of each error of the record's frame does to the
    radius [mm]: no reading knows of it, so the mean stays and every covariance grows by it."""

    def __post_init__(self) -> None:
        for name in ("kernel_s", "kernel_phi", "seen_departures", "error_factor", "factor", "frame_moves_mm"):
            getattr(self, name).flags.writeable = False

    def estimate(self, readings_mm: FloatArray) -> FloatArray:
        """Return the posterior mean at the nodes (eq. 2.23 about the trend's mean).

        Parameters
        ----------
        readings_mm : (n, k) float, k sets of radii at the measured places [mm]

        Returns
        -------
        (k, n_s, n_phi) float, back frame [mm]
        """
        expected = seen_by(self.data, self.trend.mean_mm)
        return self.trend.mean_mm + self.correction(readings_mm - expected[:, None])

    def correction(self, residuals_mm: FloatArray) -> FloatArray:
        """Return what residuals (n, k) of the readings [mm] say at the nodes, (k, n_s, n_phi) [mm]."""
        grid = self.data.grid
        weights = linalg.cho_solve((self.factor, True), residuals_mm)
        seen = (self.observation.T @ weights).T.reshape(-1, grid.n_s + 2, grid.n_phi + 2)
        out = (self.kernel_s @ nodes_to_coefficients(grid.n_s).T) @ (
            seen @ (nodes_to_coefficients(grid.n_phi) @ self.kernel_phi)
        )
        out += np.tensordot(weights.T @ self.seen_departures, self.trend.departures, axes=1)
        return out

    def standard_deviation(self) -> FloatArray:
        """Return the posterior standard deviation at the nodes (eq. 2.24), (n_s, n_phi) [mm]."""
        grid, data = self.data.grid, self.data
        along, across = data.rows_s @ self.kernel_s, data.rows_phi @ self.kernel_phi
        cross = (along[:, :, None] * across[:, None, :]).reshape(len(along), -1)
        departures = self.trend.departures.reshape(len(self.trend.departures), -1)
        cross += self.seen_departures @ departures
        explained = linalg.solve_triangular(self.factor, cross, lower=True, overwrite_b=True)
        variance = np.outer(np.diag(self.kernel_s), np.diag(self.kernel_phi)).ravel()
        variance += (departures**2).sum(axis=0) - np.einsum("ij,ij->j", explained, explained)
        within = np.maximum(variance, 0.0).reshape(grid.n_s, grid.n_phi)
        return np.sqrt(within + (self.frame_moves_mm**2).sum(axis=0))

    def covariance(self, functionals: FloatArray) -> FloatArray:
        """Return the posterior covariance of linear functionals of the nodes.

        Parameters
        ----------
        functionals : (k, n_s, n_phi) float, weights on the nodes [1]

        Returns
        -------
        (k, k) float [mm²]
        """
        smoothed = self.kernel_s @ functionals @ self.kernel_phi
        departures = np.tensordot(functionals, self.trend.departures, axes=([1, 2], [1, 2]))
        prior = np.tensordot(functionals, smoothed, axes=([1, 2], [1, 2])) + departures @ departures.T
        cross = np.stack([seen_by(self.data, one) for one in smoothed], axis=1)
        cross += self.seen_departures @ departures.T
        explained = linalg.solve_triangular(self.factor, cross, lower=True)
        moved = np.tensordot(functionals, self.frame_moves_mm, axes=([1, 2], [1, 2]))
        return prior - explained.T @ explained + moved @ moved.T

    def covariance_at(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return the posterior covariance (k, k) [mm²] of the radius at places (k,) [mm] and (k,) [rad]."""
        along, across = place_rows(self.data.grid, s_mm, phi)
        return self.covariance(along[:, :, None] * across[:, None, :])


def square_root(covariance: FloatArray) -> FloatArray:
    """Return a lower factor (n, n) of a covariance that may be singular to rounding."""
    # Matérn 5/2 on a fine grid is close to singular; 1e-10 of its variance is 1e-5 of its deviation.
    jitter = 1e-10 * float(np.mean(np.diag(covariance)))
    return linalg.cholesky(covariance + jitter * np.eye(len(covariance)), lower=True)


def seen_by(data: RadialData, nodes_mm: FloatArray) -> FloatArray:
    """Return (n,) float [mm], a field of nodes (n_s, n_phi) as the readings see it."""
    return ((data.rows_s @ nodes_mm) * data.rows_phi).sum(axis=1)


def seen_departures(data: RadialData, trend: Trend) -> FloatArray:
    """Return (n, p) float [mm], the trend's departures as the readings see them."""
    return np.stack([seen_by(data, one) for one in trend.departures], axis=1)


def place_rows(grid: PolarGrid, s_mm: FloatArray, phi: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return weights on nodes along (k, n_s) and across (k, n_phi) of places (k,) [mm] and (k,) [rad]."""
    return (
        interpolation_rows(grid.n_s, (np.asarray(s_mm) - grid.s0_mm) / grid.ds_mm),
        interpolation_rows(grid.n_phi, (np.asarray(phi) - grid.phi0) / grid.dphi),
    )


def condition(data: RadialData, hyper: Hyperparameters) -> GaussianField:
    """Return the field given readings and hyperparameters, within the record's own frame."""
    distance_s, distance_phi = node_distances(data.grid, hyper.loin_mm)
    kernel_s = hyper.sigma_mm**2 * matern(distance_s, hyper.length_s_mm)
    kernel_phi = matern(distance_phi, hyper.length_phi)
    error = data.stated_covariance
    error[np.diag_indices_from(error)] += hyper.tau_mm**2
    trend = trend_of(data.grid)
    departures = seen_departures(data, trend)
    seen = (data.rows_s @ kernel_s @ data.rows_s.T) * (data.rows_phi @ kernel_phi @ data.rows_phi.T)
    return GaussianField(
        data=data,
        hyper=hyper,
        trend=trend,
        kernel_s=kernel_s,
        kernel_phi=kernel_phi,
        seen_departures=departures,
        error_factor=linalg.cholesky(error, lower=True),
        factor=linalg.cholesky(seen + departures @ departures.T + error, lower=True),
        observation=data.observation,
        frame_moves_mm=np.zeros((0, data.grid.n_s, data.grid.n_phi)),
    )
