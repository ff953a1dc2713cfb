"""What is level in a scan: by the scan's own axis, where that holds gravity, or by the ground.

Phones and most scanners feel gravity and write it into the file as one of its axes, y or z upwards; a yard
falls by some degrees. An axis near the ground's normal but not on it may therefore be gravity, and the
difference the fall of the ground; or a program turned the scan a little. The scan cannot tell which: level
stays the ground's, the axis is named, and a person says.
"""

from enum import StrEnum

import numpy as np

from saddlebench.engine.frames import FloatArray

USUAL_UP = (np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0]))
"""Axes that are written upwards in files that hold gravity."""
STEEPEST_DEG, STEEPEST_STATED_DEG = 6.5, 12.0
"""An axis farther off is not named, and not believed even where a person says that it is up."""
AGREE_DEG = 0.5
"""Axis and ground nearer to each other than this say the same."""
AGREE_WITH_BODY_DEG = 4.5
"""The same without ground: three deviations of how exactly a body says which way is up (bench)."""


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
    found_up: FloatArray,
    *,
    on_ground: bool = True,
    stated: FloatArray | None = None,
    wanted: LevelBy | None = None,
) -> FloatArray | None:
    """Return the scan's own axis (3,) that holds gravity, instrument frame [1], or None where none may.

    Parameters
    ----------
    found_up : (3,) float, instrument frame [1], by the ground or the body
    on_ground : whether it was found by the ground
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
    if stated is None and wanted is None:
        return _nearest(ways, found_up, AGREE_DEG if on_ground else AGREE_WITH_BODY_DEG)
    return _nearest(ways, found_up, STEEPEST_STATED_DEG)


def axis_near(up: FloatArray) -> FloatArray | None:
    """Return the scan's own axis (3,) that may hold gravity beside what was taken for up (3,), or None."""
    return _nearest([*USUAL_UP], up, STEEPEST_DEG)


def _nearest(ways: list[FloatArray], up: FloatArray, farthest_deg: float) -> FloatArray | None:
    near = [way for way in ways if float(way @ up) > np.cos(np.deg2rad(farthest_deg))]
    return max(near, key=lambda way: float(way @ up), default=None)


def levelled(up: FloatArray) -> FloatArray:
    """Return a rotation (3, 3) from the instrument frame to one with z along up (3,), instrument frame."""
    other = np.eye(3)[int(np.argmin(np.abs(up)))]
    x = np.cross(other, up)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(up, x), up])
