"""A Gaussian process on the nodes of the polar grid, seen through a spline and correlated reading errors.

`z = H F + e`, `F = B β + f` at the nodes: `f` has the covariance `σ² K_s ⊗ K_φ` (Matérn 5/2 along and
across), `β` a flat prior, `e` the covariance `Σ = G Gᵀ + diag(noise²) + τ² I`. `H` is the bicubic spline's
own interpolation, so what is estimated is exactly what the solver reads.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): eq. 2.23–2.24 (posterior), 2.41–2.42
(explicit mean functions with a flat prior), 4.17 (Matérn 5/2).
"""

from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from saddlebench.engine.back.polar import PolarGrid, interpolation_rows, nodes_to_coefficients
from saddlebench.engine.frames import FloatArray

CROWN_STRETCH, CROWN_WIDTH = 0.5, 0.2
"""How much, and over what angle [rad], the midline is stretched for the correlation across."""
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
    """Return the Matérn 5/2 correlation (Rasmussen & Williams eq. 4.17) at distances of any shape."""
    t = np.sqrt(5.0) * distance / length
    return (1.0 + t + t * t / 3.0) * np.exp(-t)


def matern_slope(distance: FloatArray, length: float) -> FloatArray:
    """Return the derivative of the Matérn 5/2 correlation by the logarithm of its length."""
    t = np.sqrt(5.0) * distance / length
    return t * t * (1.0 + t) / 3.0 * np.exp(-t)


def node_distances(grid: PolarGrid) -> tuple[FloatArray, FloatArray]:
    """Return the distances between nodes along (n_s, n_s) [mm] and across (n_phi, n_phi) [rad].

    Across, the angle is stretched about the midline, where a withers' crown turns far faster than a flank.
    """
    stretched = grid.phi + CROWN_STRETCH * np.tanh(grid.phi / CROWN_WIDTH)
    return (
        np.abs(grid.s_mm[:, None] - grid.s_mm[None, :]),
        np.abs(stretched[:, None] - stretched[None, :]),
    )


Term = tuple[FloatArray, FloatArray]
"""A function along (n_s,) and one across (n_phi,), whose product is a term of the mean."""


def mean_terms(grid: PolarGrid, n_positions: int) -> tuple[Term, ...]:
    """Return the mean's terms as products of a function along and one across, at the nodes.

    Constant, trend and (from four cross-sections on) curvature along; a rounded ridge and a parabola across,
    each with a trend along; and a lean to one side. They carry what every back has, so that the process
    itself need only explain how this one differs.

    Parameters
    ----------
    grid : PolarGrid
    n_positions : int
        Count of distinct places along the back that were measured.

    Returns
    -------
    tuple of ((n_s,), (n_phi,)) float arrays
    """
    s = grid.s_mm / 300.0
    phi = grid.phi
    one_s, one_phi = np.ones_like(s), np.ones_like(phi)
    ridge = np.sqrt(phi**2 + MEAN_RIDGE**2)
    terms = [(one_s, one_phi), (one_s, ridge), (one_s, phi**2), (one_s, phi), (s, one_phi)]
    if n_positions >= 3:
        terms += [(s, ridge), (s, phi**2)]
    if n_positions >= 4:
        terms += [(s**2, one_phi)]
    return tuple(terms)


def trend_rows(data: RadialData, terms: tuple[Term, ...]) -> FloatArray:
    """Return (n, p) float: the mean's terms as the readings see them."""
    return np.stack([(data.rows_s @ along) * (data.rows_phi @ across) for along, across in terms], axis=1)


