"""What each change does to the underside: fields over the bearing points, one unit of change each.

A change acts in proportion, so that a plan's fields are the same whether it is sought, foretold or tried.
Coupled to wool are its firmness, a rounder face and a narrower channel: their directions are common practice,
their sizes assumptions.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.fit.saddle_error import MODES, perturbed
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import bearing_length, front_x
from saddlebench.engine.saddle.model import BearingSurface, SaddleModel
from saddlebench.engine.saddle.zones import Filling, filling_height

FIRMER_PER_MM = 0.03
"""More wool in the same cover is firmer: the logarithm of its stiffness rises by this for each mm."""
ROUNDER = 0.3
"""More wool makes the face rounder: its middle gains a third of this more than asked, its edges twice that
less; over the width the mean is what was asked."""
NARROWS = 0.15
"""Each mm of wool along the inner edge moves that edge this far into the channel."""
POINT_ACROSS = 0.7
"""Where across the panel the tree point lies, 0 inner edge to 1 outer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One change's effect."""

    moves: FloatArray
    """(n, 3) float, saddle frame [mm]: of the bearing points."""
    firmer: FloatArray
    """(n,) float [1]: rise of the logarithm of the panel's stiffness."""

    def __add__(self, other: "Field") -> "Field":
        return Field(moves=self.moves + other.moves, firmer=self.firmer + other.firmer)

    def times(self, amount: float) -> "Field":
        """Return the field of an amount of the change."""
        return Field(moves=amount * self.moves, firmer=amount * self.firmer)


def across_of(bearing: BearingSurface) -> FloatArray:
    """Return where across its panel each point lies, (n,) float [1]: 0 at the inner edge, 1 at the outer."""
    return (bearing.column + 0.5) / (int(bearing.column.max()) + 1)


def rounded(across: FloatArray) -> FloatArray:
    """Return the factor (n,) by which a place across the panel, (n,) float [1], gains of what is asked."""
    return 1.0 + ROUNDER * (4.0 * across * (1.0 - across) - 2.0 / 3.0)


def wool_field(saddle: SaddleModel, left: Filling, right: Filling) -> Field:
    """Return what fillings of both sides do."""
    bearing = saddle.bearing
    height = _height(bearing, left, right)
    face = height * rounded(across_of(bearing))
    return Field(moves=face[:, None] * bearing.normals_saddle, firmer=FIRMER_PER_MM * height)


def shim_field(saddle: SaddleModel, left: Filling, right: Filling) -> Field:
    """Return what shims of these thicknesses do: they lift the whole width and firm nothing."""
    bearing = saddle.bearing
    height = _height(bearing, left, right)
    return Field(moves=height[:, None] * bearing.normals_saddle, firmer=np.zeros_like(height))


def arch_field(saddle: SaddleModel) -> Field:
    """Return what a front arch 1 mm wider at the point ends does.

    Each side goes out by half of it in front, less and less towards the waist; angle and height of the points
    stay.
    """
    wider = arched(saddle, 1.0)
    moves = wider.bearing.points_saddle - saddle.bearing.points_saddle
    return Field(moves=moves, firmer=np.zeros(len(moves)))


def arched(saddle: SaddleModel, wider_mm: float) -> SaddleModel:
    """Return the saddle with its front arch wider (or narrower) at the point ends."""
    change = np.zeros((1, len(MODES)))
    change[0, MODES.index("arch_width_mm")] = wider_mm
    return perturbed(saddle, change)[0]


def _height(bearing: BearingSurface, left: Filling, right: Filling) -> FloatArray:
    length = bearing_length(bearing)
    behind = front_x(bearing) - bearing.points_saddle[:, 0]
    across = across_of(bearing)
    out = np.zeros(len(behind))
    for side, filling in ((1, left), (-1, right)):
        if filling.is_nothing:
            continue
        mine = bearing.side == side
        out[mine] = filling_height(filling, behind[mine], across[mine], length)
    return out
