"""Hyperparameters by restricted maximum likelihood, held to what backs can be by weak priors.

The smooth mean's coefficients are integrated out under their own weak prior: restricted maximum likelihood
with that prior in place of a flat one. `2L = ln|V| + rᵀV⁻¹r` up to a constant, `V` the readings' whole
covariance, `r` what is left of them beside the expected mean, and `2∂L = tr(V⁻¹ ∂V) − rᵀV⁻¹ ∂V V⁻¹r`. The
logarithms of the hyperparameters carry independent normal priors, so that three cross-sections do not
collapse a length they cannot show.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), eq. 2.43, 5.8 and 5.9; Patterson &
Thompson, Recovery of inter-block information when block sizes are unequal, Biometrika 58 (1971) 545–554.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import optimize

from saddlebench.engine.back.correlation import matern, matern_slope, node_distances
from saddlebench.engine.back.gaussian import Hyperparameters, RadialData, seen_by, seen_departures
from saddlebench.engine.back.trend import TREND_TERMS, trend_of
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """A log-normal belief about one hyperparameter, and the bounds it may not leave."""

    median: float
    ln_sd: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """Beliefs about the hyperparameters (assumptions, found on the invented backs of the demo)."""

    sigma_mm: Prior = Prior(median=20.0, ln_sd=0.4, low=2.0, high=80.0)
    length_s_mm: Prior = Prior(median=225.0, ln_sd=0.25, low=70.0, high=600.0)
    length_phi: Prior = Prior(median=1.15, ln_sd=0.3, low=0.25, high=3.0)
    tau_mm: Prior = Prior(median=0.3, ln_sd=0.7, low=0.05, high=6.0)
    hips_mm: Prior = Prior(median=7.0, ln_sd=0.5, low=0.5, high=40.0)
    """Of five meshes of three real horses: 4 to 12 mm, each by its own sections."""

    def for_positions(self, n_positions: int) -> "Priors":
        """Return beliefs held harder where few cross-sections say little of what lies between them."""
        doubt = min(1.0, (n_positions - 1) / 6.0)
        return replace(
            self,
            sigma_mm=replace(self.sigma_mm, ln_sd=self.sigma_mm.ln_sd * doubt),
            length_s_mm=replace(self.length_s_mm, ln_sd=self.length_s_mm.ln_sd * doubt),
        )

    @property
    def in_order(self) -> tuple[Prior, Prior, Prior, Prior, Prior]:
        """In the order of the optimiser's vector."""
        return self.sigma_mm, self.length_s_mm, self.length_phi, self.tau_mm, self.hips_mm

    def medians(self, loin_mm: float) -> Hyperparameters:
        """Return what is believed before any reading of a back whose loin begins there [mm]."""
        return hyperparameters(np.log([prior.median for prior in self.in_order]), loin_mm)


def hyperparameters(logarithms: FloatArray, loin_mm: float) -> Hyperparameters:
    """Return the hyperparameters from ln(σ, ℓ_s, ℓ_φ, τ, η), (5,) float, and where the loin begins [mm]."""
    sigma, length_s, length_phi, tau, hips = (float(value) for value in np.exp(logarithms))
    return Hyperparameters(
        sigma_mm=sigma, length_s_mm=length_s, length_phi=length_phi, tau_mm=tau, hips_mm=hips, loin_mm=loin_mm
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Restricted:
    """What the likelihood needs of the readings, made once."""

    data: RadialData
    residual_mm: FloatArray
    """(n,) float, readings less the expected mean [mm]."""
    fixed: FloatArray
    """(n, n) float, covariance that no hyperparameter changes: stated errors, the mean's terms [mm²]."""
    sides: FloatArray
    """(n, n) float, covariance of flanks and hips of deviation 1 behind the loin's beginning [1]."""
    distance_s: FloatArray
    """(n_s, n_s) float, between nodes along the back, withers stretched [mm]."""
    distance_phi: FloatArray
    """(n_phi, n_phi) float, between nodes across, midline stretched [rad]."""
    priors: Priors

    @classmethod
    def of(cls, data: RadialData, priors: Priors, loin_mm: float) -> "Restricted":
        """Return the fixed parts for these readings."""
        distance_s, distance_phi = node_distances(data.grid)
        trend = trend_of(data.grid, loin_mm, hips_mm=1.0)
        seen = seen_departures(data, trend)
        terms, sides = seen[:, : len(TREND_TERMS)], seen[:, len(TREND_TERMS) :]
        return cls(
            data=data,
            residual_mm=data.radius_mm - seen_by(data, trend.mean_mm),
            fixed=data.stated_covariance + terms @ terms.T,
            sides=sides @ sides.T,
            distance_s=distance_s,
            distance_phi=distance_phi,
            priors=priors,
        )

    def value_and_gradient(self, logarithms: FloatArray) -> tuple[float, FloatArray]:
        """Return the penalised negative log-likelihood and its gradient by ln(σ, ℓ_s, ℓ_φ, τ, η)."""
        sigma, length_s, length_phi, tau, hips = np.exp(logarithms)
        rows_s, rows_phi, r = self.data.rows_s, self.data.rows_phi, self.residual_mm
        along = sigma**2 * (rows_s @ matern(self.distance_s, length_s) @ rows_s.T)
        across = rows_phi @ matern(self.distance_phi, length_phi) @ rows_phi.T
        along_slope = sigma**2 * (rows_s @ matern_slope(self.distance_s, length_s) @ rows_s.T)
        across_slope = rows_phi @ matern_slope(self.distance_phi, length_phi) @ rows_phi.T
        covariance = along * across + self.fixed + hips**2 * self.sides
        covariance[np.diag_indices_from(covariance)] += tau**2
        # numpy throughout: going to and fro between two threaded BLAS libraries costs several times the work.
        factor = np.linalg.cholesky(covariance)
        inverse_factor = np.linalg.solve(factor, np.eye(len(r)))
        inverse = inverse_factor.T @ inverse_factor
        weighted = inverse @ r
        value = np.log(np.diag(factor)).sum() + 0.5 * float(r @ weighted)
        sensitivity = inverse - np.outer(weighted, weighted)
        gradient = 0.5 * np.array(
            [
                2.0 * np.sum(sensitivity * (along * across)),
                np.sum(sensitivity * (along_slope * across)),
                np.sum(sensitivity * (along * across_slope)),
                2.0 * tau**2 * np.trace(sensitivity),
                2.0 * hips**2 * np.sum(sensitivity * self.sides),
            ]
        )
        for k, prior in enumerate(self.priors.in_order):
            away = (logarithms[k] - np.log(prior.median)) / prior.ln_sd
            value += 0.5 * away**2
            gradient[k] += away / prior.ln_sd
        return float(value), gradient


def restricted_maximum_likelihood(
    data: RadialData, n_positions: int, loin_mm: float, priors: Priors | None = None
) -> Hyperparameters:
    """Return the most likely hyperparameters, by L-BFGS-B with the analytic gradient.

    Parameters
    ----------
    data : RadialData
    n_positions : int
        Count of distinct places along the back that were measured.
    loin_mm : float
        Where the loin begins, behind the shoulder mark.
    priors : Priors, optional
    """
    priors = (priors or Priors()).for_positions(n_positions)
    problem = Restricted.of(data, priors, loin_mm)
    start = np.log([prior.median for prior in priors.in_order])
    bounds = [(np.log(prior.low), np.log(prior.high)) for prior in priors.in_order]
    found = optimize.minimize(
        problem.value_and_gradient,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 60, "ftol": 1e-7, "gtol": 1e-3},
    )
    return hyperparameters(found.x, loin_mm)
