"""A panel's rounded ends: its outline there is read along rays, since it runs askew to every line across."""

import numpy as np

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.edges import edge_from
from saddlebench.engine.saddle.underside.face_fit import FaceFit
from saddlebench.engine.saddle.underside.walls import wall_at

CORNER_MM = 30.0
"""So near its ends a panel's outline is read along rays."""
_CENTRE_MM = 45.0
_EVERY_DEG = 4.0
_WINDOW_MM = 8.0
_REACH_MM = 90.0
_OVER_DEG = 14.0
_KNOWN = 0.7
_SPREAD_MM = 4.0
_FEWEST, _HOLD = 7, 1e-4


def corner_edges(
    fit: FaceFit, rows: FloatArray, inner: FloatArray, outer: FloatArray, span: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Return inner and outer edge at all rows, (r,) each, saddle frame [mm]: those near the ends by rays.

    Where too little of an end's wall was scanned its rows stay as they were.

    Parameters
    ----------
    fit : one panel
    rows : (r,) float, saddle frame, behind the front edge [mm]
    inner, outer : (r,) float, saddle frame, outwards [mm]: edges as found across
    span : where the panel begins and ends [mm]
    """
    inner, outer = inner.copy(), outer.copy()
    for sign, end in zip((-1.0, 1.0), span, strict=True):
        centre_s = end - sign * _CENTRE_MM
        centre_y = float(np.interp(centre_s, rows, 0.5 * (inner + outer)))
        s, y = _outline(fit, centre_s, centre_y, sign)
        near = np.abs(rows - end) < CORNER_MM
        if not np.isfinite(s).all():
            continue
        from_tip = sign * (end - s)
        for edge, side in ((inner, y <= centre_y), (outer, y >= centre_y)):
            order = np.flatnonzero(side)[np.argsort(from_tip[side])]
            edge[near] = np.interp(sign * (end - rows[near]), from_tip[order], y[order])
    return inner, outer


def _outline(fit: FaceFit, centre_s: float, centre_y: float, sign: float) -> tuple[FloatArray, FloatArray]:
    """Return the outline's places behind the front edge and outwards, (k,) each, saddle frame [mm]."""
    angle = np.radians(np.arange(-90.0, 90.0 + 0.5 * _EVERY_DEG, _EVERY_DEG))
    first, last = np.searchsorted(fit.s, [centre_s - _REACH_MM, centre_s + _REACH_MM])
    s, y, out = fit.s[first:last] - centre_s, fit.y[first:last] - centre_y, fit.out[first:last]
    radius = np.full(len(angle), np.nan)
    for k, turn in enumerate(angle):
        along_ray = sign * np.cos(turn) * s + np.sin(turn) * y
        beside = -sign * np.sin(turn) * s + np.cos(turn) * y
        strip = (np.abs(beside) < _WINDOW_MM) & (along_ray > -_REACH_MM)
        reach, _ = edge_from(along_ray[strip], out[strip], fit.noise_mm, furthest_mm=_REACH_MM)
        if np.isfinite(reach):
            wall = wall_at(along_ray[strip], beside[strip], out[strip], fit.noise_mm, reach)
            radius[k] = np.nan if isinstance(wall, NotMeasured) else wall
    radius = _smoothed(angle, radius)
    return centre_s + sign * radius * np.cos(angle), centre_y + radius * np.sin(angle)


def _smoothed(angle: FloatArray, radius: FloatArray) -> FloatArray:
    """Return local quadratics through most radii, (k,) float, saddle frame [mm]; NaN: too few are known."""
    known = np.isfinite(radius)
    if known.sum() < _KNOWN * len(radius):
        return np.full(len(angle), np.nan)
    apart = angle[known][None, :] - angle[:, None]
    # Over a hole the nearest on both of its sides count: a corner goes on rounding there.
    width = np.maximum(np.radians(_OVER_DEG), 1.05 * np.sort(np.abs(apart), axis=1)[:, _FEWEST])
    out = np.zeros(len(angle))
    for k, (x, wide) in enumerate(zip(apart, width, strict=True)):
        near = np.maximum(0.0, 1.0 - np.abs(x / wide) ** 3) ** 3
        rows = np.stack([np.ones_like(x), x / wide, (x / wide) ** 2], axis=1)
        robust = np.ones_like(x)
        found = np.zeros(3)
        for _ in range(3):
            weighted = rows * (near * robust)[:, None]
            found = np.linalg.solve(weighted.T @ rows + _HOLD * np.eye(3), weighted.T @ radius[known])
            left = radius[known] - rows @ found
            robust = np.maximum(1e-6, np.maximum(0.0, 1.0 - (left / _SPREAD_MM) ** 2) ** 2)
        out[k] = found[0]
    return out
