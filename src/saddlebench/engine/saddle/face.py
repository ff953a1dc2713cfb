"""The underside of one panel from numbers: an arc across, carried along the saddle.

Across, at a distance `d` behind the front edge, the face is an arc of length `w` whose chord lies `α` below
the horizontal; along, everything is a smooth function of `d`. The end edges are rounded in plan.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.lengthwise import Lengthwise
from saddlebench.engine.saddle.patch import Patch


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One side's underside; the side's y is counted positive outwards."""

    length_mm: float
    inner_y_mm: Lengthwise
    """Half width of the channel."""
    inner_z_mm: Lengthwise
    """Height of the inner edge, saddle frame."""
    angle_rad: Lengthwise
    """Angle of the face's chord below the horizontal, outwards."""
    width_mm: Lengthwise
    """Width along the face."""
    rounding_mm: Lengthwise
    """How far the middle of the face stands out beyond a straight edge laid across it."""
    front_corner_mm: float
    """How far the front edge's corners lie behind its middle."""
    rear_corner_mm: float
    """How far the rear edge's corners lie in front of its middle."""

    def patch(self) -> Patch:
        """Return the underside as a patch."""

        def _at(t: FloatArray, v: FloatArray) -> FloatArray:
            bow = np.abs(2.0 * v - 1.0) ** 3
            front, rear = self.front_corner_mm * bow, self.rear_corner_mm * bow
            d = front + t * (self.length_mm - front - rear)
            return self.points(d, v)

        return _at

    def points(self, d: FloatArray, v: FloatArray) -> FloatArray:
        """Return points (n, 3) float, saddle frame [mm], at distances d (n,) and fractions v (n,) across."""
        width, angle = self.width_mm(d), self.angle_rad(d)
        bend = curvature(self.rounding_mm(d), width)
        u = v * width
        chord = u * np.sinc(bend * u / (2.0 * np.pi))
        mean_angle = angle + 0.5 * bend * (width - u)
        y = self.inner_y_mm(d) + chord * np.cos(mean_angle)
        z = self.inner_z_mm(d) - chord * np.sin(mean_angle)
        return np.stack([-d, y, z], axis=1)


def curvature(rounding_mm: FloatArray, width_mm: FloatArray) -> FloatArray:
    """Return the curvature (n,) float [1/mm] of arcs `width_mm` long, `rounding_mm` above their chords.

    Solves `rounding = (w²κ/8)·sinc²(κw/4)` by fixed-point steps; each leaves about `(κw)²/24` of the error,
    1/35 for an arc as round as 10 mm in 100 mm.
    """
    bend = 8.0 * rounding_mm / width_mm**2
    for _ in range(6):
        bend = 8.0 * rounding_mm / (width_mm * np.sinc(bend * width_mm / (4.0 * np.pi))) ** 2
    return bend
