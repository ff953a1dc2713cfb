"""Measured points of a back, with the elementary errors that moved them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.frame_errors import FrameError
from saddlebench.engine.back.rounding import RoundedStation
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A cross-section at a stated distance behind the shoulder mark."""

    number: int
    """As the fitter counts, from 1."""
    distance_mm: float
    """Behind the shoulder mark; negative in front of it [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPoints:
    """Points on a back in the back frame, whichever instrument measured them.

    The first-order error of point `i` within the record is `sensitivity[i] @ e + noise_mm[i]·ε`: `e` are the
    `m` elementary errors of readings, zeros and placements, shared between points (a jointed chain's
    accumulate); `ε` is independent from point to point. Errors that move the whole record stand apart.
    """

    stations: tuple[Station, ...]
    points_back: FloatArray
    """(n, 3) float, back frame [mm]."""
    station: NDArray[np.int32]
    """(n,) index into `stations`; −1 for a point of the topline alone."""
    side: NDArray[np.int8]
    """(n,) +1 left, −1 right, 0 midline."""
    sensitivity: FloatArray
    """(n, 3, m) float, back frame [mm per unit of the elementary error]."""
    error_sd: FloatArray
    """(m,) float, standard deviation of each elementary error, in its own unit."""
    error_source: tuple[str, ...]
    """What each elementary error is of, in words: “station 3, right, joint 5”."""
    noise_mm: FloatArray
    """(n,) float, standard deviation of the independent error [mm]."""
    frame_errors: tuple[FrameError, ...] = ()
    """Of level, heading, scale and place of the record as a whole; not among the elementary errors."""
    rounded: tuple[RoundedStation, ...] = ()
    """Stations whose readings are wrong by their rounding alone."""
