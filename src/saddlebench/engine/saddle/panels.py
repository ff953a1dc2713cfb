"""Tree and panels by their numbers, and the underside of one side that follows from them.

Heights are counted from the inner edge of the near panel at the waist, with the seat level as designed. In
front the underside follows the tree: the panel's face lies along the points, one cover's thickness below.
"""

from dataclasses import dataclass, field
from math import cos, pi, radians, sin, tan

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.arch import ArchSide
from saddlebench.engine.saddle.bearing import Footprint, Support
from saddlebench.engine.saddle.face import Face
from saddlebench.engine.saddle.lengthwise import Lengthwise, lengthwise, smooth_step
from saddlebench.engine.saddle.materials import WOOL, Material
from saddlebench.engine.saddle.model import Channel
from saddlebench.engine.saddle.patch import Patch, raised
from saddlebench.engine.saddle.zones import ByZone, Filling, filling_height

WAIST, REAR = 0.45, 0.90
"""Fractions of the length at which the waist's and the rear's numbers are taken."""
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
    front_flatter_deg: float = 0.0
    """How much flatter the front face lies than the point above it."""
    rear_rise_mm: float = 8.0
    """Rise of the inner edge at the rear above the inner edge at the waist, seat level."""
    tail_sweep_mm: float = 6.0
    """Further rise of the face over the last 80 mm."""
    rounding_mm: float = 2.0
    """How far the middle of the face stands out beyond a straight edge laid across it."""
    front_corner_mm: float = 20.0
    """How far the corners of the front edge lie behind its middle."""
    rear_corner_mm: float = 30.0
    """How far the corners of the rear edge lie in front of its middle."""
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
class PanelSide:
    """All that shapes one side's underside; y is counted positive outwards."""

    arch: ArchSide
    cover_mm: float
    panel: PanelNumbers
    footprint: Footprint
    waist_z_mm: float = 0.0
    """Height of the inner edge at the waist, saddle frame."""
    filling: Filling = field(default_factory=Filling)
    lumps: tuple[Lump, ...] = ()

    @property
    def point_cover_mm(self) -> float:
        """Thickness of panel between the point and the horse, with what filling lies under the point."""
        at = np.array([self.arch.behind_mm])
        added = filling_height(self.filling, at, np.array([0.7]), self.panel.length_mm)
        return self.cover_mm + float(added[0])

    @property
    def support(self) -> Support:
        """How firm the side is."""
        return Support(
            length_mm=self.panel.length_mm,
            firmness=self.panel.firmness,
            thickness_mm=self.panel.thickness_mm,
            footprint=self.footprint,
        )


def front_edge_z(side: PanelSide) -> float:
    """Return the height [mm, saddle frame] at which the front face meets the channel.

    The chord of the face runs parallel to the point, `cover − rounding` below its inner face, so that the
    middle of the rounded face lies exactly `cover` below; a flatter face turns about its middle.
    """
    arch, panel = side.arch, side.panel
    off_chord = side.cover_mm - panel.rounding_mm
    y = arch.half_width_mm - off_chord * cos(arch.half_angle)
    z = arch.top_z_mm - arch.depth_mm - off_chord * sin(arch.half_angle)
    steepness = 1.0 / tan(arch.half_angle)
    to_middle = 0.5 * panel.width_mm[0] * sin(arch.half_angle)
    turned = to_middle * (steepness - tan(_front_angle(side)))
    return z + (y - 0.5 * panel.channel_mm[0]) * steepness - turned


def _front_angle(side: PanelSide) -> float:
    return 0.5 * pi - side.arch.half_angle - radians(side.panel.front_flatter_deg)


def _inner_y(side: PanelSide) -> Lengthwise:
    places = (side.arch.behind_mm, WAIST * side.panel.length_mm, REAR * side.panel.length_mm)
    return lengthwise(places, [0.5 * width for width in side.panel.channel_mm])


def face(side: PanelSide) -> Face:
    """Return one side's underside, before filling and lumps."""
    panel, length = side.panel, side.panel.length_mm
    places = (side.arch.behind_mm, WAIST * length, REAR * length)
    return Face(
        length_mm=length,
        inner_y_mm=_inner_y(side),
        inner_z_mm=lengthwise(
            places, (front_edge_z(side), side.waist_z_mm, side.waist_z_mm + panel.rear_rise_mm)
        ),
        tail_sweep_mm=panel.tail_sweep_mm,
        angle_rad=lengthwise(places, (_front_angle(side), *(radians(angle) for angle in panel.angle_deg))),
        width_mm=lengthwise(places, panel.width_mm),
        rounding_mm=lengthwise((0.0,), (panel.rounding_mm,)),
        front_corner_mm=panel.front_corner_mm,
        rear_corner_mm=panel.rear_corner_mm,
    )


def underside(side: PanelSide) -> Patch:
    """Return one side's underside with its filling and lumps."""
    patch = face(side).patch()
    if side.filling.is_nothing and not side.lumps:
        return patch
    width = float(np.mean(side.panel.width_mm))

    def _height(behind: FloatArray, across: FloatArray) -> FloatArray:
        out = filling_height(side.filling, behind, across, side.panel.length_mm)
        for lump in side.lumps:
            far = (behind - lump.behind_mm) ** 2 + ((across - lump.across) * width) ** 2
            out = out + lump.height_mm * np.exp(-0.5 * far / lump.radius_mm**2)
        return out

    return raised(patch, _height)


def channel(left: PanelSide, right: PanelSide, *, open_to_mm: float = 0.0, lower_mm: float = 0.0) -> Channel:
    """Return the gap between the panels; its roof runs up into the front arch.

    Parameters
    ----------
    left, right : both sides
    open_to_mm : how far behind the front edge nothing lies above the spine (a cut-back head) [mm]
    lower_mm : how much lower than the arch's inside top the roof begins [mm]

    Returns
    -------
    Channel
    """
    length, arch = left.panel.length_mm, left.arch
    behind = np.linspace(open_to_mm, length, _CHANNEL_PLACES)
    places = (WAIST * length, REAR * length)
    waist, rear = left.panel.channel_depth_mm
    roof = lengthwise(places, (waist, left.panel.rear_rise_mm + rear))(behind)
    start = max(arch.behind_mm, open_to_mm)
    into_arch = 1.0 - smooth_step((behind - start) / (places[0] - start))
    return Channel(
        x_mm=read_only(-behind),
        half_width_left_mm=read_only(_inner_y(left)(behind)),
        half_width_right_mm=read_only(_inner_y(right)(behind)),
        roof_z_mm=read_only(roof + (arch.top_z_mm - lower_mm - roof) * into_arch),
    )
