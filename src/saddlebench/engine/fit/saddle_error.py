"""How well a saddle's shape is known from tape and angle gauge, as smooth changes of its model.

However the saddle was recorded, its error is described by the same few modes; each moves what it
touches of the underside, the arch, the points and the channel together.
"""

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.grid import bearing_length, front_x
from saddlebench.engine.saddle.model import SaddleModel, TreePoint
from saddlebench.engine.saddle.shape_error import SaddleError

MODES = tuple(one.name for one in fields(SaddleError))
MODE_WORDS = {
    "arch_width_mm": "the saddle's width between the point ends",
    "front_height_mm": "the height of the panels at the front",
    "rear_height_mm": "the height of the panels at the rear",
    "rocker_mm": "the rocker of the panels",
    "face_angle": "the angle of the panels' faces",
    "twist_mm": "the twist of the saddle",
    "channel_mm": "the width of the channel",
    "roof_mm": "the height of arch and channel above the panels",
}


def perturbed(saddle: SaddleModel, errors: FloatArray) -> tuple[SaddleModel, ...]:
    """Return saddles that differ from one by given errors.

    Parameters
    ----------
    saddle : as recorded
    errors : (d, 8) float, in the order of `MODES`, saddle frame [mm, rad]

    Returns
    -------
    tuple of SaddleModel
        d of them; bearing points keep rows, columns, areas and normals.
    """
    bearing = saddle.bearing
    begin, length = front_x(bearing), bearing_length(bearing)
    modes = _modes(bearing.points_saddle, bearing.side.astype(float), begin, length)
    points = bearing.points_saddle + np.tensordot(errors, modes, axes=1)
    arch = saddle.arch_saddle
    arch_modes = _modes(arch, np.sign(arch[:, 1]), begin, length)
    arches = arch + np.tensordot(errors, arch_modes, axes=1)
    arches[:, :, 2] += errors[:, MODES.index("roof_mm"), None]
    return tuple(_with(saddle, errors[index], points[index], arches[index]) for index in range(len(errors)))


def _with(
    saddle: SaddleModel, errors: FloatArray, bearing_points: FloatArray, arch: FloatArray
) -> SaddleModel:
    channel, wider = saddle.channel, 0.5 * errors[MODES.index("channel_mm")]
    return replace(
        saddle,
        bearing=replace(saddle.bearing, points_saddle=read_only(bearing_points)),
        arch_saddle=read_only(arch),
        points=_points(saddle.points, errors),
        channel=replace(
            channel,
            half_width_left_mm=read_only(channel.half_width_left_mm + wider),
            half_width_right_mm=read_only(channel.half_width_right_mm + wider),
            roof_z_mm=read_only(channel.roof_z_mm + errors[MODES.index("roof_mm")]),
        ),
    )


def _modes(points: FloatArray, side: FloatArray, begin: float, length: float) -> FloatArray:
    """Return the shift (8, m, 3) of points (m, 3) float, saddle frame [mm], by one unit of each mode."""
    t = np.clip((begin - points[:, 0]) / length, 0.0, 1.0)
    front = np.clip(1.0 - 2.5 * t, 0.0, 1.0)
    across = np.abs(points[:, 1])
    out = np.zeros((len(MODES), len(points), 3))
    out[MODES.index("arch_width_mm"), :, 1] = 0.5 * side * front
    out[MODES.index("front_height_mm"), :, 2] = (1.0 - t) ** 2
    out[MODES.index("rear_height_mm"), :, 2] = t**2
    out[MODES.index("rocker_mm"), :, 2] = 4.0 * t * (1.0 - t)
    out[MODES.index("face_angle"), :, 2] = -(across - np.median(across))
    out[MODES.index("twist_mm"), :, 2] = 0.5 * side * t
    return out


def _points(
    points: tuple[TreePoint, TreePoint] | None, errors: FloatArray
) -> tuple[TreePoint, TreePoint] | None:
    if points is None:
        return None
    spread, height = errors[MODES.index("arch_width_mm")], errors[MODES.index("front_height_mm")]
    left, right = (
        replace(point, end_saddle=read_only(point.end_saddle + np.array([0.0, 0.5 * sign * spread, height])))
        for point, sign in zip(points, (1.0, -1.0), strict=True)
    )
    return left, right


def error_sizes(error: SaddleError) -> Sequence[float]:
    """Return the standard deviations in the order of `MODES`."""
    return [getattr(error, name) for name in MODES]
