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
from saddlebench.engine.change.naming import Discs, Scene, Whitened, named_patches
from saddlebench.engine.change.results import DiscScan, Patch, Unplaced
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import Together
from saddlebench.engine.change.unchanged import smooth_covariance
from saddlebench.engine.change.unplaced import unplaced
from saddlebench.engine.frames import FloatArray

EDGE = 0.3
"""A disc's depth falls from full to nothing between 1 − EDGE and 1 + EDGE of its radius: half at its rim."""
WIDE_DIAMETERS_MM = (220.0, 320.0)
"""Wider discs, by which a change is named; the scan sees them by the discs within."""
WIDE_MM, WIDE_LENGTH_MM = 10.0, 250.0
"""A wide change that a disc has to stand out from: its deviation, and over what it goes together."""
LIKELY_WIDE_MM = 4.0
"""Deviation of a wide change that competes with single discs as an account of the readings."""
LEAST_SEEN = 2.0
"""A disc that the later record sees with less than this sum of squared readings is not tried."""
FOUND = 1.6449
"""A change is found in 95 of 100 cases when it stands so many deviations beyond the threshold."""


def disc_profile(share: FloatArray) -> FloatArray:
    """Return the depth of a disc of depth 1 at distances (any shape,) float, in radii [1]."""
    falling = np.clip((1.0 + EDGE - share) / (2.0 * EDGE), 0.0, 1.0)
    return falling * falling * (3.0 - 2.0 * falling)


def disc_places(
    together: Together, surface: PolarSpline, spacing_mm: float, diameters_mm: tuple[float, ...]
) -> Discs:
    """Return discs over all that both records measured, every diameter at every place."""
    grid = together.grid
    first = max(rows.support.s_mm[0] for rows in (together.earlier, together.later))
    last = min(rows.support.s_mm[-1] for rows in (together.earlier, together.later))
    places: list[tuple[float, float, float]] = []
    for s in np.arange(first, last + 1e-9, spacing_mm):
        phi = np.linspace(grid.phi[0], grid.phi[-1], 4 * grid.n_phi)
        radius = surface.radius(np.full_like(phi, s), phi)[:, 0]
        step = np.hypot(np.diff(radius * np.sin(phi)), np.diff(radius * np.cos(phi)))
        over = np.concatenate([[0.0], np.cumsum(step)])
        over -= np.interp(0.0, phi, over)
        wanted = np.arange(np.ceil(over[0] / spacing_mm), np.floor(over[-1] / spacing_mm) + 1) * spacing_mm
        angle = np.interp(wanted, over, phi)
        held = together.earlier.support.contains(np.full_like(angle, s), angle)
        held &= together.later.support.contains(np.full_like(angle, s), angle)
        places += [(float(s), float(a), float(w)) for a, w in zip(angle[held], wanted[held], strict=True)]
    table = np.array(places).reshape(-1, 3)
    s, phi, over = (np.tile(column, len(diameters_mm)) for column in table.T)
    return Discs(
        s_mm=s,
        phi=phi,
        from_midline_mm=over,
        diameter_mm=np.repeat(np.array(diameters_mm), len(table)),
        centre_back=grid.cartesian(s, phi, surface.radius(s, phi)[:, 0]),
        spacing_mm=spacing_mm,
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
    units: FloatArray
    """(n, d) float, whitened unit patterns [1]."""


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
    discs, patterns = _seen_discs(difference, settings.disc_spacing_mm, settings.disc_diameters_mm)
    if not patterns.size:
        return None
    units, sd = whitened(together.factor, patterns)
    threshold = simulated_threshold(units, settings, level)
    rest = linalg.solve_triangular(together.factor, together.residual_mm, lower=True)
    strongest = float(np.abs(units.T @ rest).max())
    patches: tuple[Patch, ...] = ()
    known: Unplaced | None = None
    if strongest > threshold:
        scene = _scene(difference, discs, patterns, Whitened(units=units, sd_mm=sd, rest=rest))
        patches = named_patches(replace(scene, threshold=threshold, band=band), settings.most_patches)
        known = None if patches else unplaced(scene)
    scan = DiscScan(
        level=level,
        threshold=threshold,
        strongest=strongest,
        patches=patches,
        n_discs=len(sd),
        unplaced=known,
    )
    return Scanned(scan=scan, discs=discs, sd_mm=sd, units=units)


def _seen_discs(
    difference: Difference, spacing_mm: float, diameters_mm: tuple[float, ...]
) -> tuple[Discs, FloatArray]:
    """Return the discs that the later record sees enough of, and their patterns (n, d) [1]."""
    together = difference.laid.together
    surface = PolarSpline.through(difference.grid, difference.earlier_mm)
    discs = disc_places(together, surface, spacing_mm, diameters_mm)
    patterns = disc_patterns(together, discs)
    keep = (patterns**2).sum(axis=0) > LEAST_SEEN
    return discs.those(keep), patterns[:, keep]


def _scene(difference: Difference, discs: Discs, patterns: FloatArray, plain: Whitened) -> Scene:
    """Return what patches are named from, but for thresholds; `patterns` (n, d), any, the scan's [1]."""
    together = difference.laid.together
    wider, more = _seen_discs(difference, discs.spacing_mm, WIDE_DIAMETERS_MM)
    every = discs.and_those(wider)
    units, sd = whitened(together.factor, more)
    local, evidence = beside_a_wide_change(together, np.concatenate([patterns, more], axis=1))
    places, at = np.unique(np.stack([every.s_mm, every.phi], axis=1), axis=0, return_inverse=True)
    weights = difference.weights_at(*places.T)
    mapped = (weights @ together.residual_mm) / np.linalg.norm(weights @ together.factor, axis=1)
    return Scene(
        discs=every,
        tried=np.arange(len(every.s_mm)) < len(discs.s_mm),
        plain=replace(
            plain,
            units=np.concatenate([plain.units, units], axis=1),
            sd_mm=np.concatenate([plain.sd_mm, sd]),
        ),
        local=local,
        wide_evidence=evidence,
        mapped=mapped[at.ravel()],
        threshold=np.inf,
        band=np.inf,
    )


def beside_a_wide_change(together: Together, patterns: FloatArray) -> tuple[Whitened, float]:
    """Return residuals and discs whitened as if all about them had changed too, and a wide change's evidence.

    The evidence is the logarithm of a wide change's likelihood against no change, of the fitting size.

    `patterns` : (n, d) float, any frame, what 1 mm of each disc does to the readings [1].
    """
    n, later = together.n_earlier, together.later.data
    across = WIDE_LENGTH_MM / float(np.median(later.radius_mm))
    field = smooth_covariance(later, 1.0, WIDE_LENGTH_MM, across)

    def factor_with(sd_mm: float) -> FloatArray:
        covariance = together.covariance.copy()
        covariance[n:, n:] += sd_mm**2 * field
        return np.asarray(linalg.cholesky(covariance, lower=True))

    def likelihood(factor: FloatArray) -> float:
        rest = linalg.solve_triangular(factor, together.residual_mm, lower=True)
        return float(-np.log(np.diag(factor)).sum() - 0.5 * rest @ rest)

    factor = factor_with(WIDE_MM)
    units, sd = whitened(factor, patterns)
    rest = linalg.solve_triangular(factor, together.residual_mm, lower=True)
    evidence = likelihood(factor_with(LIKELY_WIDE_MM)) - likelihood(together.factor)
    return Whitened(units=units, sd_mm=sd, rest=rest), evidence
