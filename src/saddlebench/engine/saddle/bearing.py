"""From two patches to the cloud of bearing points, with the stiffness each stands on."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.lengthwise import smooth_step
from saddlebench.engine.saddle.model import BearingSurface
from saddlebench.engine.saddle.patch import Patch, PointCount, SideSamples, rows_and_columns, sample
from saddlebench.engine.saddle.zones import ByZone, by_zone, zone_of

THICKNESS_MM = 30.0
"""Panel thickness at which a fill has its library stiffness; a thinner panel is stiffer as 1/thickness."""
_FADE_MM = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """The part of the bearing surface that lies under the tree; the rest carries little."""

    front_behind_mm: float = 15.0
    """Where the tree begins, behind the front edge of the panels."""
    rear_before_mm: float = 45.0
    """Where the tree ends, in front of the panels' rear edge."""
    outer_margin_mm: float = 12.0
    """How far the panel reaches out beyond the tree."""
    beyond: float = 0.35
    """Stiffness of the panel beyond the tree over that under it (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """How firm one side is: its fill by zone, its thickness, and the tree above it."""

    length_mm: float
    """Length of the side's bearing surface."""
    firmness: ByZone = (1.0, 1.0, 1.0, 1.0)
    """Stiffness of the fill over its library value, by zone."""
    thickness_mm: ByZone = (THICKNESS_MM,) * 4
    footprint: Footprint | None = Footprint()


def bearing_surface(
    left: Patch, right: Patch, n_points: PointCount, supports: tuple[Support, Support]
) -> BearingSurface:
    """Return the bearing points of both sides.

    Parameters
    ----------
    left, right : patches with y outwards; the right one is mirrored, and may be the left one itself
    n_points : about how many points for both sides together
    supports : left and right

    Returns
    -------
    BearingSurface
    """
    rows, columns = rows_and_columns(left, n_points)
    near = sample(left, rows, columns)
    off = near if right is left else sample(right, rows, columns)
    return joined(
        near,
        off,
        zones=(
            zone_of(-near.points_saddle[:, 0], supports[0].length_mm),
            zone_of(-off.points_saddle[:, 0], supports[1].length_mm),
        ),
        stiffness=(firmness(near, supports[0]), firmness(off, supports[1])),
    )


def joined(
    left: SideSamples,
    right: SideSamples,
    *,
    zones: tuple[NDArray[np.int8], NDArray[np.int8]],
    stiffness: tuple[FloatArray, FloatArray],
) -> BearingSurface:
    """Return both sides as one cloud; the right one is mirrored into place.

    Parameters
    ----------
    left, right : samples with y outwards
    zones : two (n,) int, `Zone` of each point, left and right
    stiffness : two (n,) float, firmness of each point, left and right [1]
    """
    mirror = np.array([1.0, -1.0, 1.0])
    return BearingSurface(
        points_saddle=read_only(np.vstack([left.points_saddle, right.points_saddle * mirror])),
        normals_saddle=read_only(np.vstack([left.normals_saddle, right.normals_saddle * mirror])),
        area_mm2=read_only(np.concatenate([left.area_mm2, right.area_mm2])),
        side=np.repeat(np.array([1, -1], dtype=np.int8), [len(left.row), len(right.row)]),
        row=np.concatenate([left.row, right.row]),
        column=np.concatenate([left.column, right.column]),
        zone=np.concatenate(zones),
        edge_mm=read_only(np.concatenate([left.edge_mm, right.edge_mm])),
        outer_edge_mm=read_only(np.concatenate([left.outer_edge_mm, right.outer_edge_mm])),
        firmness=read_only(np.concatenate(stiffness)),
    )


def firmness(side: SideSamples, support: Support) -> FloatArray:
    """Return the stiffness (n,) at a side's points over its material's library value."""
    behind = -side.points_saddle[:, 0]
    fill = by_zone(support.firmness, behind, support.length_mm)
    thickness = by_zone(support.thickness_mm, behind, support.length_mm)
    held = fill * THICKNESS_MM / thickness
    if support.footprint is None:
        return held
    foot = support.footprint
    inside = np.minimum(
        np.minimum(behind - foot.front_behind_mm, support.length_mm - foot.rear_before_mm - behind),
        side.outer_edge_mm - foot.outer_margin_mm,
    )
    share = smooth_step(inside / _FADE_MM + 0.5)
    return held * (foot.beyond + (1.0 - foot.beyond) * share)
