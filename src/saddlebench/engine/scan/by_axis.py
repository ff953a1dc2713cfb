"""Stand an animal that was found on its ground by gravity instead, as one of the scan's own axes holds it."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import LevelBy, levelled
from saddlebench.engine.scan.standing import Standing, other_way_round
from saddlebench.engine.scan.trunk import find_trunk

_SAME = np.cos(np.deg2rad(0.02))


def stood_by_axis(standing: Standing, points: FloatArray, axis: FloatArray) -> Standing:
    """Return the same animal with an axis of the scan as up; itself where its trunk is not found that way.

    Parameters
    ----------
    standing : Standing
    points : (n, 3) float, instrument frame, those that `standing` was found in
    axis : (3,) float, instrument frame [1]
    """
    if float(axis @ standing.up) > _SAME:
        return replace(standing, level_by=LevelBy.AXIS)
    level = levelled(axis)
    own = points[standing.animal]
    floor = None
    if standing.ground is not None:
        middle = own.mean(axis=0)
        floor = float(middle @ axis) - standing.ground.height(middle, axis)
    trunk = find_trunk(own @ level.T, floor=floor)
    if trunk is None:
        return standing
    stood = replace(standing, up=axis, level=level, level_by=LevelBy.AXIS, trunk=trunk)
    return other_way_round(stood) if float(stood.forward @ standing.forward) < 0.0 else stood
