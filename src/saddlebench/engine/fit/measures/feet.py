"""From points of the saddle to the back: true distances, and whether the back was measured there."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.distance import closest_points_of
from saddlebench.engine.errors import NotMeasured
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
    sideways: FloatArray
    """(d, m) float [1], the size of the sideways part of the back's unit normal."""


def feet_of(pair: Pair, points_back: FloatArray) -> Feet:
    """Return the feet of points (d, m, 3) float, back frame [mm]."""
    layers = len(pair.coefficients)
    found = [
        closest_points_of(pair.surface.grid, pair.coefficients[index if layers > 1 else 0], points)
        for index, points in enumerate(points_back)
    ]
    return Feet(
        np.stack([one.distance_mm for one in found]),
        np.stack([one.s_mm for one in found]),
        np.stack([one.phi for one in found]),
        np.abs(np.stack([one.normal[:, 1] for one in found])),
    )


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
