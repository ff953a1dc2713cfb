"""Side-saddles: an unsymmetrical tree, a long near point, unequal panels, one stirrup, a balance strap."""

from dataclasses import dataclass, field, replace
from math import radians

import numpy as np

from saddlebench.engine.frames import read_only
from saddlebench.engine.saddle.arch import ArchSide, arch_line
from saddlebench.engine.saddle.bearing import Footprint
from saddlebench.engine.saddle.fittings import Fittings, MassNumbers
from saddlebench.engine.saddle.model import Family, SaddleModel, StrapPair
from saddlebench.engine.saddle.panelled import assembled
from saddlebench.engine.saddle.panels import PanelNumbers, PanelSide, channel
from saddlebench.engine.saddle.patch import PointCount
from saddlebench.engine.saddle.zones import Filling


@dataclass(frozen=True, slots=True, kw_only=True)
class SideNumbers:
    """One side of the tree's head and the panel under it."""

    half_width_mm: float
    """From the middle of the saddle to the point's end, inside."""
    depth_mm: float
    """Depth of the point's end below the inside top of the arch."""
    half_angle_deg: float
    """Angle of the point from the vertical."""
    point_mm: float
    """Length of the straight part of the point."""
    panel: PanelNumbers = field(default_factory=PanelNumbers)
    filling: Filling = field(default_factory=Filling)


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceStrap:
    """The strap from the rear of the off side to the girth on the near side."""

    behind_mm: float = 370.0
    out_mm: float = 120.0
    """From the middle of the saddle to its anchor on the off side."""
    above_roof_mm: float = -20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSaddleNumbers:
    """A side-saddle by its numbers; near is the rider's leg side."""

    label: str
    near: SideNumbers
    off: SideNumbers
    rise_mm: float
    """Height of the arch's inside top above a rod laid along the roof of the channel at the waist."""
    hoop: float = 0.7
    behind_mm: float = 45.0
    """Where the points are, behind the front edge of the panels."""
    cover_mm: float = 12.0
    footprint: Footprint = field(default_factory=Footprint)
    off_waist_higher_mm: float = 0.0
    """Height of the off panel's inner edge at the waist above the near panel's."""
    load_off_mm: float = 15.0
    """How far to the off side of the middle the rider's weight is meant to enter (assumption)."""
    balance_strap: BalanceStrap | None = field(default_factory=BalanceStrap)
    fittings: Fittings = field(default_factory=lambda: Fittings(mass=MassNumbers(mass_kg=9.5)))


def side_saddle_model(numbers: SideSaddleNumbers, n_points: PointCount = 2000) -> SaddleModel:
    """Return the model of a side-saddle.

    Both stirrup bars are the near one, so that whatever share hangs in the stirrup hangs there; the rider's
    weight enters on the off side of the middle by design.
    """
    near, off = saddle_sides(numbers)
    model = assembled(
        numbers.label,
        numbers.fittings,
        (near, off),
        n_points,
        family=Family.SIDE_SADDLE,
        arch=arch_line(near.arch, off.arch),
        gap=channel(near, off),
    )
    seat = replace(model.seat, stirrup_bar_right=model.seat.stirrup_bar_left, load_y_mm=-numbers.load_off_mm)
    return replace(model, seat=seat, straps=model.straps + _balance(numbers, model))


def saddle_sides(numbers: SideSaddleNumbers) -> tuple[PanelSide, PanelSide]:
    """Return what shapes the near and the off side."""
    return (
        _side(numbers, numbers.near, waist_z_mm=0.0),
        _side(numbers, numbers.off, waist_z_mm=numbers.off_waist_higher_mm),
    )


def _side(numbers: SideSaddleNumbers, side: SideNumbers, *, waist_z_mm: float) -> PanelSide:
    arch = ArchSide(
        behind_mm=numbers.behind_mm,
        top_z_mm=numbers.near.panel.channel_depth_mm[0] + numbers.rise_mm,
        half_width_mm=side.half_width_mm,
        depth_mm=side.depth_mm,
        half_angle=radians(side.half_angle_deg),
        point_mm=side.point_mm,
        hoop=numbers.hoop,
    )
    return PanelSide(
        arch=arch,
        cover_mm=numbers.cover_mm,
        panel=side.panel,
        footprint=numbers.footprint,
        waist_z_mm=waist_z_mm,
        filling=side.filling,
    )


def _balance(numbers: SideSaddleNumbers, model: SaddleModel) -> tuple[StrapPair, ...]:
    if numbers.balance_strap is None or not model.straps:
        return ()
    strap = numbers.balance_strap
    roof = numbers.near.panel.channel_depth_mm[0]
    anchor = np.array([-strap.behind_mm, -strap.out_mm, roof + strap.above_roof_mm])
    return (
        StrapPair(
            name="balance strap", left_saddle=model.straps[0].left_saddle, right_saddle=read_only(anchor)
        ),
    )
