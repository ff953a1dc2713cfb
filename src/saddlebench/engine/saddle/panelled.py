"""Saddles with panels under a tree, from the numbers a tape and an angle gauge give.

Heights are counted from the inner edge of the panels at the waist, with the seat level as designed. The
underside follows the tree in front: the panel's face lies along the points, one cover's thickness below them.
"""

from dataclasses import dataclass, field
from math import cos, pi, radians, sin, tan

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.arch import ArchSide, arch_line, tree_point
from saddlebench.engine.saddle.bearing import Footprint, Support, bearing_surface
from saddlebench.engine.saddle.face import Face
from saddlebench.engine.saddle.fittings import (
    USUAL_STRAPS,
    MassNumbers,
    SeatNumbers,
    StirrupNumbers,
    StrapNumbers,
    centre_of_mass,
    seat,
    strap_pairs,
)
from saddlebench.engine.saddle.lengthwise import lengthwise, smooth_step
from saddlebench.engine.saddle.materials import WOOL, Material
from saddlebench.engine.saddle.model import Channel, Family, SaddleModel
from saddlebench.engine.saddle.patch import Patch, raised
from saddlebench.engine.saddle.zones import ByZone, Filling, filling_height

WAIST, REAR = 0.45, 0.90
"""Fractions of the length at which the waist's and the rear's numbers are taken."""
_SWEEP_MM = 80.0
_CHANNEL_PLACES = 41

FrontWaistRear = tuple[float, float, float]
"""Values under the tree points, at 45 % and at 90 % of the length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeNumbers:
    """The front arch, measured on its inner face, and the tree's footprint on the panel."""

    width_mm: float
    """Between the point ends, inside."""
    depth_mm: float
    """Depth of the point ends below the inside top of the arch."""
    angle_deg: float
    """Angle that the two points include."""
    rise_mm: float
    """Height of the inside top above a rod laid along the roof of the channel at the waist."""
    point_mm: float = 100.0
    """Length of the straight part of a point."""
    hoop: float = 0.7
    """Shape of the head: 0 a V, 1 a full hoop."""
    behind_mm: float = 45.0
    """Where the points are, behind the front edge of the panels."""
    cover_mm: float = 12.0
    """Thickness of panel between a point and the horse."""
    footprint: Footprint = field(default_factory=Footprint)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelNumbers:
    """The underside of the panels (of the near side, where the off side differs)."""

    length_mm: float = 430.0
    """From the front edge to the rear edge, straight."""
    channel_mm: FrontWaistRear = (76.0, 72.0, 76.0)
    """Width of the channel."""
    channel_depth_mm: tuple[float, float] = (42.0, 45.0)
    """Roof of the channel above the panels' inner edges, at the waist and at the rear."""
    width_mm: FrontWaistRear = (150.0, 105.0, 120.0)
    """Width of one panel, along its face."""
    angle_deg: tuple[float, float] = (32.0, 28.0)
    """Angle of the face below the horizontal, at waist and rear; in front it follows the points."""
    rear_rise_mm: float = 8.0
    """Rise of the inner edge at the rear above the inner edge at the waist, seat level."""
    tail_sweep_mm: float = 6.0
    """Further rise of the face over the last 80 mm."""
    rounding_mm: float = 2.0
    """How far the middle of the face stands out beyond a straight edge laid across it."""
    front_corner_mm: float = 20.0
    rear_corner_mm: float = 30.0
    fill: Material = WOOL
    firmness: ByZone = (1.0, 1.0, 1.0, 1.0)
    """Stiffness of the fill over its library value, by zone; from a disc's dip where measured."""
    thickness_mm: ByZone = (30.0, 30.0, 30.0, 30.0)
    gusset_mm: float = 0.0
    """Depth of a rear gusset; recorded, its shape is in the other numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lump:
    """A local rise (or dent) of one panel's underside."""

    on_left: bool
    behind_mm: float
    across: float
    """0 at the inner edge, 1 at the outer."""
    height_mm: float
    radius_mm: float = 25.0
    """Standard deviation of its bell shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OffSide:
    """By how much the off side differs from the near side: off minus near."""

    point_out_mm: float = 0.0
    """Point end further out (arch spread on one side)."""
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
    seat: SeatNumbers = field(default_factory=SeatNumbers)
    stirrups: StirrupNumbers = field(default_factory=StirrupNumbers)
    straps: tuple[StrapNumbers, ...] = USUAL_STRAPS
    mass: MassNumbers = field(default_factory=MassNumbers)
    off_side: OffSide = field(default_factory=OffSide)
    filling_left: Filling = field(default_factory=Filling)
    """Fill added to the underside as described by the other numbers (or taken from it)."""
    filling_right: Filling = field(default_factory=Filling)
    lumps: tuple[Lump, ...] = ()

    @property
    def top_z_mm(self) -> float:
        """Height of the front arch's inside top, saddle frame [mm]."""
        return self.panel.channel_depth_mm[0] + self.tree.rise_mm


def arch_side(numbers: PanelledNumbers, *, off: bool) -> ArchSide:
    """Return one side of the front arch."""
    tree, other = numbers.tree, numbers.off_side if off else OffSide()
    return ArchSide(
        behind_mm=tree.behind_mm,
        top_z_mm=numbers.top_z_mm,
        half_width_mm=0.5 * tree.width_mm + other.point_out_mm,
        depth_mm=tree.depth_mm,
        half_angle=radians(0.5 * tree.angle_deg + other.point_angle_deg),
        point_mm=tree.point_mm,
        hoop=tree.hoop,
    )


