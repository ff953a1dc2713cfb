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

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg, special

from saddlebench.engine.back.estimates import estimate_from_variance
from saddlebench.engine.back.instruments import JointedChain
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.band import Difference
from saddlebench.engine.change.results import DiscScan, Patch
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import Together
from saddlebench.engine.frames import FloatArray

EDGE = 0.3
"""A disc's depth falls from full to nothing between 1 − EDGE and 1 + EDGE of its radius: half at its rim."""
LEAST_SEEN = 2.0
"""A disc that the later record sees with less than this sum of squared readings is not tried."""
OVERLAP = 0.7
"""Patches whose middles lie nearer than this share of both radii are one patch."""
FOUND = 1.6449
"""A change is found in 95 of 100 cases when it stands so many deviations beyond the threshold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Discs:
    """Discs to be tried: places on the earlier surface, and sizes."""

    s_mm: FloatArray
    """(d,) float, back frame, middle behind the shoulder mark [mm]."""
    phi: FloatArray
    """(d,) float, back frame [rad]."""
    from_midline_mm: FloatArray
    """(d,) float, back frame, middle over the skin, positive left [mm]."""
    diameter_mm: FloatArray
    """(d,) float [mm]."""
    centre_back: FloatArray
    """(d, 3) float, back frame [mm]."""


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


def whitened(together: Together, patterns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return unit whitened patterns (n, d) [1] and each depth's deviation (d,) [mm]."""
    white = linalg.solve_triangular(together.factor, patterns, lower=True)
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


def threshold_times(records: Sequence[BackRecord], settings: ChangeSettings) -> float:
    """Return by how much the simulated threshold is raised for the instruments of two records [1]."""
    chained = any(isinstance(record.instrument, JointedChain) for record in records)
    return settings.chain_threshold_times if chained else 1.0


def scan_discs(
    difference: Difference, settings: ChangeSettings, level: float | None = None, *, times: float = 1.0
) -> Scanned | None:
    """Scan for changes, or return None where both records have too little in common.

    Patches are taken one after the other: the strongest disc's part is taken out of the readings before the
    next is looked for. A wide change leaves rims that look like its opposite beside it; a patch is therefore
    named only where the map's own estimate has its sign, by more than its deviation.

    Parameters
    ----------
    difference : Difference
    settings : ChangeSettings
    level : float
        How often an unchanged pair may show a patch; by default the settings'.
    times : float
        By how much the simulated threshold is raised (`threshold_times`) [1].
    """
    level = settings.level if level is None else level
    together = difference.laid.together
    surface = PolarSpline.through(difference.grid, difference.earlier_mm)
    discs = disc_places(together, surface, settings)
    patterns = disc_patterns(together, discs)
    keep = (patterns**2).sum(axis=0) > LEAST_SEEN
    if not keep.any():
        return None
    discs = Discs(**{name: getattr(discs, name)[keep] for name in Discs.__dataclass_fields__})
    units, sd = whitened(together, patterns[:, keep])
    threshold = times * simulated_threshold(units, settings, level)
    rest = linalg.solve_triangular(together.factor, together.residual_mm, lower=True)
    scores = units.T @ rest
    strongest = float(np.abs(scores).max())
    patches: list[Patch] = []
    basis = np.zeros((len(rest), 0))
    taken = np.zeros(len(sd), dtype=bool)
    weights = difference.weights_at(discs.s_mm, discs.phi)
    mapped = weights @ together.residual_mm
    doubt = np.linalg.norm(weights @ together.factor, axis=1)
    while len(patches) < settings.most_patches:
        # What is left of every disc beside those already taken; a disc that is nearly one of them is done.
        left = units - basis @ (basis.T @ units)
        length = np.linalg.norm(left, axis=0)
        free = (length > 0.6) & ~taken
        scores = np.where(free, (left.T @ rest) / np.where(free, length, 1.0), 0.0)
        scores = np.where(scores * mapped > np.abs(scores) * doubt, scores, 0.0)
        best = int(np.argmax(np.abs(scores)))
        if abs(scores[best]) <= threshold:
            break
        patches.append(_patch(discs, best, float(scores[best]), float(sd[best] / length[best])))
        apart = np.linalg.norm(discs.centre_back - discs.centre_back[best], axis=1)
        taken |= apart < 0.5 * (discs.diameter_mm[best] + discs.diameter_mm) * OVERLAP
        basis = np.column_stack([basis, left[:, best] / length[best]])
        rest = rest - basis[:, -1] * (basis[:, -1] @ rest)
    scan = DiscScan(
        level=level,
        threshold=threshold,
        strongest=strongest,
        patches=tuple(patches),
        n_discs=len(sd),
    )
    return Scanned(scan=scan, discs=discs, sd_mm=sd)


def _patch(discs: Discs, k: int, score: float, sd_mm: float) -> Patch:
    return Patch(
        s_mm=float(discs.s_mm[k]),
        phi=float(discs.phi[k]),
        from_midline_mm=float(discs.from_midline_mm[k]),
        diameter_mm=float(discs.diameter_mm[k]),
        depth=estimate_from_variance(score * sd_mm, sd_mm**2, "mm"),
        strength=abs(score),
    )
