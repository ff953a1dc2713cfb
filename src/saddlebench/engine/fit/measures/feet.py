"""From points of the saddle to the back: true distances, and whether the back was measured there."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.measures import _kernels
from saddlebench.engine.fit.measures.batch import Pair
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True)
class Feet:
    """Closest points of the back to `m` points, in `d` solutions."""

    distance_mm: FloatArray
    """(d, m) float [mm]; below 0 inside the back."""
    s_mm: FloatArray
    """(d, m) float, back frame [mm]."""
    phi: FloatArray
    """(d, m) float, back frame [rad]."""


def feet_of(pair: Pair, points_back: FloatArray) -> Feet:
    """Return the feet of points (d, m, 3) float, back frame [mm]."""
    grid = pair.surface.grid
    out = np.zeros((3, *points_back.shape[:2]))
    points = np.ascontiguousarray(points_back)
    _kernels.closest(
        pair.coefficients, grid.s0_mm, grid.ds_mm, grid.phi0, grid.dphi, grid.axis_z_mm, points, out
    )
    return Feet(*out)


def unmeasured(pair: Pair, feet: Feet, which: slice) -> NotMeasured | None:
    """Return why these feet cannot be trusted, if most solutions have one off the measured part."""
    grid = pair.surface.grid
    rows = np.rint((feet.s_mm[:, which] - grid.s0_mm) / grid.ds_mm).astype(int)
    columns = np.rint((feet.phi[:, which] - grid.phi0) / grid.dphi).astype(int)
    on_grid = (rows >= 0) & (rows < grid.n_s) & (columns >= 0) & (columns < grid.n_phi)
    held = pair.surface.measured[np.clip(rows, 0, grid.n_s - 1), np.clip(columns, 0, grid.n_phi - 1)]
    missing = ~(on_grid & held)
    if np.mean(np.any(missing, axis=1)) <= 0.5:
        return None
    at = float(np.median(feet.s_mm[:, which][missing]))
    side = "near side" if float(np.median(feet.phi[:, which][missing])) > 0 else "off side"
    return NotMeasured(
        f"the back was not measured {place_words(at)}, {side}", stations=nearest_stations(pair, at)
    )


def place_words(s_mm: float) -> str:
    """Say where along the back a distance lies."""
    return f"{abs(s_mm):.0f} mm {'behind' if s_mm >= 0 else 'in front of'} the shoulder mark"


def nearest_stations(pair: Pair, s_mm: float) -> tuple[int, ...]:
    """Return the number of the station nearest to a distance, if stations are known."""
    if not pair.stations:
        return ()
    return (min(pair.stations, key=lambda one: abs(one.distance_mm - s_mm)).number,)


def sideways_at(pair: Pair, feet: Feet) -> FloatArray:
    """Return (d, m) float [1]: the size of the sideways part of the back's unit normal at the feet.

    The surface is `F = r − R(s, φ)`; its normal is `e_r − R_s ∇s − (R_φ/R) e_φ` brought to length 1.
    """
    grid, (d, m) = pair.surface.grid, feet.s_mm.shape
    out = np.zeros((d, m, 6))
    for index in range(d):
        layer = pair.coefficients[index if len(pair.coefficients) > 1 else 0]
        spline = PolarSpline(grid=grid, coefficients=layer)
        out[index] = spline.radius(feet.s_mm[index], feet.phi[index])
    turn = out[..., 2] / out[..., 0]
    sideways = np.sin(feet.phi) - turn * np.cos(feet.phi)
    return np.abs(sideways) / np.sqrt(1.0 + out[..., 1] ** 2 + turn**2)
