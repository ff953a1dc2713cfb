"""The underside of one panel from numbers: an arc across, carried along the saddle.

Across, at a distance `d` behind the front edge, the face is an arc of length `w` whose chord lies `α` below
the horizontal; along, everything is a smooth function of `d`. The end edges are rounded in plan.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle._kernels import bends, face_points
from saddlebench.engine.saddle.lengthwise import Lengthwise
from saddlebench.engine.saddle.patch import Patch

SWEEP_MM = 80.0
"""Length over which the tail sweeps up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One side's underside; the side's y is counted positive outwards."""

    length_mm: float
    inner_y_mm: Lengthwise
    """Half width of the channel."""
    inner_z_mm: Lengthwise
    """Height of the inner edge, saddle frame, before the sweep of the tail."""
    tail_sweep_mm: float = 0.0
    """Further rise of the whole face at the rear edge."""
    heights_of_middle: bool = False
    """Whether the heights given are those of the face's middle, crown included, not of its inner edge."""
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
        points = self._compiled()

        def _at(t: FloatArray, v: FloatArray) -> FloatArray:
            side = np.abs(2.0 * v - 1.0)
            bow = side * side * side
            front, rear = self.front_corner_mm * bow, self.rear_corner_mm * bow
            return points(front + t * (self.length_mm - front - rear), v)

        return _at

    def points(self, d: FloatArray, v: FloatArray) -> FloatArray:
        """Return points (n, 3) float, saddle frame [mm], at distances d (n,) and fractions v (n,) across."""
        return self._compiled()(d, v)

    def _compiled(self) -> Patch:
        rows = (self.inner_y_mm, self.inner_z_mm, self.angle_rad, self.width_mm, self.rounding_mm)
        tables = np.stack([one.table for one in rows])

        def _points(d: FloatArray, v: FloatArray) -> FloatArray:
            behind, across = np.ascontiguousarray(d, float), np.ascontiguousarray(v, float)
            out = np.zeros((len(behind), 3))
            ends = self.length_mm, self.tail_sweep_mm, SWEEP_MM
            face_points(tables, *ends, self.heights_of_middle, behind, across, out)
            return out

        return _points


def curvature(rounding_mm: FloatArray, width_mm: FloatArray) -> FloatArray:
    """Return the curvature (n,) float [1/mm] of arcs `width_mm` long, `rounding_mm` above their chords.

    Solves `rounding = (w²κ/8)·sinc²(κw/4)` by Newton's steps.
    """
    flat, width = np.broadcast_arrays(np.asarray(rounding_mm, float), np.asarray(width_mm, float))
    out = np.zeros(flat.size)
    bends(np.ascontiguousarray(flat).ravel(), np.ascontiguousarray(width).ravel(), out)
    return out.reshape(flat.shape)
