"""The face's height at places of a grid, from the points around each: local quadratics, robust.

Beside an edge or a hole, where points lie to one side, a plane is carried on instead.
Locally weighted regression (Cleveland & Devlin 1988). Where the points around a place are too few, or all lie
to one side of it, nothing is measured there.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.face_fit import FaceFit

RADIUS_MM = 17.0
LUMP_MM = 16.0
"""What stands out further than this from a smooth face is no panel: a hand, a strap's buckle, an edge."""
_FEWEST = 16
_ONE_SIDED_MM, _CURVED_MM = 11.0, 5.5
_TURNS = 3
_RIM_MM = 18.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceGrid:
    """One panel's face at places across and along: rows along, columns across."""

    side: int
    behind_mm: FloatArray
    """(r,) float, behind the front edge [mm]."""
    out_y_mm: FloatArray
    """(r, c) float, saddle frame, outwards [mm]."""
    z_mm: FloatArray
    """(r, c) float, saddle frame [mm]; NaN where nothing is measured."""
    sd_mm: FloatArray
    """(r, c) float: standard deviation from the noise of the points [mm]."""


def face_grid(
    fit: FaceFit, behind: FloatArray, inner: FloatArray, outer: FloatArray, columns: int
) -> FaceGrid:
    """Return the face's heights between its edges.

    Parameters
    ----------
    fit : one panel
    behind : (r,) float, saddle frame, behind the front edge [mm]
    inner, outer : (r,) float, saddle frame, outwards [mm]: its edges there
    columns : how many places across
    """
    v = np.linspace(0.0, 1.0, columns)
    y = inner[:, None] + v[None, :] * (outer - inner)[:, None]
    s = np.broadcast_to(behind[:, None], y.shape)
    on_face = np.abs(fit.out) < LUMP_MM
    rim = np.minimum(
        np.minimum(fit.y - np.interp(fit.s, behind, inner), np.interp(fit.s, behind, outer) - fit.y),
        np.minimum(fit.s - behind[0], behind[-1] - fit.s),
    )
    # Noise throws a wall's points over the edge, and there are many of them: the face runs on from within.
    margin = max(2.0, 1.8 * fit.noise_mm)
    on_face &= (rim > margin) & ((rim > _RIM_MM) | (fit.out > -2.2 * fit.noise_mm - 1.0))
    places, out = np.stack([fit.s[on_face], fit.y[on_face]], axis=1), fit.out[on_face]
    height, sd = np.full(y.size, np.nan), np.full(y.size, np.nan)
    if on_face.any():
        around = cKDTree(places).query_ball_point(np.stack([s.ravel(), y.ravel()], axis=1), RADIUS_MM)
        for k, (near, at_s, at_y) in enumerate(zip(around, s.ravel(), y.ravel(), strict=True)):
            if len(near) >= _FEWEST:
                height[k], sd[k] = _local(places[near] - (at_s, at_y), out[near], fit.noise_mm)
    base, lean = fit.height(s, y), fit.lean(s, y)
    return FaceGrid(
        side=fit.side,
        behind_mm=behind,
        out_y_mm=y,
        z_mm=base - height.reshape(y.shape) / lean,
        sd_mm=sd.reshape(y.shape) / lean,
    )


def _local(apart: FloatArray, out: FloatArray, noise: float) -> tuple[float, float]:
    x, y = apart[:, 0], apart[:, 1]
    off_centre = float(np.hypot(x.mean(), y.mean()))
    if off_centre > _ONE_SIDED_MM:
        return np.nan, np.nan
    near = np.maximum(0.0, 1.0 - (np.hypot(x, y) / RADIUS_MM) ** 3) ** 3
    rows = np.stack([np.ones_like(x), x / RADIUS_MM, y / RADIUS_MM], axis=1)
    if off_centre < _CURVED_MM:
        bends = np.stack([rows[:, 1] ** 2, rows[:, 1] * rows[:, 2], rows[:, 2] ** 2], axis=1)
        rows = np.concatenate([rows, bends], axis=1)
    robust = np.ones_like(x)
    width = max(3.5 * noise, 2.0)
    hold = 1e-3 * np.eye(rows.shape[1])
    for turn in range(_TURNS):
        weighted = rows * (near * robust)[:, None]
        inverse = np.linalg.inv(weighted.T @ rows + hold)
        found = inverse @ (weighted.T @ out)
        if turn < _TURNS - 1:
            robust = np.maximum(0.0, 1.0 - ((out - rows @ found) / width) ** 2) ** 2
    smear = weighted @ inverse[:, 0]
    return float(found[0]), noise * float(np.sqrt((smear**2).sum()))
