"""How a back's shape goes together from place to place: a Matérn correlation over stretched distances.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): eq. 4.17 (Matérn 5/2).
"""

import numpy as np

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.frames import FloatArray

CROWN_STRETCH, CROWN_WIDTH = 0.5, 0.2
"""How much, and over what angle [rad], the midline is stretched for the correlation across."""
WITHERS_STRETCH, WITHERS_END_MM, WITHERS_BLEND_MM = 0.8, 40.0, 60.0
"""How much the back is stretched along in front of a place, and how softly, for the correlation along."""


def matern(distance: FloatArray, length: float) -> FloatArray:
    """Return the Matérn 5/2 correlation at distance (any shape,) float, in the unit of its length.

    Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), eq. 4.17.
    """
    t = np.sqrt(5.0) * distance / length
    return (1.0 + t + t * t / 3.0) * np.exp(-t)


def matern_slope(distance: FloatArray, length: float) -> FloatArray:
    """Return its derivative by ln(length) at distance (any shape,) float, in the unit of its length."""
    t = np.sqrt(5.0) * distance / length
    return t * t * (1.0 + t) / 3.0 * np.exp(-t)


def node_distances(grid: PolarGrid) -> tuple[FloatArray, FloatArray]:
    """Return the distances between nodes along (n_s, n_s) [mm] and across (n_phi, n_phi) [rad].

    Across, the angle is stretched about the midline, where a withers' crown turns far faster than a flank;
    along, the withers are stretched, which rise and fall faster than the back behind them.
    """
    across = grid.phi + CROWN_STRETCH * np.tanh(grid.phi / CROWN_WIDTH)
    behind = (grid.s_mm - WITHERS_END_MM) / WITHERS_BLEND_MM
    # The slope of this goes from 1 + stretch in front to 1 behind, as a hyperbolic tangent.
    along = grid.s_mm + 0.5 * WITHERS_STRETCH * (
        grid.s_mm - WITHERS_BLEND_MM * (np.logaddexp(behind, -behind) - np.log(2.0))
    )
    return np.abs(along[:, None] - along[None, :]), np.abs(across[:, None] - across[None, :])
