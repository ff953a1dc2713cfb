"""Saddles with panels under a tree: jump, general, dressage, show, exercise, stock with panels."""

from dataclasses import dataclass, field, replace
from math import radians

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.arch import ArchSide, arch_line, tree_point
from saddlebench.engine.saddle.bearing import bearing_surface
from saddlebench.engine.saddle.fittings import Fittings, centre_of_mass, seat, strap_pairs
from saddlebench.engine.saddle.model import Channel, Family, SaddleModel
from saddlebench.engine.saddle.panels import (
    Lump,
    PanelNumbers,
    PanelSide,
    TreeNumbers,
    channel,
    underside,
)
from saddlebench.engine.saddle.patch import PointCount
from saddlebench.engine.saddle.zones import Filling


@dataclass(frozen=True, slots=True, kw_only=True)
class OffSide:
    """By how much the off side differs from the near side: off minus near."""

    point_out_mm: float = 0.0
    """Point end further out (an arch spread on one side)."""
    point_angle_deg: float = 0.0
    """Point further from the vertical."""
    panel_width_mm: float = 0.0
    panel_angle_deg: float = 0.0
    """Face steeper at waist and rear."""
    panel_drop_mm: float = 0.0
    """Face lower at the rear (a twisted tree)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelledNumbers:
    """A panelled saddle by its numbers."""

    label: str
    tree: TreeNumbers
    panel: PanelNumbers = field(default_factory=PanelNumbers)
    fittings: Fittings = field(default_factory=Fittings)
    off_side: OffSide = field(default_factory=OffSide)
    filling_left: Filling = field(default_factory=Filling)
    """Fill added to the underside that the other numbers describe (or taken from it)."""
    filling_right: Filling = field(default_factory=Filling)
    lumps: tuple[Lump, ...] = ()


def panel_sides(numbers: PanelledNumbers) -> tuple[PanelSide, PanelSide]:
    """Return what shapes the left and the right side."""
    tree, panel, other = numbers.tree, numbers.panel, numbers.off_side
    arch = ArchSide(
        behind_mm=tree.behind_mm,
        top_z_mm=panel.channel_depth_mm[0] + tree.rise_mm,
        half_width_mm=0.5 * tree.width_mm,
        depth_mm=tree.depth_mm,
        half_angle=radians(0.5 * tree.angle_deg),
        point_mm=tree.point_mm,
        hoop=tree.hoop,
    )
    near = PanelSide(
        arch=arch,
        cover_mm=tree.cover_mm,
        panel=panel,
        footprint=tree.footprint,
        filling=numbers.filling_left,
        lumps=tuple(lump for lump in numbers.lumps if lump.on_left),
    )
    wide, waist, rear = panel.width_mm
    off = replace(
        near,
        arch=replace(
            arch,
            half_width_mm=arch.half_width_mm + other.point_out_mm,
            half_angle=arch.half_angle + radians(other.point_angle_deg),
        ),
        panel=replace(
            panel,
            width_mm=(wide + other.panel_width_mm, waist + other.panel_width_mm, rear + other.panel_width_mm),
            angle_deg=(
                panel.angle_deg[0] + other.panel_angle_deg,
                panel.angle_deg[1] + other.panel_angle_deg,
            ),
            rear_rise_mm=panel.rear_rise_mm - other.panel_drop_mm,
        ),
        filling=numbers.filling_right,
        lumps=tuple(lump for lump in numbers.lumps if not lump.on_left),
    )
    return near, off


def panelled_model(numbers: PanelledNumbers, n_points: PointCount = 2000) -> SaddleModel:
    """Return the model of a panelled saddle with about `n_points` bearing points on both sides together."""
    near, off = panel_sides(numbers)
    return assembled(
        numbers.label,
        numbers.fittings,
        (near, off),
        n_points,
        family=Family.PANELLED,
        arch=arch_line(near.arch, off.arch),
        gap=channel(near, off),
    )


def assembled(
    label: str,
    fittings: Fittings,
    sides: tuple[PanelSide, PanelSide],
    n_points: PointCount,
    *,
    family: Family,
    arch: FloatArray,
    gap: Channel,
) -> SaddleModel:
    """Return the model of any saddle that stands on panels.

    Parameters
    ----------
    label : name of the saddle
    fittings : seat, stirrups, straps and mass
    sides : left and right
    n_points : about how many bearing points, both sides together
    family : the family it is filed under
    arch : (m, 3) float, saddle frame [mm], inner line of the front arch from left to right
    gap : the channel

    Returns
    -------
    SaddleModel
    """
    near, off = sides
    roof = near.panel.channel_depth_mm[0]
    left = underside(near)
    right = left if off == near else underside(off)
    return SaddleModel(
        label=label,
        family=family,
        bearing=bearing_surface(left, right, n_points, (near.support, off.support)),
        panel=near.panel.fill,
        arch_saddle=arch,
        points=(tree_point(near.arch, 1, near.point_cover_mm), tree_point(off.arch, -1, off.point_cover_mm)),
        channel=gap,
        straps=strap_pairs(fittings.straps, roof),
        seat=seat(fittings, roof),
        mass_kg=fittings.mass.mass_kg,
        centre_of_mass_saddle=centre_of_mass(fittings.mass, roof),
    )
