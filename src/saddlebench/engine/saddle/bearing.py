"""From two patches to the cloud of bearing points, with the stiffness each stands on."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.lengthwise import smooth_step
from saddlebench.engine.saddle.model import BearingSurface
from saddlebench.engine.saddle.patch import Patch, SideSamples, rows_and_columns, sample
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

    firmness: ByZone = (1.0, 1.0, 1.0, 1.0)
    """Stiffness of the fill over its library value, by zone."""
    thickness_mm: ByZone = (THICKNESS_MM,) * 4
    footprint: Footprint | None = Footprint()


def bearing_surface(
    left: Patch, right: Patch, n_points: int, length_mm: float, supports: tuple[Support, Support]
) -> BearingSurface:
    """Return the bearing points of both sides.

    Parameters
    ----------
    left, right : patches with y outwards; the right one is mirrored, and may be the left one itself
    n_points : about how many points for both sides together
    length_mm : length of the bearing surface [mm]
    supports : left and right

    Returns
    -------
    BearingSurface
    """
    rows, columns = rows_and_columns(left, n_points)
    near = sample(left, rows, columns)
    sides = (near, near if right is left else sample(right, rows, columns))
    mirror = np.array([1.0, -1.0, 1.0])
    behind = np.concatenate([-side.points_saddle[:, 0] for side in sides])
    return BearingSurface(
        points_saddle=read_only(np.vstack([sides[0].points_saddle, sides[1].points_saddle * mirror])),
        normals_saddle=read_only(np.vstack([sides[0].normals_saddle, sides[1].normals_saddle * mirror])),
        area_mm2=read_only(np.concatenate([side.area_mm2 for side in sides])),
        side=np.repeat(np.array([1, -1], dtype=np.int8), rows * columns),
        row=np.concatenate([side.row for side in sides]),
        column=np.concatenate([side.column for side in sides]),
        zone=zone_of(behind, length_mm),
        edge_mm=read_only(np.concatenate([side.edge_mm for side in sides])),
        outer_edge_mm=read_only(np.concatenate([side.outer_edge_mm for side in sides])),
        firmness=read_only(
            np.concatenate(
                [firmness(*pair, length_mm=length_mm) for pair in zip(sides, supports, strict=True)]
            )
        ),
    )


def firmness(side: SideSamples, support: Support, *, length_mm: float) -> FloatArray:
    """Return the stiffness (n,) at a side's points over its material's library value."""
    behind = -side.points_saddle[:, 0]
    fill = by_zone(support.firmness, behind, length_mm)
    thickness = by_zone(support.thickness_mm, behind, length_mm)
    held = fill * THICKNESS_MM / thickness
    if support.footprint is None:
        return held
    foot = support.footprint
    inside = np.minimum(
        np.minimum(behind - foot.front_behind_mm, length_mm - foot.rear_before_mm - behind),
        side.outer_edge_mm - foot.outer_margin_mm,
    )
    share = smooth_step(inside / _FADE_MM + 0.5)
    return held * (foot.beyond + (1.0 - foot.beyond) * share)
