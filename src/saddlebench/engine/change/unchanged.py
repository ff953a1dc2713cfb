"""How two records of one unchanged back scatter: every error of either, and what both have in common."""

import numpy as np

from saddlebench.engine.back.correlation import matern, node_distances
from saddlebench.engine.back.gaussian import Hyperparameters, RadialData
from saddlebench.engine.change.readings import Rows
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.frames import FloatArray

STANDING = "zero of "
"""How the sources of an instrument's own standing errors begin: its joints' and pins' zeros."""


def unchanged_covariance(
    earlier: Rows,
    later: Rows,
    first_gain: FloatArray,
    gain: FloatArray,
    hyper: Hyperparameters,
    settings: ChangeSettings,
    *,
    shares_device: bool,
) -> FloatArray:
    """Return the covariance (n, n) of both records' readings under no change [mm²]."""
    field, n = earlier.field, len(earlier.data.radius_mm)
    rows_s = np.concatenate([earlier.data.rows_s, later.data.rows_s])
    rows_phi = np.concatenate([earlier.data.rows_phi, later.data.rows_phi])
    departures = np.concatenate([earlier.field.seen_departures, later.field.seen_departures])
    out = (rows_s @ field.kernel_s @ rows_s.T) * (rows_phi @ field.kernel_phi @ rows_phi.T)
    out += departures @ departures.T
    for rows, more, part in (
        (earlier, first_gain, slice(0, n)),
        (later, gain, slice(n, len(out))),
    ):
        own = rows.data.stated_covariance + more @ more.T
        own[np.diag_indices_from(own)] += hyper.tau_mm**2
        own += flesh_covariance(rows.data, rows.to_radius, settings)
        out[part, part] += own
    if shares_device:
        crossing = _standing(earlier, later)
        out[:n, n:] += crossing
        out[n:, :n] += crossing.T
    return out


def _standing(earlier: Rows, later: Rows) -> FloatArray:
    """Return the covariance (n₁, n₂) that one instrument's standing errors put between its two records."""
    at = {source: k for k, source in enumerate(later.sources) if source.startswith(STANDING)}
    pairs = [(k, at[source]) for k, source in enumerate(earlier.sources) if source in at]
    first, second = np.array(pairs, dtype=int).reshape(-1, 2).T
    return earlier.data.error_gain[:, first] @ later.data.error_gain[:, second].T


def flesh_covariance(data: RadialData, to_radius: FloatArray, settings: ChangeSettings) -> FloatArray:
    """Return the covariance (n, n) of one day's flesh at readings, `to_radius` (n,) each [mm²]."""
    posture = settings.posture
    across = posture.flesh_length_mm / float(np.median(data.radius_mm))
    spread = smooth_covariance(data, posture.flesh_mm, posture.flesh_length_mm, across)
    return spread * np.outer(to_radius, to_radius)


def smooth_covariance(data: RadialData, sd_mm: float, length_s_mm: float, length_phi: float) -> FloatArray:
    """Return the covariance (n, n) of a smooth field of its own at readings [mm²]."""
    distance_s, distance_phi = node_distances(data.grid)
    along = data.rows_s @ matern(distance_s, length_s_mm) @ data.rows_s.T
    across = data.rows_phi @ matern(distance_phi, length_phi) @ data.rows_phi.T
    return sd_mm**2 * along * across
