"""How much of a wide or an even change may have gone unseen.

Laying one record on the other takes up a part of what lifts, tips or rolls the whole, and posture and coat
look like it: what changes all over is known least. A gain of depth `a` with the pattern `g` adds `a·m` to a
disc's depth over its deviation `z`, `m = xᵀC⁻¹g / √(xᵀC⁻¹x)`: the scan tells it from the least `a` on at
which any disc passes the threshold, `(threshold − z sgn m) / |m|`. Of this least, over simulated unchanged
`z`, the 95 % point is what is told in 95 of 100 cases.
"""

import numpy as np
from scipy import linalg

from saddlebench.engine.change.discs import Scanned
from saddlebench.engine.change.results import LeastWide
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import Together
from saddlebench.engine.frames import FloatArray

HALF_MM = 150.0
"""From its middle, where a wide gain has fallen to half of its depth."""
APART_MM = 90.0
"""Middles of wide gains lie at least so far apart along the back and over the skin."""
DRAWS = 400
SEEN_LITTLE = 0.2
"""Discs that see less than this share of what the best one sees of a gain do not tell it."""


def wide_profile(apart_mm: FloatArray) -> FloatArray:
    """Return the depth of a wide gain of 1 at distances from its middle (any shape,) float [mm]."""
    return np.asarray(0.5 ** (apart_mm / HALF_MM) ** 2)


def wide_patterns(together: Together, scanned: Scanned) -> FloatArray:
    """Return what 1 mm of wide gains all over the back does to every reading, (n, k) float [1]."""
    later, discs = together.later, scanned.discs
    cells = np.floor(np.stack([discs.s_mm, discs.from_midline_mm], axis=1) / APART_MM)
    _, one_of_each = np.unique(cells, axis=0, return_index=True)
    middles = discs.centre_back[one_of_each]
    apart = np.linalg.norm(later.points_back[:, None, :] - middles[None, :, :], axis=2)
    return _of_later(together, wide_profile(apart))


def even_pattern(together: Together) -> FloatArray:
    """Return what 1 mm all over the back does to every reading, (n, 1) float [1]."""
    return _of_later(together, np.ones((len(together.later.to_radius), 1)))


def least_wide(together: Together, scanned: Scanned, settings: ChangeSettings) -> LeastWide:
    """Return the least wide and the least even change that would be told in 95 of 100 cases."""
    patterns = np.concatenate([even_pattern(together), wide_patterns(together, scanned)], axis=1)
    even, *wide = least_told(together, scanned, patterns, settings.seed)
    return LeastWide(
        best_mm=float(min(wide)),
        middle_mm=float(np.median(wide)),
        worst_mm=float(np.quantile(wide, 0.9)),
        even_mm=float(even),
    )


def least_told(together: Together, scanned: Scanned, patterns: FloatArray, seed: int) -> FloatArray:
    """Return the least depth of each pattern that the scan would tell in 95 of 100 cases, (k,) [mm].

    `patterns` : (n, k) float, any frame, what 1 mm of each does to every reading [1].
    """
    white = linalg.solve_triangular(together.factor, patterns, lower=True)
    rng = np.random.default_rng([seed, 11])
    unchanged = scanned.units.T @ rng.standard_normal((len(white), DRAWS))
    return np.array([_least(seen, unchanged, scanned.scan.threshold) for seen in (scanned.units.T @ white).T])


def _least(seen: FloatArray, unchanged: FloatArray, threshold: float) -> float:
    """Return the 95 % point of the least depth that passes the threshold [mm].

    `seen` : (d,) float, any frame, what 1 mm adds to each disc's depth over its deviation [1];
    `unchanged` : (d, draws) float, any frame, depths over deviations of unchanged pairs [1].
    """
    some = np.abs(seen) > SEEN_LITTLE * np.abs(seen).max()
    missing = threshold - np.sign(seen[some])[:, None] * unchanged[some]
    least = (missing / np.abs(seen[some])[:, None]).min(axis=0)
    return float(np.quantile(least, 0.95))


def _of_later(together: Together, depth: FloatArray) -> FloatArray:
    """Return patterns (n, k) of gains, `depth` (n₂, k), any frame, at the later readings [1]."""
    none = np.zeros((together.n_earlier, depth.shape[1]))
    return np.concatenate([none, depth * together.later.to_radius[:, None]])
