"""Other backs that the readings allow, drawn by conditional simulation.

Matheron's identity: with `F₀` from the prior, its trend drawn too, and `e₀` fresh errors of the readings,
`F* = F₀ + K_* Hᵀ (K + Σ)⁻¹ (z − H F₀ − e₀)` is a draw from the posterior. The errors of the record's frame,
which the readings do not know of, are drawn from their prior and move the whole surface.

References
----------
Journel & Huijbregts, Mining Geostatistics (1978), ch. VII (conditioning by kriging); Wilson et al.,
Pathwise conditioning of Gaussian processes, JMLR 22 (2021) 1–47, eq. 2.
"""

import numpy as np

from saddlebench.engine.back.gaussian import GaussianField, square_root
from saddlebench.engine.back.polar import nodes_to_coefficients
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.frames import FloatArray


def draw_radii(estimated: EstimatedBack, count: int, seed: int | np.random.SeedSequence) -> FloatArray:
    """Return backs drawn from the posterior, given readings and fixed hyperparameters.

    The first draws of a longer run are those of a shorter one with the same seed.

    Parameters
    ----------
    estimated : EstimatedBack
    count : int
    seed : int or numpy SeedSequence

    Returns
    -------
    (count, n_s, n_phi) float, back frame [mm]
    """
    return draw_field(estimated.posterior, count, seed)


def draw_frames(
    estimated: EstimatedBack, count: int, seed: int | np.random.SeedSequence
) -> tuple[tuple[str, ...], FloatArray]:
    """Return by which errors of the record's frame `draw_radii` moves its backs, with the same seed.

    Parameters
    ----------
    estimated : EstimatedBack
    count : int
    seed : int or numpy SeedSequence

    Returns
    -------
    their sources, q of them
    (count, q) float, standard normal, back frame [1]
    """
    words = tuple(error.source for error in estimated.points.frame_errors)
    return words, _frame_normals(estimated.posterior, count, seed)


def draw_field(posterior: GaussianField, count: int, seed: int | np.random.SeedSequence) -> FloatArray:
    """Return fields drawn from a posterior, (count, n_s, n_phi) float [mm]."""
    grid, data = posterior.data.grid, posterior.data
    field_seed, error_seed = _seed_of(seed, 0), _seed_of(seed, 1)
    # One row of normals a draw, so that more draws begin with the same ones.
    p = len(posterior.trend.departures)
    normals = np.random.default_rng(field_seed).standard_normal((count, grid.n_s * grid.n_phi + p))
    along, across = square_root(posterior.kernel_s), square_root(posterior.kernel_phi)
    drawn = along @ (normals[:, p:].reshape(count, grid.n_s, grid.n_phi) @ across.T)
    drawn += posterior.trend.mean_mm
    drawn += np.tensordot(normals[:, :p], posterior.trend.departures, axes=1)
    coefficients = nodes_to_coefficients(grid.n_s) @ (drawn @ nodes_to_coefficients(grid.n_phi).T)
    seen = posterior.observation @ coefficients.reshape(count, -1).T
    errors = np.random.default_rng(error_seed).standard_normal((count, len(data.radius_mm)))
    drawn += posterior.correction(data.radius_mm[:, None] - seen - posterior.error_factor @ errors.T)
    drawn += np.tensordot(_frame_normals(posterior, count, seed), posterior.frame_moves_mm, axes=1)
    return drawn


def _frame_normals(posterior: GaussianField, count: int, seed: int | np.random.SeedSequence) -> FloatArray:
    size = (count, len(posterior.frame_moves_mm))
    return np.random.default_rng(_seed_of(seed, 2)).standard_normal(size)


def _seed_of(seed: int | np.random.SeedSequence, key: int) -> np.random.SeedSequence:
    root = seed if isinstance(seed, np.random.SeedSequence) else np.random.SeedSequence(seed)
    # Spawned by key rather than by spawn(): a caller's sequence must give the same draws twice.
    return np.random.SeedSequence(root.entropy, spawn_key=(*root.spawn_key, key))
