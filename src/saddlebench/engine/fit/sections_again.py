"""What each section of a record would tell if it were read again, as the tries know the back there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from saddlebench.engine.back.gaussian import place_rows
from saddlebench.engine.back.radial import radial_data
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True)
class Section:
    """One side of one section, as the tries know it."""

    words: str
    station: int
    at_mm: float
    """Behind the shoulder mark."""
    known: FloatArray
    """(d, k) float, back frame: the tries' radii at the section's points, centred [mm]."""
    inverse: FloatArray
    """(k, k) float, of the covariance of what fresh readings would show [mm⁻²]."""
    pure: FloatArray
    """(k, k) float, of the covariance of the back alone [mm⁻²]."""
    dimension: tuple[float, float]
    """How many independent numbers the fresh readings, and the section itself, tell."""


def sections_of(estimated: EstimatedBack, radius_shift_mm: FloatArray) -> tuple[Section, ...]:
    """Return the two sides of each section; `radius_shift_mm` (d, n_s, n_phi), back frame [mm]."""
    points, grid = estimated.points, estimated.surface.grid
    s, phi, _ = grid.polar(points.points_back)
    data = radial_data(points, grid, estimated.surface.spline.radius(s, phi)[:, 1:3])
    along, across = place_rows(grid, s, phi)
    count = len(radius_shift_mm)
    held = []
    for index, station in enumerate(points.stations):
        for side, sign in ((Side.NEAR, 1), (Side.OFF, -1)):
            rows = _thinned(np.flatnonzero((points.station == index) & (points.side == sign)))
            if not len(rows):
                continue
            seen = np.einsum("dnk,kn->dk", radius_shift_mm @ across[rows].T, along[rows])
            seen = seen - seen.mean(axis=0)
            back = seen.T @ seen / (count - 1)
            gain = data.error_gain[rows][:, _fresh(points, station.number)]
            fresh = gain @ gain.T + np.diag(data.noise_mm[rows] ** 2)
            inverse = linalg.pinvh(back + fresh)
            pure = linalg.pinvh(back, rtol=1e-3)
            held.append(
                Section(
                    words=f"station {station.number}, {side} side",
                    station=station.number,
                    at_mm=float(station.distance_mm),
                    known=seen,
                    inverse=inverse,
                    pure=pure,
                    dimension=(float(np.trace(inverse @ back)), float(np.trace(pure @ back))),
                )
            )
    return tuple(held)


def _thinned(rows: NDArray[np.intp], most: int = 16) -> NDArray[np.intp]:
    """Return at most so many of a section's points, evenly: its neighbours say the same."""
    if len(rows) <= most:
        return rows
    return rows[np.linspace(0, len(rows) - 1, most).round().astype(np.intp)]


def _fresh(points: MeasuredPoints, number: int) -> list[int]:
    """Return the elementary errors that are others when a station is read again.

    Errors of zeros and of the mark's place are the same again; that they are left out makes a repeat look a
    little better than it is.
    """
    words = f"station {number}"
    return [
        index
        for index, source in enumerate(points.error_source)
        if source == words or source.startswith((f"{words},", f"{words} "))
    ]
