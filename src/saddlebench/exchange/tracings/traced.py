"""A pen line as it was found on the flat sheet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.flatten import Darkness, FlatSheet

STEP_MM = 0.5
"""Between a line's points."""
DARK = 0.16
"""Least darkness of a stroke against the paper."""


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


def sampled(flat: FlatSheet, dark: Darkness, places: FloatArray) -> Darkness:
    """Return the darkness at places (rows, columns, 2) float, sheet's frame [mm]; (rows, columns) float32."""
    import cv2  # noqa: PLC0415 - slow to load

    dots = flat.dots(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
    sampled = cv2.remap(
        dark, np.ascontiguousarray(dots[..., 0]), np.ascontiguousarray(dots[..., 1]), cv2.INTER_LINEAR
    )
    return np.asarray(sampled, dtype=np.float32)
