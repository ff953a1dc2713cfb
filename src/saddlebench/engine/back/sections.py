"""A section as an instrument gives it: points in the station's plane, and what may have moved them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementaryError:
    """One thing that may be off, and how far one unit of it moves each point of a section."""

    source: str
    """In words; errors of the same source are one and the same error wherever they appear."""
    sd: float
    """Standard deviation in the error's own unit (rad, mm or 1)."""
    moves: FloatArray
    """(n, 2) float, station plane (y, z) [mm per unit]."""
    of_whole_record: bool = False
    """Whether it moves every section alike, and so stands among the record's frame errors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalSection:
    """Points of one section about the midline, before they are placed on the back."""

    points: FloatArray
    """(n, 2) float, station plane: y to the left, z up from the skin at the midline [mm]."""
    side: NDArray[np.int8]
    """(n,) +1 left, −1 right, 0 midline."""
    errors: tuple[ElementaryError, ...]
    noise_mm: FloatArray
    """(n,) float, station plane, standard deviation of each point's own error [mm]."""


def side_of(across_mm: FloatArray) -> NDArray[np.int8]:
    """Return (n,) +1 left, −1 right, 0 midline of places across, (n,) float, station plane [mm]."""
    return np.sign(np.where(np.abs(across_mm) < 1e-6, 0.0, across_mm)).astype(np.int8)
