"""The front arch: straight points below, a smooth head above, in a plane across the saddle."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.model import TreePoint

_PER_SIDE = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchSide:
    """One side of a front arch, y counted positive outwards, inner face."""

    behind_mm: float
    """Where the arch stands, behind the front edge of the panels."""
    top_z_mm: float
    """Height of its inside top, saddle frame."""
    half_width_mm: float
    """Half the width between the point ends."""
    depth_mm: float
    """Depth of the point ends below the inside top."""
    half_angle: float
    """Angle of the point from the vertical [rad]."""
    point_mm: float
    """Length of the straight point."""
    hoop: float
    """0: straight lines to the top (a V); 1: a full hoop."""

    @property
    def end(self) -> FloatArray:
        """(3,) float, saddle frame [mm], on the positive side: the point's end."""
        return np.array([-self.behind_mm, self.half_width_mm, self.top_z_mm - self.depth_mm])

    @property
    def upward(self) -> FloatArray:
        """(3,) float, saddle frame [1], on the positive side: unit vector up along the point."""
        return np.array([0.0, -np.sin(self.half_angle), np.cos(self.half_angle)])

    def line(self) -> FloatArray:
        """Return the inner line from the point's end to the top, (m, 3) float, saddle frame [mm].

        Above the point it is a cubic Bézier curve that leaves along the point and arrives level at the top.
        """
        shoulder = self.end + self.point_mm * self.upward
        top = np.array([-self.behind_mm, 0.0, self.top_z_mm])
        reach = self.hoop * 0.55 * (top - shoulder)
        up = shoulder + self.upward * abs(reach[2]) / max(self.upward[2], 0.2)
        level = top + np.array([0.0, abs(reach[1]), 0.0])
        t = np.linspace(0.0, 1.0, _PER_SIDE)[:, None]
        head = (1 - t) ** 3 * shoulder + 3 * t * (1 - t) ** 2 * up + 3 * t * t * (1 - t) * level + t**3 * top
        return np.vstack([self.end, head])


def tree_point(side: ArchSide, sign: int, cover_mm: float) -> TreePoint:
    """Return the tree point on the left (+1) or right (−1)."""
    mirror = np.array([1.0, float(sign), 1.0])
    return TreePoint(
        end_saddle=read_only(side.end * mirror),
        upward_saddle=read_only(side.upward * mirror),
        length_mm=side.point_mm,
        cover_mm=cover_mm,
    )


def arch_line(left: ArchSide, right: ArchSide) -> FloatArray:
    """Return the inner line, (m, 3) float, saddle frame [mm], left end over the top to right end."""
    mirrored = right.line() * np.array([1.0, -1.0, 1.0])
    return read_only(np.vstack([left.line(), mirrored[-2::-1]]))
