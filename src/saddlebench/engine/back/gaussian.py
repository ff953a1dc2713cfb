"""A Gaussian process on the nodes of the polar grid, seen through a spline and correlated reading errors.

`z = H F + e`, `F = B β + f` at the nodes: `f` has the covariance `σ² K_s ⊗ K_φ` (Matérn 5/2 along and
across), `β` a weak prior of what every back is like, `e` the covariance `Σ = G Gᵀ + diag(noise²) + τ² I`. `H`
is the bicubic spline's own interpolation, so what is estimated is exactly what the solver reads. A flat prior
of β (generalised least squares) was tried: beyond the readings its draws left anything a back can be.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): eq. 2.23–2.24 (posterior), 2.40
(explicit mean functions with a Gaussian prior).
"""

from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.polar import PolarGrid, interpolation_rows, nodes_to_coefficients
from saddlebench.engine.back.trend import Trend, trend_of
from saddlebench.engine.frames import FloatArray


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
    hips_mm: float
    """Standard deviation of flanks and hips behind the loin's beginning about the smooth back."""
    loin_mm: float
    """Where the loin begins, whose sides turn faster [mm behind the shoulder mark]; told, not found."""


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
    distance_s, distance_phi = node_distances(data.grid)
    kernel_s = hyper.sigma_mm**2 * matern(distance_s, hyper.length_s_mm)
    kernel_phi = matern(distance_phi, hyper.length_phi)
    error = data.stated_covariance
    error[np.diag_indices_from(error)] += hyper.tau_mm**2
    trend = trend_of(data.grid, hyper.loin_mm, hyper.hips_mm)
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
