"""Stance: how the floor or the instrument was tilted, and the rigid move that undoes it exactly.

Only the ground and the instrument are corrected; the horse's own shape (croup-high, roach) stays as it is.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.frame_errors import FrameError, turned
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


def stance_errors(stance: Stance) -> tuple[FrameError, ...]:
    """Return the errors of pitch and roll, as they move points in the back frame [mm/rad].

    `∂/∂pitch (R_y R_x p) = [ŷ]× p_back`, and `∂/∂roll = R_y [x̂]× R_yᵀ p_back`: roll turns about the axis that
    pitch then tips.
    """
    sd = stance.sd_deg * DEGREE
    if sd == 0.0:
        return ()
    pitch, _ = _turns(stance)
    rolled_about = pitch @ np.array([1.0, 0.0, 0.0])
    return (
        turned("level of the ground along the horse", sd, (0.0, 1.0, 0.0)),
        turned("level of the ground across the horse", sd, tuple(rolled_about.tolist())),
    )


def _turns(stance: Stance) -> tuple[FloatArray, FloatArray]:
    pitch = rotation_from_vector(np.array([0.0, stance.pitch_deg * DEGREE, 0.0]))
    roll = rotation_from_vector(np.array([stance.roll_deg * DEGREE, 0.0, 0.0]))
    return pitch, roll
