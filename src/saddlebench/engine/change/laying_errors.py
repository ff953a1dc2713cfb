"""What the later record may lie off by: marks, midline, level and heading, each as far as it may be off."""

import numpy as np

from saddlebench.engine.back.frame_errors import FrameError, shifted, turned
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.change.marks import ShiftAlong
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

ALONG = "place along the back"


def laying_errors(
    earlier: EstimatedBack, later: EstimatedBack, shift: ShiftAlong, settings: ChangeSettings
) -> tuple[tuple[FrameError, ...], tuple[FrameError, ...]]:
    """Return what the later record may lie off by: what is corrected, and what only widens the doubt.

    Level, heading and place are corrected, within what ground, instrument and marks may be off; the scale of
    a scan or of tracing sheets is not: growth must not be taken for it. Heights count from the midline at the
    shoulder mark: a mark set further back lies lower or higher by the topline's slope there.
    """
    stated = (*earlier.points.frame_errors, *later.points.frame_errors)
    corrected = tuple(one for one in stated if np.trace(one.linear) == 0.0)
    own = (
        shifted(ALONG, shift.sd_mm, (1.0, 0.0, -topline_slope(earlier))),
        shifted("beside the midline", settings.sideways_sd_mm, (0.0, 1.0, 0.0)),
        shifted("height of the whole", settings.heave_sd_mm, (0.0, 0.0, 1.0)),
        turned("heading of the midline", np.sqrt(2.0) * settings.yaw_sd_deg * DEGREE, (0.0, 0.0, 1.0)),
    )
    return (*own, *corrected), tuple(one for one in stated if np.trace(one.linear) != 0.0)


def topline_slope(estimated: EstimatedBack) -> float:
    """Return how much the topline rises per length at the shoulder mark, front to rear [1]."""
    at = np.zeros(1)
    return float(estimated.surface.spline.radius(at, at)[0, 1])


def rigid_parts(errors: tuple[FrameError, ...]) -> FloatArray:
    """Return (6, q): x, y, z [mm], roll, pitch, yaw [rad] that a deviation of each error moves by."""
    columns = [
        (
            *(one.sd * one.shift),
            one.sd * one.linear[2, 1],
            -one.sd * one.linear[2, 0],
            one.sd * one.linear[1, 0],
        )
        for one in errors
    ]
    return np.array(columns).T
