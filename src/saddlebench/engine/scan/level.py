"""What is level in a scan: by the scan's own axis, where that holds gravity, or by the ground.

Phones and most scanners feel gravity and write it into the file as one of its axes, y or z upwards; a yard
falls by some degrees. An axis near the ground's normal but not on it may therefore be gravity, and the
difference the fall of the ground. Axes that lie any way come so near by chance once in some 150 scans:
whether this one is believed, the trunk and how far yards fall say (`by_axis.py`).
"""

from enum import StrEnum

import numpy as np

from saddlebench.engine.frames import FloatArray

USUAL_UP = (np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]))
"""Axes that are written upwards in files that hold gravity."""
STEEPEST_DEG, STEEPEST_STATED_DEG = 6.5, 12.0
"""A ground is taken to fall by no more than this: by itself, and where a person says that the axis is up."""
USUAL_FALL_DEG = 3.5
"""More than paved yards and most grass fall by (from memory: 0.7 to 1.4°, and more)."""
AGREE_DEG = 0.5
"""Axis and ground nearer to each other than this say the same."""


class LevelBy(StrEnum):
    """What says which way is up."""

    AXIS = "axis"
    """One of the scan's own axes, along gravity."""
    GROUND = "ground"
    """Nobody said whether it was level."""
    LEVEL_GROUND = "level ground"
    """Somebody said that it was."""
    BODY = "body"
    """How the body would stand: no ground was seen."""


def gravity_axis(
    found_up: FloatArray, *, stated: FloatArray | None = None, wanted: LevelBy | None = None
) -> FloatArray | None:
    """Return the scan's own axis (3,) that holds gravity, instrument frame [1], or None where none may.

    Parameters
    ----------
    found_up : (3,) float, instrument frame [1], by the ground or the body
    stated : (3,) float, instrument frame, what a person called up, if anything
    wanted : what a person wants to have level by, if anything
    """
    if wanted not in (None, LevelBy.AXIS):
        return None
    ways: list[FloatArray] = [*USUAL_UP]
    if stated is not None:
        own = stated / np.linalg.norm(stated)
        # A direction that is no axis was read off by eye: the ground says it better, unless it is wanted.
        ways = [own] if wanted is LevelBy.AXIS or np.abs(own).max() > 1.0 - 1e-9 else []
    elif wanted is LevelBy.AXIS:
        ways = [*np.eye(3), *-np.eye(3)]
    farthest = STEEPEST_DEG if stated is None and wanted is None else STEEPEST_STATED_DEG
    near = [way for way in ways if float(way @ found_up) > np.cos(np.deg2rad(farthest))]
    return max(near, key=lambda way: float(way @ found_up), default=None)


def levelled(up: FloatArray) -> FloatArray:
    """Return a rotation (3, 3) from the instrument frame to one with z along up (3,), instrument frame."""
    other = np.eye(3)[int(np.argmin(np.abs(up)))]
    x = np.cross(other, up)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(up, x), up])
