"""A back's surface: the mean of a Gaussian-process estimate, with what is needed to draw others like it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BackSurface:
    """`R(s, φ)` at the nodes of a polar grid, its standard deviation, and where it was measured at all."""

    grid: PolarGrid
    radius_mm: FloatArray
    """(n_s, n_phi) float, posterior mean [mm]; beyond the measured part it serves iterations only."""
    sd_mm: FloatArray
    """(n_s, n_phi) float, posterior standard deviation [mm]."""
    measured: NDArray[np.bool_]
    """(n_s, n_phi) whether the node lies within what was measured."""
    tissue: NDArray[np.int8]
    """(n_s, n_phi) `Tissue` of the region."""
    spline: PolarSpline
