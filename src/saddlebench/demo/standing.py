"""An invented horse as an instrument sees it that hangs out of level: the stance, before it is undone."""

import numpy as np

from saddlebench.demo.shapes import BackShape
from saddlebench.engine.back.backwards import SectionAt
from saddlebench.engine.back.stance import Stance, instrument_to_back
from saddlebench.engine.frames import FloatArray

_AROUND_MM = np.arange(-60.0, 60.1, 4.0)
"""Sections of the level horse that a tilted plane may cross, about its own."""


def tilted_sections(shape: BackShape, stance: Stance, phi: FloatArray) -> SectionAt:
    """Return the sections of an invented back in the frame of an instrument that is tilted by a stance.

    Parameters
    ----------
    shape : in the back frame
    stance : as it would be read, and undone later
    phi : (n,) float, back frame, the angles at which sections are drawn, rising [rad]
    """
    to_instrument = instrument_to_back(stance).inverse()

    def section(distance_mm: float) -> FloatArray:
        s = np.repeat(distance_mm + _AROUND_MM, phi.size)
        angle = np.tile(phi, _AROUND_MM.size)
        r = shape.radius(s, angle)
        points = np.column_stack([-s, r * np.sin(angle), r * np.cos(angle) + shape.axis_z_mm])
        seen = to_instrument.points(points).reshape(_AROUND_MM.size, phi.size, 3)
        cut = np.array(
            [
                [np.interp(distance_mm, -seen[:, k, 0], seen[:, k, axis]) for axis in (1, 2)]
                for k in range(phi.size)
            ]
        )
        # A section is read from its own midline, wherever that lies.
        return cut - np.array([np.interp(0.0, phi, cut[:, 0]), 0.0])

    return section
