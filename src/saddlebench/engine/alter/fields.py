"""What each change does to the underside: fields over the bearing points, one unit of change each.

A change acts in proportion, so that a plan's fields are the same whether it is sought, foretold or tried.
Coupled to wool are its firmness, a rounder face and a narrower channel: their directions are common practice,
their sizes assumptions.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit.saddle_error import MODES, perturbed
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import bearing_length, front_x
from saddlebench.engine.saddle.model import BearingSurface, SaddleModel
from saddlebench.engine.saddle.zones import Filling, by_zone, outward_share

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


def across_of(bearing: BearingSurface) -> FloatArray:
    """Return where across its panel each point lies, (n,) float [1]: 0 at the inner edge, 1 at the outer."""
    return (bearing.column + 0.5) / (int(bearing.column.max()) + 1)


def rounded(across: FloatArray) -> FloatArray:
    """Return the factor (n,) by which a place across the panel, (n,) float [1], gains of what is asked."""
    return 1.0 + ROUNDER * (4.0 * across * (1.0 - across) - 2.0 / 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Where along and across each bearing point lies, for fields of many changes at once."""

    along: FloatArray
    """(n, 4) float, saddle frame [1]: share of each zone, blended as in the workshop."""
    outward: FloatArray
    """(n,) float, saddle frame [1]: 0 in the inner half, 1 in the outer."""
    side: NDArray[np.int8]
    normals: FloatArray
    """(n, 3) float, saddle frame [1]."""
    rounded: FloatArray
    """(n,) float, saddle frame [1]: what a place gains of what wool is asked to add."""

    @classmethod
    def of(cls, bearing: BearingSurface) -> "Shares":
        """Return the shares of a bearing surface."""
        length = bearing_length(bearing)
        behind = front_x(bearing) - bearing.points_saddle[:, 0]
        across = across_of(bearing)
        units = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0), (0.0, 0.0, 0.0, 1.0))
        return cls(
            along=np.stack([by_zone(one, behind, length) for one in units], axis=1),
            outward=outward_share(across),
            side=bearing.side,
            normals=bearing.normals_saddle,
            rounded=rounded(across),
        )

    def height(self, filling: Filling, *, on_left: bool) -> FloatArray:
        """Return what a filling of one side adds (n,) [mm]."""
        inner, outer = self.along @ np.array(filling.inner_mm), self.along @ np.array(filling.outer_mm)
        mine = self.side == (1 if on_left else -1)
        return np.where(mine, inner + (outer - inner) * self.outward, 0.0)

    def wool(self, height: FloatArray) -> Field:
        """Return what wool of a height (n,) float, saddle frame [mm], does."""
        face = height * self.rounded
        return Field(moves=face[:, None] * self.normals, firmer=FIRMER_PER_MM * height)

    def shim(self, height: FloatArray) -> Field:
        """Return what shims of a height (n,) float, saddle frame [mm], do: they lift and firm nothing."""
        return Field(moves=height[:, None] * self.normals, firmer=np.zeros_like(height))


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
