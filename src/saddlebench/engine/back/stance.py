"""Stance: how the floor or the instrument was tilted, and the rigid move that undoes it exactly.

Only the ground and the instrument are corrected; the horse's own shape (croup-high, roach) stays as it is.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray, Frame, Pose, rotation_from_vector
from saddlebench.engine.units import DEGREE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """Tilt of the floor (or of an instrument that hangs together over the whole back), as read."""

    pitch_deg: float = 0.0
    """Positive when the ground falls away towards the head [°]."""
    roll_deg: float = 0.0
    """Positive when the horse's left stands the higher [°]."""
    sd_deg: float = 0.5
    """Standard deviation of each of the two [°]."""


LEVEL = Stance()


def instrument_to_back(stance: Stance) -> Pose:
    """Return the move from the instrument frame, its origin at the shoulder mark, to the back frame.

    Roll is undone first, then pitch: `R = R_y(pitch) R_x(roll)`, rotations of ISO 8855's axes.
    """
    pitch, roll = _turns(stance)
    to_gravity = Pose(
        source=Frame.INSTRUMENT, target=Frame.GRAVITY, rotation=pitch @ roll, translation_mm=np.zeros(3)
    )
    return Pose.identity(Frame.GRAVITY, Frame.BACK).after(to_gravity)


def stance_moves(stance: Stance, points_instrument: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how an error of pitch and of roll moves points.

    Parameters
    ----------
    stance : the tilt as read
    points_instrument : (n, 3) float, instrument frame [mm]

    Returns
    -------
    by_pitch, by_roll : each (n, 3) float, back frame [mm/rad]
    """
    pitch, roll = _turns(stance)
    by_pitch = points_instrument @ (_GENERATOR_Y @ pitch @ roll).T
    by_roll = points_instrument @ (pitch @ _GENERATOR_X @ roll).T
    return by_pitch, by_roll


_GENERATOR_X = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
_GENERATOR_Y = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])


def _turns(stance: Stance) -> tuple[FloatArray, FloatArray]:
    pitch = rotation_from_vector(np.array([0.0, stance.pitch_deg * DEGREE, 0.0]))
    roll = rotation_from_vector(np.array([stance.roll_deg * DEGREE, 0.0, 0.0]))
    return pitch, roll
