"""Where the wall beside a panel's face meets it: told by the wall itself, not by how dense the points lie."""

import numpy as np

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

_DEEP_MM = 12.0
"""So much of the wall is looked at, from where no point of the face can be thrown by noise."""
_ASIDE_MM = 12.0
_FEWEST = 10
_STEEPEST = 1.0
_EITHER_HALF = 0.2
"""A wall that runs out faster than it rises is none: the face bends away there (judgement)."""
_SPREAD_MM = 3.0
_LEAN_SD, _SLANT_SD, _BEND_SD = 0.5, 2.0, 0.05
"""Before it is seen, a wall stands upright on the face, and its line over the window is straight: so far from
it are walls usually (per mm of height; per mm along; per mm² along)."""


def wall_at(
    place: FloatArray, along: FloatArray, out: FloatArray, noise_mm: float, rough_mm: float
) -> float | NotMeasured:
    """Return how far out [mm] the wall meets the face, at the middle of the window.

    A plane that is bent along the panel, `place = a + b·out + c·along + d·along²`, through the wall's points
    (Tukey's biweight), carried on to the face.

    Parameters
    ----------
    place : (n,) float, saddle frame [mm]: how far out points lie
    along : (n,) float, saddle frame [mm]: how far from the window's middle, along the edge
    out : (n,) float, saddle frame [mm]: distance from the smooth face, towards the horse
    noise_mm : standard deviation of points on the face
    rough_mm : about where the edge is
    """
    first = -3.0 * noise_mm - 1.0
    wall = (out < first) & (out > first - _DEEP_MM) & (np.abs(place - rough_mm) < _ASIDE_MM)
    if wall.sum() < _FEWEST:
        return NotMeasured("the wall beside the face was not scanned")
    lower = float((out[wall] < first - 0.5 * _DEEP_MM).mean())
    if not _EITHER_HALF < lower < 1.0 - _EITHER_HALF:
        return NotMeasured("what stands beside the face is no wall: it bends away")
    x, y, z = along[wall], place[wall] - rough_mm, out[wall]
    rows = np.stack([np.ones(len(x)), z, x, x**2], axis=1)
    spread = max(noise_mm, 0.5)
    hold = np.diag([0.0, *(spread / np.array([_LEAN_SD, _SLANT_SD, _BEND_SD])) ** 2])
    left = y - np.median(y)
    found = np.zeros(4)
    for _ in range(6):
        width = 4.685 * max(spread, 0.3)
        weight = np.maximum(0.0, 1.0 - (left / width) ** 2) ** 2
        weighted = rows * weight[:, None]
        found = np.linalg.solve(weighted.T @ rows + hold + 1e-9 * np.eye(4), weighted.T @ y)
        left = y - rows @ found
        spread = 1.4826 * float(np.median(np.abs(left)))
    if (weight > 0.0).sum() < _FEWEST or spread > noise_mm + _SPREAD_MM or abs(found[1]) > _STEEPEST:
        return NotMeasured("no wall stands beside the face")
    return float(rough_mm + found[0])
