"""Zones along a panel or bar, and how neighbouring zones blend."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle._kernels import filled
from saddlebench.engine.saddle.lengthwise import smooth_step
from saddlebench.engine.saddle.model import Zone

ZONE_ENDS = (0.28, 0.50, 0.78)
"""Fractions of the length at which the front, the waist and the seat zone end (common practice)."""
BLEND_MM = 70.0
"""Neighbouring zones blend over 60–80 mm in the workshop (common practice)."""
_ENDS = np.array(ZONE_ENDS)

ByZone = tuple[float, float, float, float]
"""One value per `Zone`, front to rear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """How much is added to (or taken from) the underside of one side [mm], by zone and by half of the width.

    Inner and outer differ in practice only where a panel is at least 70 mm wide.
    """

    inner_mm: ByZone = (0.0, 0.0, 0.0, 0.0)
    outer_mm: ByZone = (0.0, 0.0, 0.0, 0.0)

    @classmethod
    def even(cls, by_zone: ByZone) -> "Filling":
        """Return the same over the whole width."""
        return cls(inner_mm=by_zone, outer_mm=by_zone)

    @property
    def is_nothing(self) -> bool:
        """Whether nothing is added or taken."""
        return not any(self.inner_mm) and not any(self.outer_mm)


def zone_of(behind_mm: FloatArray, length_mm: float) -> NDArray[np.int8]:
    """Return the `Zone` (n,) at distances (n,) behind the front edge [mm]."""
    return np.searchsorted(ZONE_ENDS, behind_mm / length_mm, side="right").astype(np.int8)


def by_zone(values: ByZone, behind_mm: FloatArray, length_mm: float) -> FloatArray:
    """Return a zoned quantity along the panel, blended smoothly over `BLEND_MM` about each zone's end.

    Parameters
    ----------
    values : one value per zone, front to rear, in the quantity's own unit
    behind_mm : (n,) float, saddle frame, distance behind the front edge [mm]
    length_mm : length of the bearing surface [mm]

    Returns
    -------
    (n,) float
    """
    out = np.full_like(np.asarray(behind_mm, float), values[Zone.FRONT])
    for zone, end in zip((Zone.WAIST, Zone.SEAT, Zone.REAR), ZONE_ENDS, strict=True):
        share = smooth_step((behind_mm - end * length_mm) / BLEND_MM + 0.5)
        out = out + (values[zone] - values[zone - 1]) * share
    return out


def filling_height(
    filling: Filling, behind_mm: FloatArray, across: FloatArray, length_mm: float
) -> FloatArray:
    """Return what a filling adds (n,) [mm]; `across` (n,) runs from 0 at the inner edge to 1 at the outer."""
    inner, outer = np.array(filling.inner_mm, float), np.array(filling.outer_mm, float)
    out = np.zeros(len(across))
    behind = np.ascontiguousarray(behind_mm, float)
    filled(inner, outer, _ENDS * length_mm, BLEND_MM, behind, np.ascontiguousarray(across, float), out)
    return out


def outward_share(across: FloatArray) -> FloatArray:
    """Return the outer half's share (n,) [1] at places `across` (n,) float, saddle frame [1]."""
    return smooth_step(2.0 * across - 0.5)