def front_edge_z(arch: ArchSide, cover_mm: float, half_channel_mm: float, sagitta_mm: float) -> float:
    """Return the height [mm, saddle frame] at which the front face meets the channel.

    The chord of the face runs parallel to the point, `cover − sagitta` below its inner face, so that the
    middle of the rounded face lies exactly `cover` below.
    """
    off_chord = cover_mm - sagitta_mm
    y = arch.half_width_mm - off_chord * cos(arch.half_angle)
    z = arch.top_z_mm - arch.depth_mm - off_chord * sin(arch.half_angle)
    return z + (y - half_channel_mm) / tan(arch.half_angle)


def face(numbers: PanelledNumbers, *, off: bool) -> Face:
    """Return one side's underside, before filling and lumps."""
    panel, arch = numbers.panel, arch_side(numbers, off=off)
    other = numbers.off_side if off else OffSide()
    length = panel.length_mm
    places = (numbers.tree.behind_mm, WAIST * length, REAR * length)
    front_z = front_edge_z(arch, numbers.tree.cover_mm, 0.5 * panel.channel_mm[0], panel.rounding_mm)
    rise = lengthwise(places, (front_z, 0.0, panel.rear_rise_mm - other.panel_drop_mm))

    def inner_z(d: FloatArray) -> FloatArray:
        tail = np.maximum(0.0, 1.0 - (length - d) / _SWEEP_MM)
        return rise(d) + panel.tail_sweep_mm * tail**3

    steeper = radians(other.panel_angle_deg)
    angles = (0.5 * pi - arch.half_angle, *(radians(angle) + steeper for angle in panel.angle_deg))
    return Face(
        length_mm=length,
        inner_y_mm=lengthwise(places, [0.5 * width for width in panel.channel_mm]),
        inner_z_mm=inner_z,
        angle_rad=lengthwise(places, angles),
        width_mm=lengthwise(places, [width + other.panel_width_mm for width in panel.width_mm]),
        rounding_mm=lengthwise((0.0,), (panel.rounding_mm,)),
        front_corner_mm=panel.front_corner_mm,
        rear_corner_mm=panel.rear_corner_mm,
    )


def underside(numbers: PanelledNumbers, *, off: bool) -> Patch:
    """Return one side's underside with its filling and lumps."""
    filling = numbers.filling_right if off else numbers.filling_left
    lumps = tuple(lump for lump in numbers.lumps if lump.on_left is not off)
    patch = face(numbers, off=off).patch()
    if filling.is_nothing and not lumps:
        return patch
    width = float(np.mean(numbers.panel.width_mm))

    def height(behind: FloatArray, across: FloatArray) -> FloatArray:
        out = filling_height(filling, behind, across, numbers.panel.length_mm)
        for lump in lumps:
            far = (behind - lump.behind_mm) ** 2 + ((across - lump.across) * width) ** 2
            out = out + lump.height_mm * np.exp(-0.5 * far / lump.radius_mm**2)
        return out

    return raised(patch, height)


def channel(numbers: PanelledNumbers, left: Face, right: Face) -> Channel:
    """Return the gap between the panels; its roof runs up into the front arch."""
    panel = numbers.panel
    behind = np.linspace(0.0, panel.length_mm, _CHANNEL_PLACES)
    places = (WAIST * panel.length_mm, REAR * panel.length_mm)
    depth_waist, depth_rear = panel.channel_depth_mm
    roof = lengthwise(places, (depth_waist, panel.rear_rise_mm + depth_rear))(behind)
    start = numbers.tree.behind_mm
    into_arch = 1.0 - smooth_step((behind - start) / (places[0] - start))
    return Channel(
        x_mm=read_only(-behind),
        half_width_left_mm=read_only(left.inner_y_mm(behind)),
        half_width_right_mm=read_only(right.inner_y_mm(behind)),
        roof_z_mm=read_only(roof + (numbers.top_z_mm - roof) * into_arch),
    )


def panelled_model(
    numbers: PanelledNumbers, n_points: int = 2000, *, family: Family = Family.PANELLED
) -> SaddleModel:
    """Return the model of a saddle with panels.

    Parameters
    ----------
    numbers : as measured
    n_points : about how many bearing points, both sides together
    family : the family it is filed under

    Returns
    -------
    SaddleModel
    """
    near, off = arch_side(numbers, off=False), arch_side(numbers, off=True)
    roof = numbers.panel.channel_depth_mm[0]
    panel = numbers.panel
    support = Support(
        firmness=panel.firmness, thickness_mm=panel.thickness_mm, footprint=numbers.tree.footprint
    )
    return SaddleModel(
        label=numbers.label,
        family=family,
        bearing=bearing_surface(
            underside(numbers, off=False),
            underside(numbers, off=True),
            n_points,
            panel.length_mm,
            (support, support),
        ),
        panel=panel.fill,
        arch_saddle=arch_line(near, off),
        points=(
            tree_point(near, 1, numbers.tree.cover_mm),
            tree_point(off, -1, numbers.tree.cover_mm),
        ),
        channel=channel(numbers, face(numbers, off=False), face(numbers, off=True)),
        straps=strap_pairs(numbers.straps, roof),
        seat=seat(numbers.seat, numbers.stirrups, roof),
        mass_kg=numbers.mass.mass_kg,
        centre_of_mass_saddle=centre_of_mass(numbers.mass, roof),
    )
