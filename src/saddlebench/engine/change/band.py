"""The map of change, its simultaneous band, and errors of the change for all that is read off it.

`D = M₂z₂ − M₁z₁`, both maps in one linear map `W` of the pair's readings: the best linear estimate of the
change `D = K_Δ H₂ᵀ (C + H₂K_ΔH₂ᵀ)⁻¹ y` given how backs change. Under no change its covariance is
`V = W C Wᵀ`: the readings' full covariances, what lies between different stations, where the later record
may lie off, what a shared instrument does to both, the posture. If the back did change, the error of `D` is
drawn with the change.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), eq. 2.23–2.24; Robinson, That BLUP is a
good thing, Statistical Science 6 (1991) 15–32.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.gaussian import place_rows, seen_by, square_root
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.change.laying import LaidTogether
from saddlebench.engine.change.settings import ChangeBelief, ChangeSettings
from saddlebench.engine.change.together import Together
from saddlebench.engine.frames import FloatArray

COARSE_MM = 30.0
"""The band is simulated at places about this far apart: far closer than the change can turn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Later less earlier as radii on the common grid, with what simulates its errors."""

    laid: LaidTogether
    belief: ChangeBelief
    radius_mm: FloatArray
    """(n_s, n_phi) float, back frame, the change [mm]."""
    earlier_mm: FloatArray
    """(n_s, n_phi) float, back frame, the earlier surface [mm]."""
    to_normal: FloatArray
    """(n_s, n_phi) float, back frame, depth along the normal of 1 mm of radius [1]."""
    common: NDArray[np.bool_]
    """(n_s, n_phi) whether both records measured there."""

    @property
    def grid(self) -> PolarGrid:
        """The common grid."""
        return self.laid.together.grid

    def of_readings(self, residuals_mm: FloatArray) -> FloatArray:
        """Return the changes (k, n_s, n_phi) [mm] that k sets of residuals (n, k) [mm] make."""
        together = self.laid.together
        weights = linalg.cho_solve((self.laid.changed_factor, True), residuals_mm)[together.n_earlier :]
        out = np.zeros((residuals_mm.shape[1], self.grid.n_s, self.grid.n_phi))
        for along, across in _kernels(together, self.belief):
            seen_s, seen_phi = along @ together.later.data.rows_s.T, together.later.data.rows_phi @ across
            out += (seen_s[None] * weights.T[:, None, :]) @ seen_phi
        return out

    def weights_at(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return `W` (k, n): the change at places (k,) [mm] and (k,) [rad] from the residuals [1]."""
        together = self.laid.together
        data = together.later.data
        at_s, at_phi = place_rows(self.grid, s_mm, phi)
        cross = np.zeros((len(s_mm), len(together.residual_mm)))
        for along, across in _kernels(together, self.belief):
            seen = (at_s @ along @ data.rows_s.T) * (at_phi @ across @ data.rows_phi.T)
            cross[:, together.n_earlier :] += seen
        return linalg.cho_solve((self.laid.changed_factor, True), cross.T).T

    def covariance(self, weights: FloatArray) -> FloatArray:
        """Return the covariance (k, k) [mm²] of functionals `weights` (k, n) under no change [1]."""
        spread = weights @ self.laid.together.factor
        return spread @ spread.T

    def error_variance(self, weights: FloatArray) -> float:
        """Return the variance of a sum of the change's errors about a true one, `weights` (n_s, n_phi) [1].

        `r K rᵀ − c C⁻¹ cᵀ`, `c` the covariance of the sum with the readings (Rasmussen & Williams, eq. 2.24).
        """
        together = self.laid.together
        field = np.zeros_like(weights)
        for along, across in _kernels(together, self.belief):
            field += along @ weights @ across
        cross = np.zeros(len(together.residual_mm))
        cross[together.n_earlier :] = seen_by(together.later.data, field)
        told = linalg.solve_triangular(self.laid.changed_factor, cross, lower=True)
        return float((weights * field).sum() - told @ told)

    def error_draws(self, settings: ChangeSettings) -> FloatArray:
        """Return (draws, n_s, n_phi) errors [mm] of the change about a true one."""
        together, grid = self.laid.together, self.grid
        rng = np.random.default_rng([settings.seed, 8])
        errors = together.factor @ rng.standard_normal((len(together.factor), settings.draws))
        changes = np.zeros((settings.draws, grid.n_s, grid.n_phi))
        for along, across in _kernels(together, self.belief):
            changes += square_root(along) @ (rng.standard_normal(changes.shape) @ square_root(across).T)
        errors[together.n_earlier :] += np.stack(
            [seen_by(together.later.data, change) for change in changes], axis=1
        )
        return self.of_readings(errors) - changes


def _kernels(together: Together, belief: ChangeBelief) -> list[tuple[FloatArray, FloatArray]]:
    """Return how each part of a change goes together along (n_s, n_s) [mm²] and across (n_phi, n_phi) [1]."""
    distance_s, distance_phi = node_distances(together.grid)
    return [
        (part.sd_mm**2 * matern(distance_s, part.length_s_mm), matern(distance_phi, part.length_phi))
        for part in belief.parts
    ]


def difference_of(laid: LaidTogether, settings: ChangeSettings) -> Difference:
    """Return later less earlier on the common grid."""
    together, grid = laid.together, laid.together.grid
    field = together.earlier.field
    earlier = field.estimate(field.data.radius_mm[:, None])[0]
    slope_s = np.gradient(earlier, grid.ds_mm, axis=0)
    slope_phi = np.gradient(earlier, grid.dphi, axis=1) / earlier
    place = grid.s_mm[:, None], grid.phi[None, :]
    bare = Difference(
        laid=laid,
        belief=settings.belief,
        radius_mm=np.zeros_like(earlier),
        earlier_mm=earlier,
        to_normal=1.0 / np.sqrt(1.0 + slope_s**2 + slope_phi**2),
        common=together.earlier.support.contains(*place) & together.later.support.contains(*place),
    )
    return replace(bare, radius_mm=bare.of_readings(together.residual_mm[:, None])[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """How far an unchanged pair's map wanders."""

    sd_mm: FloatArray
    """(n_s, n_phi) float, back frame, of the radius; 0 outside what both measured [mm]."""
    width: float
    """In deviations."""


def simultaneous_band(difference: Difference, settings: ChangeSettings) -> Band:
    """Return each node's deviation under no change, and the level's point of the largest |D|/sd."""
    grid, common = difference.grid, difference.common
    i, j = np.nonzero(common)
    if len(i) == 0:
        return Band(sd_mm=np.zeros(common.shape), width=np.inf)
    spread = difference.weights_at(grid.s_mm[i], grid.phi[j]) @ difference.laid.together.factor
    sd = np.linalg.norm(spread, axis=1)
    every_s = max(1, int(COARSE_MM // grid.ds_mm))
    every_phi = max(1, int(COARSE_MM // (grid.dphi * float(np.median(difference.earlier_mm)))))
    some = (i % every_s == 0) & (j % every_phi == 0)
    units = (spread[some] / sd[some, None]).astype(np.float32)
    rng = np.random.default_rng([settings.seed, 9])
    largest = np.zeros(settings.simulations)
    for start in range(0, settings.simulations, 500):
        count = min(500, settings.simulations - start)
        normals = rng.standard_normal((units.shape[1], count), dtype=np.float32)
        largest[start : start + count] = np.abs(units @ normals).max(axis=0)
    out = np.zeros(common.shape)
    out[i, j] = sd
    return Band(sd_mm=out, width=float(np.quantile(largest, 1.0 - settings.level)))
