"""One panel's face in a scan: which points lie on it, a smooth surface near it, and their noise."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import chebyshev
from scipy.spatial import cKDTree

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

DEGREES = (6, 2)
"""Of the smooth surface along and across."""
REACH_MM = 22.0
"""The pattern may lie so far off the face."""
DEEPEST_MM = 60.0
_FEWEST = 400
_HOLD_SHARE = 0.004
_WALL_MM, _BLOCK_MM = 9.0, 40.0
_ALONG_MM, _WIDEST_MM = 70.0, 260.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceFit:
    """The points near one panel and a smooth surface `z(s, y)` through its face.

    `s` counts behind the front edge, `y` outwards from the middle, both in the saddle frame [mm].
    """

    side: int
    span: tuple[float, float, float, float]
    """Of the fit: s from, to; y from, to [mm]."""
    coefficients: FloatArray
    """(7, 3) float: Chebyshev along and across."""
    s: FloatArray
    """(n,) float, increasing [mm]."""
    y: FloatArray
    out: FloatArray
    """(n,) float: distance of each point from the surface, towards the horse [mm]."""
    noise_mm: float

    def height(self, s: FloatArray, y: FloatArray) -> FloatArray:
        """Return heights z (n,) float, saddle frame [mm], at s and y (n,) float [mm]."""
        a, b = _unit(s, self.span[:2]), _unit(y, self.span[2:])
        return chebyshev.chebval2d(a, b, self.coefficients)

    def lean(self, s: FloatArray, y: FloatArray) -> FloatArray:
        """Return cosines (n,) float, saddle frame [1], of the angle between the surface and level."""
        step = 1.0
        along = (self.height(s + step, y) - self.height(s - step, y)) / (2.0 * step)
        across = (self.height(s, y + step) - self.height(s, y - step)) / (2.0 * step)
        return 1.0 / np.sqrt(1.0 + along**2 + across**2)


def face_fit(
    points: FloatArray, side: int, pattern: FloatArray, outward: FloatArray
) -> FaceFit | NotMeasured:
    """Return the smooth surface through one panel's face.

    Parameters
    ----------
    points : (n, 3) float, saddle frame as known so far [mm]
    side : +1 left, −1 right
    pattern : (m, 3) float, saddle frame [mm]: points of a face of about this shape, same side
    outward : (m, 3) float, saddle frame [1]: its normals, towards the horse
    """
    length = float(-pattern[:, 0].min())
    s, y = -points[:, 0], side * points[:, 1]
    near = (s > -_ALONG_MM) & (s < length + _ALONG_MM) & (y > 0.0) & (y < _WIDEST_MM)
    low, high = float(pattern[:, 2].min()), float(pattern[:, 2].max())
    near &= (points[:, 2] > low - DEEPEST_MM) & (points[:, 2] < high + 1.5 * DEEPEST_MM)
    mine = points[near]
    if len(mine) < _FEWEST:
        return NotMeasured("the scan has next to nothing where this panel lies")
    away, nearest = cKDTree(pattern).query(mine, distance_upper_bound=1.5 * REACH_MM)
    reached = np.isfinite(away)
    nearest = np.where(reached, nearest, 0)
    step = mine - pattern[nearest]
    height = np.einsum("ij,ij->i", step, outward[nearest])
    aside = np.sqrt(np.maximum(away**2 - height**2, 0.0))
    core = reached & (np.abs(height) < REACH_MM) & (aside < 5.0)
    # A wall leans over a sloping face: what lies far from where the face's middle is here is none of it.
    core &= np.abs(height - _middle_height(mine, height, core, pattern, nearest)) < _WALL_MM
    if core.sum() < _FEWEST:
        return NotMeasured("the scan has next to nothing of this panel's face")
    s, y, z = -mine[:, 0], side * mine[:, 1], mine[:, 2]
    span = (
        float(-pattern[:, 0].max()),
        length,
        float(np.min(side * pattern[:, 1])),
        float(np.max(side * pattern[:, 1])),
    )
    lifted = float(np.median(height[core])) * outward[:, 2]
    hold = np.stack([-pattern[:, 0], side * pattern[:, 1], pattern[:, 2] + lifted], axis=1)
    coefficients, noise = _robust(s[core], y[core], z[core], span, hold)
    order = np.argsort(s)
    held = FaceFit(
        side=side,
        span=span,
        coefficients=coefficients,
        s=s[order],
        y=y[order],
        out=np.zeros(len(s)),
        noise_mm=noise,
    )
    return _with_distances(held, z[order])


def _middle_height(
    points: FloatArray, height: FloatArray, core: FloatArray, pattern: FloatArray, nearest: FloatArray
) -> FloatArray:
    """Return how far the middle of the face lies off the pattern, (n,) float, saddle frame [mm], along it."""
    inner, outer = np.quantile(np.abs(pattern[:, 1]), [0.25, 0.75])
    middle = core & (np.abs(pattern[nearest, 1]) > inner) & (np.abs(pattern[nearest, 1]) < outer)
    places = np.arange(-points[:, 0].max(), -points[:, 0].min() + _BLOCK_MM, _BLOCK_MM)
    block = np.searchsorted(places, -points[:, 0])
    medians = [
        float(np.median(height[middle & (block == k)])) if (middle & (block == k)).sum() >= 20 else np.nan
        for k in range(len(places) + 1)
    ]
    known = np.flatnonzero(np.isfinite(medians))
    if not len(known):
        return np.zeros(len(points))
    centres = places - 0.5 * _BLOCK_MM
    return np.interp(-points[:, 0], centres[known.clip(max=len(places) - 1)], np.array(medians)[known])


def _with_distances(fit: FaceFit, z: FloatArray) -> FaceFit:
    # Past its ends the surface runs on as it was there: a polynomial would swing away.
    s = np.clip(fit.s, fit.span[0] - 15.0, fit.span[1] + 15.0)
    y = np.clip(fit.y, fit.span[2] - 25.0, fit.span[3] + 40.0)
    out = (fit.height(s, y) - z) * fit.lean(s, y)
    # What was found upright is noise along the normal, seen on a slope.
    on_face = np.abs(out) < REACH_MM
    upright = float(np.median(fit.lean(s[on_face], y[on_face]))) if on_face.any() else 1.0
    return replace(fit, out=out, noise_mm=fit.noise_mm * upright)


def _unit(values: FloatArray, ends: tuple[float, float]) -> FloatArray:
    return (2.0 * values - ends[0] - ends[1]) / (ends[1] - ends[0])


def _robust(
    s: FloatArray,
    y: FloatArray,
    z: FloatArray,
    span: tuple[float, float, float, float],
    hold: FloatArray,
) -> tuple[FloatArray, float]:
    """Return coefficients and noise by Tukey's biweight (Beaton & Tukey 1974), its width shrinking.

    Where no points are, the pattern's own `hold` (m, 3) float, saddle frame [mm], carries the surface on.
    """
    rows = chebyshev.chebvander2d(_unit(s, span[:2]), _unit(y, span[2:]), DEGREES)
    weight = np.ones(len(z))
    kept = chebyshev.chebvander2d(_unit(hold[:, 0], span[:2]), _unit(hold[:, 1], span[2:]), DEGREES)
    share = _HOLD_SHARE * len(z) / len(hold)
    square, right = share * kept.T @ kept, share * kept.T @ hold[:, 2]
    found: FloatArray = np.zeros(rows.shape[1])
    spread = 3.0
    for turn in range(12):
        weighted = rows * weight[:, None]
        found = np.linalg.solve(weighted.T @ rows + square, weighted.T @ z + right)
        left = z - rows @ found
        spread = max(0.3, 1.4826 * float(np.median(np.abs(left[weight > 0.05]))))
        width = max(4.685 * spread, 9.0 - 2.0 * turn)
        weight = np.maximum(0.0, 1.0 - (left / width) ** 2) ** 2
    return found.reshape(DEGREES[0] + 1, DEGREES[1] + 1), spread
