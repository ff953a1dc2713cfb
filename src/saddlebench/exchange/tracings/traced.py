"""A pen line as it was found on the flat sheet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray

STEP_MM = 0.5
"""Between a line's points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedCurveOnSheet:
    """One pen line."""

    points: FloatArray
    """(n, 2) float, sheet's frame as printed [mm], from left to right every half millimetre or so."""
    seen: NDArray[np.bool_]
    """(n,) bool: whether the pen wrote here; between strokes the line is bridged."""
    noise_mm: float
    """How far the stroke's middle jumps from dot to dot [mm]."""
    crosswise_mm: float
    """Spread of what is dark across the line, median [mm]: large for a doubled one."""
    ticks: FloatArray
    """(k, 2) float, sheet's frame [mm]: where a short stroke crosses the line."""
