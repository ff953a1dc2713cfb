"""How one horse stands otherwise from day to day, though nothing of it has changed.

A back lifts and dips, bends to a side, twists; breath and tension move the flesh. Deviations are assumptions
until a practice's own repeats on other days say better; every one of them widens what cannot be told.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

MIDDLE_MM, HALF_LENGTH_MM = 250.0, 350.0
"""Where the saddle's middle lies, and how far from there the ends count: the patterns are 1 at the ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Posture:
    """Deviations of one day's stance from the horse's usual one."""

    lift_mm: float = 2.0
    """Of the back's middle against its ends."""
    bend_mm: float = 2.0
    """Sideways, of the middle against the ends."""
    twist_deg: float = 0.5
    """Of the front against the rear, about the length [°]."""
    flesh_mm: float = 0.4
    """Of the flesh from place to place: breath, tension."""
    flesh_length_mm: float = 150.0
    """Over which the flesh moves together."""


USUAL_POSTURE = Posture()


def posture_moves(points_back: FloatArray) -> dict[str, FloatArray]:
    """Return how one unit of each pattern moves points.

    Parameters
    ----------
    points_back : (n, 3) float, back frame [mm]

    Returns
    -------
    dict of (n, 3) float by pattern, back frame [mm per mm, mm per rad]
    """
    u = (-points_back[:, 0] - MIDDLE_MM) / HALF_LENGTH_MM
    none = np.zeros_like(u)
    bowed = 1.0 - u**2
    twisted = np.column_stack([none, -0.5 * u * points_back[:, 2], 0.5 * u * points_back[:, 1]])
    return {
        "lift": np.column_stack([none, none, bowed]),
        "bend": np.column_stack([none, bowed, none]),
        "twist": twisted,
    }


def posture_sd(posture: Posture) -> dict[str, float]:
    """Return each pattern's deviation on one day, mm or rad."""
    return {"lift": posture.lift_mm, "bend": posture.bend_mm, "twist": posture.twist_deg * DEGREE}
