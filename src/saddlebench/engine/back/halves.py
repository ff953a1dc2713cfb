"""Sections for judging: each side as a path from the midline outward."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.instruments import Instrument, Scan
from saddlebench.engine.back.outline import height_at
from saddlebench.engine.back.readings import Section
from saddlebench.engine.back.record import section_of
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Halves:
    """One section's two sides about its midline."""

    station: Section
    left: FloatArray
    """(n, 2) float, station plane: out and up from the midline, starting there [mm]."""
    right: FloatArray
    """(n, 2) float, station plane: out and up from the midline, starting there [mm]."""
    sd_mm: float
    """Root mean square over its points of the height's stated standard deviation [mm]."""

    def heights(self, out_mm: FloatArray) -> FloatArray | None:
        """Return heights at half-widths (k,) float, station plane [mm]: (2, k), left and right."""
        rows = [[height_at(half, float(out)) for out in out_mm] for half in (self.left, self.right)]
        if any(height is None for row in rows for height in row):
            return None
        return np.array(rows, dtype=float)


def halves_of(instrument: Instrument, station: Section) -> Halves:
    """Return a station's section as two paths outward; a scan's heights are taken from its own crown."""
    section = section_of(instrument, station)
    sides = []
    for sign in (1, -1):
        out_up = section.points[section.side == sign] * np.array([float(sign), 1.0])
        if len(out_up) and out_up[0, 0] > out_up[-1, 0]:
            out_up = out_up[::-1]
        sides.append(out_up)
    inner = [side[0, 1] for side in sides if len(side)]
    crown = float(np.mean(inner)) if isinstance(instrument, Scan) and inner else 0.0
    left, right = (np.vstack([[0.0, crown], side]) - np.array([0.0, crown]) for side in sides)
    variance = section.noise_mm**2
    for error in section.errors:
        variance = variance + (error.sd * error.moves[:, 1]) ** 2
    sd = float(np.sqrt(variance.mean())) if len(variance) else 0.0
    return Halves(station=station, left=left, right=right, sd_mm=sd)
