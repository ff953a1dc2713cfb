"""Is there a change at all, and where: a scan over discs by generalised least squares in reading space.

For a disc with the pattern `x` (what 1 mm of it does to the later record's readings) the best estimate of its
depth is `a = xᵀC⁻¹y / xᵀC⁻¹x` with variance `1 / xᵀC⁻¹x`, `C` the readings' covariance under no change. The
largest |a|/sd over all discs is compared with the 95 % point of the same maximum on unchanged backs, by
simulation, so that looking in hundreds of places costs no false alarm.

References
----------
Aitken, On least squares and linear combinations of observations, Proc. R. Soc. Edinb. 55 (1936) 42–48;
Kulldorff, A spatial scan statistic, Commun. Stat. Theory Methods 26 (1997) 1481–1496 (the maximum over
windows, its distribution by simulation).
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import linalg, special

from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.change.band import Difference
from saddlebench.engine.change.naming import Discs, Whitened, named_patches
from saddlebench.engine.change.results import DiscScan, Patch
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import Together, smooth_covariance
from saddlebench.engine.frames import FloatArray

EDGE = 0.3
"""A disc's depth falls from full to nothing between 1 − EDGE and 1 + EDGE of its radius: half at its rim."""
OF_EACH = ("s_mm", "phi", "from_midline_mm", "diameter_mm", "centre_back")
WIDE_MM, WIDE_LENGTH_MM = 10.0, 250.0
"""A wide change that a disc has to stand out from: its deviation, and over what it goes together."""
LEAST_SEEN = 2.0
"""A disc that the later record sees with less than this sum of squared readings is not tried."""
FOUND = 1.6449
"""A change is found in 95 of 100 cases when it stands so many deviations beyond the threshold."""


def disc_profile(share: FloatArray) -> FloatArray:
    """Return the depth of a disc of depth 1 at distances (any shape,) float, in radii [1]."""
    falling = np.clip((1.0 + EDGE - share) / (2.0 * EDGE), 0.0, 1.0)
    return falling * falling * (3.0 - 2.0 * falling)


def disc_places(together: Together, surface: PolarSpline, settings: ChangeSettings) -> Discs:
    """Return discs over all that both records measured, every diameter at every place."""
    grid, spacing = together.grid, settings.disc_spacing_mm
    first = max(rows.support.s_mm[0] for rows in (together.earlier, together.later))
    last = min(rows.support.s_mm[-1] for rows in (together.earlier, together.later))
    places: list[tuple[float, float, float]] = []
    for s in np.arange(first, last + 1e-9, spacing):
        phi = np.linspace(grid.phi[0], grid.phi[-1], 4 * grid.n_phi)
        radius = surface.radius(np.full_like(phi, s), phi)[:, 0]
        step = np.hypot(np.diff(radius * np.sin(phi)), np.diff(radius * np.cos(phi)))
        over = np.concatenate([[0.0], np.cumsum(step)])
        over -= np.interp(0.0, phi, over)
        wanted = np.arange(np.ceil(over[0] / spacing), np.floor(over[-1] / spacing) + 1) * spacing
        angle = np.interp(wanted, over, phi)
        held = together.earlier.support.contains(np.full_like(angle, s), angle)
        held &= together.later.support.contains(np.full_like(angle, s), angle)
        places += [(float(s), float(a), float(w)) for a, w in zip(angle[held], wanted[held], strict=True)]
    table = np.array(places).reshape(-1, 3)
    diameters = np.array(settings.disc_diameters_mm)
    s, phi, over = (np.tile(column, len(diameters)) for column in table.T)
    return Discs(
        s_mm=s,
        phi=phi,
        from_midline_mm=over,
        diameter_mm=np.repeat(diameters, len(table)),
        centre_back=grid.cartesian(s, phi, surface.radius(s, phi)[:, 0]),
        spacing_mm=spacing,
    )


def disc_patterns(together: Together, discs: Discs) -> FloatArray:
    """Return what 1 mm of each disc, along the normal, does to every reading, (n, d) float [1]."""
    later = together.later
    apart = np.linalg.norm(later.points_back[:, None, :] - discs.centre_back[None, :, :], axis=2)
    seen = disc_profile(apart / (0.5 * discs.diameter_mm)) * later.to_radius[:, None]
    return np.concatenate([np.zeros((together.n_earlier, seen.shape[1])), seen])


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """A scan with what the map needs of it."""

    scan: DiscScan
    discs: Discs
    sd_mm: FloatArray
    """(d,) float, deviation of each disc's depth [mm]."""