def independent_terms(data: RadialData, terms: tuple[Term, ...]) -> tuple[Term, ...]:
    """Return the terms that the readings can tell apart, dropping each that repeats those before it."""
    kept: list[Term] = []
    basis = np.zeros((len(data.radius_mm), 0))
    for term, column in zip(terms, trend_rows(data, terms).T, strict=True):
        size = float(np.linalg.norm(column))
        rest = column - basis @ (basis.T @ column)
        rest -= basis @ (basis.T @ rest)
        left = float(np.linalg.norm(rest))
        # Ten times the rounding of a column met twice would already pass a smaller limit.
        if left > 1e-6 * size:
            kept.append(term)
            basis = np.column_stack([basis, rest / left])
    return tuple(kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaussianField:
    """The field given readings: the covariance of any linear functional, and what means and draws need."""

    data: RadialData
    hyper: Hyperparameters
    terms: tuple[Term, ...]
    kernel_s: FloatArray
    """(n_s, n_s) float [mm²], σ² times the correlation along."""
    kernel_phi: FloatArray
    """(n_phi, n_phi) float [1]."""
    error_factor: FloatArray
    """(n, n) float, lower Cholesky factor of Σ [mm]."""
    factor: FloatArray
    """(n, n) float, lower Cholesky factor of the readings' whole covariance [mm]."""
    trend: FloatArray
    """(n, p) float, the mean's terms as the readings see them."""
    whitened_trend: FloatArray
    """(n, p) float, the trend after `factor`."""
    observation: sparse.csr_array
    """How readings see the spline's coefficients."""

    def estimate(self, readings_mm: FloatArray) -> FloatArray:
        """Return the posterior mean at the nodes (eq. 2.41), for many sets of readings at once.

        Parameters
        ----------
        readings_mm : (n, k) float, k sets of radii at the measured places [mm]

        Returns
        -------
        (k, n_s, n_phi) float, back frame [mm]
        """
        grid = self.data.grid
        whitened = linalg.solve_triangular(self.factor, readings_mm, lower=True)
        beta = linalg.lstsq(self.whitened_trend, whitened)[0]
        rest = whitened - self.whitened_trend @ beta
        weights = linalg.solve_triangular(self.factor, rest, lower=True, trans="T")
        seen = (self.observation.T @ weights).T.reshape(-1, grid.n_s + 2, grid.n_phi + 2)
        out = (self.kernel_s @ nodes_to_coefficients(grid.n_s).T) @ (
            seen @ (nodes_to_coefficients(grid.n_phi) @ self.kernel_phi)
        )
        for k, (along, across) in enumerate(self.terms):
            out += beta[k][:, None, None] * np.outer(along, across)
        return out

    def standard_deviation(self) -> FloatArray:
        """Return the posterior standard deviation at the nodes (eq. 2.24 and 2.42), (n_s, n_phi) [mm]."""
        grid, data = self.data.grid, self.data
        along, across = data.rows_s @ self.kernel_s, data.rows_phi @ self.kernel_phi
        cross = (along[:, :, None] * across[:, None, :]).reshape(len(along), -1)
        trend = np.stack([np.outer(a, b).ravel() for a, b in self.terms], axis=1)
        explained, missing = self._reduced(cross, trend)
        variance = np.outer(np.diag(self.kernel_s), np.diag(self.kernel_phi)).ravel()
        variance -= np.einsum("ij,ij->j", explained, explained)
        variance += np.einsum("ij,ij->j", missing, missing)
        return np.sqrt(np.maximum(variance, 0.0)).reshape(grid.n_s, grid.n_phi)

    def covariance(self, functionals: FloatArray) -> FloatArray:
        """Return the posterior covariance of linear functionals of the nodes.

        Parameters
        ----------
        functionals : (k, n_s, n_phi) float, weights on the nodes [1]

        Returns
        -------
        (k, k) float [mm²]
        """
        data = self.data
        smoothed = self.kernel_s @ functionals @ self.kernel_phi
        prior = np.tensordot(functionals, smoothed, axes=([1, 2], [1, 2]))
        cross = np.stack([((data.rows_s @ one) * data.rows_phi).sum(axis=1) for one in smoothed], axis=1)
        trend = np.stack([functionals @ across @ along for along, across in self.terms], axis=1)
        explained, missing = self._reduced(cross, trend)
        return prior - explained.T @ explained + missing.T @ missing

    def covariance_at(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return the posterior covariance (k, k) [mm²] of the radius at places (k,) [mm] and (k,) [rad]."""
        along, across = place_rows(self.data.grid, s_mm, phi)
        return self.covariance(along[:, :, None] * across[:, None, :])

    def _reduced(self, cross: FloatArray, trend: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what the readings explain of each column, and what the mean's own uncertainty adds."""
        explained = linalg.solve_triangular(self.factor, cross, lower=True)
        mean_factor = np.linalg.qr(self.whitened_trend, mode="r")
        missing = linalg.solve_triangular(
            mean_factor, trend.T - self.whitened_trend.T @ explained, lower=False, trans="T"
        )
        return explained, missing


def place_rows(grid: PolarGrid, s_mm: FloatArray, phi: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return weights on nodes along (k, n_s) and across (k, n_phi) of places (k,) [mm] and (k,) [rad]."""
    return (
        interpolation_rows(grid.n_s, (np.asarray(s_mm) - grid.s0_mm) / grid.ds_mm),
        interpolation_rows(grid.n_phi, (np.asarray(phi) - grid.phi0) / grid.dphi),
    )


def condition(data: RadialData, hyper: Hyperparameters, n_positions: int) -> GaussianField:
    """Return the field given readings and hyperparameters.

    Parameters
    ----------
    data : RadialData
    hyper : Hyperparameters
    n_positions : int
        Count of distinct places along the back that were measured.
    """
    distance_s, distance_phi = node_distances(data.grid)
    kernel_s = hyper.sigma_mm**2 * matern(distance_s, hyper.length_s_mm)
    kernel_phi = matern(distance_phi, hyper.length_phi)
    error = data.stated_covariance
    error[np.diag_indices_from(error)] += hyper.tau_mm**2
    seen = (data.rows_s @ kernel_s @ data.rows_s.T) * (data.rows_phi @ kernel_phi @ data.rows_phi.T)
    factor = linalg.cholesky(seen + error, lower=True)
    terms = independent_terms(data, mean_terms(data.grid, n_positions))
    trend = trend_rows(data, terms)
    return GaussianField(
        data=data,
        hyper=hyper,
        terms=terms,
        kernel_s=kernel_s,
        kernel_phi=kernel_phi,
        error_factor=linalg.cholesky(error, lower=True),
        factor=factor,
        trend=trend,
        whitened_trend=linalg.solve_triangular(factor, trend, lower=True),
        observation=data.observation,
    )