def whitened(factor: FloatArray, patterns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return unit whitened patterns (n, d) [1] and each depth's deviation (d,) [mm].

    `factor` : (n, n) float, any frame, lower Cholesky factor of the readings' covariance [mm];
    `patterns` : (n, d) float, any frame, what 1 mm of each disc does to the readings [1].
    """
    white = linalg.solve_triangular(factor, patterns, lower=True)
    length = np.linalg.norm(white, axis=0)
    return white / length, 1.0 / length


def simulated_threshold(units: FloatArray, settings: ChangeSettings, level: float) -> float:
    """Return what the largest |depth|/sd of an unchanged pair exceeds with probability `level`.

    `units` : (n, d) float, any frame, whitened unit patterns [1].

    Under no change the whitened residual is standard normal, so the simulation needs nothing else. Levels
    below 1 in 100 are read off the 5 % point by the number of independent places that it amounts to.
    """
    rng = np.random.default_rng([settings.seed, 7])
    wide = units.astype(np.float32)
    largest = np.zeros(settings.simulations)
    for start in range(0, settings.simulations, 500):
        some = rng.standard_normal((min(500, settings.simulations - start), len(units)), dtype=np.float32)
        largest[start : start + len(some)] = np.abs(some @ wide).max(axis=1)
    if level >= 0.01:
        return float(np.quantile(largest, 1.0 - level))
    at = float(np.quantile(largest, 0.95))
    places = np.log(0.95) / np.log1p(-2.0 * special.ndtr(-at))
    return float(-special.ndtri(-0.5 * np.expm1(np.log1p(-level) / places)))


def scan_discs(
    difference: Difference, settings: ChangeSettings, band: float, level: float | None = None
) -> Scanned | None:
    """Scan for changes, or return None where both records have too little in common.

    Parameters
    ----------
    difference : Difference
    settings : ChangeSettings
    band : in deviations, outside which the map shows a change
    level : float
        How often an unchanged pair may show a patch; by default the settings'.
    """
    level = settings.level if level is None else level
    together = difference.laid.together
    surface = PolarSpline.through(difference.grid, difference.earlier_mm)
    discs = disc_places(together, surface, settings)
    patterns = disc_patterns(together, discs)
    keep = (patterns**2).sum(axis=0) > LEAST_SEEN
    if not keep.any():
        return None
    discs = replace(discs, **{name: getattr(discs, name)[keep] for name in OF_EACH})
    units, sd = whitened(together.factor, patterns[:, keep])
    threshold = simulated_threshold(units, settings, level)
    rest = linalg.solve_triangular(together.factor, together.residual_mm, lower=True)
    plain = Whitened(units=units, sd_mm=sd, rest=rest)
    strongest = float(np.abs(units.T @ rest).max())
    patches: tuple[Patch, ...] = ()
    if strongest > threshold:
        weights = difference.weights_at(discs.s_mm, discs.phi)
        mapped = (weights @ together.residual_mm) / np.linalg.norm(weights @ together.factor, axis=1)
        local = beside_a_wide_change(together, patterns[:, keep])
        patches = named_patches(
            discs, plain, local, mapped, threshold=threshold, band=band, most=settings.most_patches
        )
    scan = DiscScan(level=level, threshold=threshold, strongest=strongest, patches=patches, n_discs=len(sd))
    return Scanned(scan=scan, discs=discs, sd_mm=sd)


def beside_a_wide_change(together: Together, patterns: FloatArray) -> Whitened:
    """Return residuals and discs whitened as if all about them had changed too.

    `patterns` : (n, d) float, any frame, what 1 mm of each disc does to the readings [1].
    """
    n, later = together.n_earlier, together.later.data
    covariance = together.covariance.copy()
    across = WIDE_LENGTH_MM / float(np.median(later.radius_mm))
    covariance[n:, n:] += smooth_covariance(later, WIDE_MM, WIDE_LENGTH_MM, across)
    factor = linalg.cholesky(covariance, lower=True)
    units, sd = whitened(factor, patterns)
    rest = linalg.solve_triangular(factor, together.residual_mm, lower=True)
    return Whitened(units=units, sd_mm=sd, rest=rest)
