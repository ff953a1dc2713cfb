"""Numbers of invented saddles that follow an invented back's sections, as if cut to it."""

from dataclasses import dataclass, replace

import numpy as np

from saddlebench.demo.shapes import BackShape
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.bars import FRONT, MIDDLE, REAR, BarNumbers, BarsNumbers, ForkNumbers
from saddlebench.engine.saddle.fittings import Fittings, SeatNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import REAR as PANEL_REAR
from saddlebench.engine.saddle.panels import WAIST, PanelNumbers, TreeNumbers
from saddlebench.engine.saddle.side_saddle import SideNumbers, SideSaddleNumbers

_POINTS_BEHIND_MM = 45.0
_POINTS_AT_MM = 30.0
"""Where a fitter puts the points: this far behind the shoulder mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceOnBack:
    """The straight face that lies best on one side of a section between an inner edge and a width."""

    angle_deg: float
    inner_z_mm: float
    middle_z_mm: float


def face_on(
    back: BackShape, s_mm: float, inner_y_mm: float, width_mm: float, pad_mm: float = 0.0
) -> FaceOnBack:
    """Lay a face of some width on a back at distance `s`, with a pad between, back frame."""
    y, z = half_section(back, s_mm)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])
    start = float(np.interp(inner_y_mm, y, along))
    u = start + np.linspace(0.1, 0.9, 17) * width_mm
    slope, _ = np.polyfit(np.interp(u, along, y), np.interp(u, along, z), 1)
    angle = float(np.arctan(-slope))
    middle = float(np.interp(start + 0.5 * width_mm, along, z)) + pad_mm / np.cos(angle)
    return FaceOnBack(
        angle_deg=float(np.rad2deg(angle)),
        inner_z_mm=middle + 0.5 * width_mm * float(np.sin(angle)),
        middle_z_mm=middle,
    )


def half_section(back: BackShape, s_mm: float) -> tuple[FloatArray, FloatArray]:
    """Return y and z, each (n,) float, back frame [mm], of a section's left half from the midline out."""
    left = back.section(s_mm, 801)[400:]
    return left[:, 1], left[:, 2]


def panelled_for(
    back: BackShape,
    label: str,
    *,
    length_mm: float = 430.0,
    depth_mm: float = 165.0,
    over_withers_mm: float = 48.0,
    pad_mm: float = 0.0,
) -> PanelledNumbers:
    """Return a panelled saddle (invented) whose numbers, to the whole mm and degree, follow a back.

    What is cut without room for a pad sits higher in front with one: a steep face is lifted more by it than
    a flat one. Its points are meant to lie 30 mm behind the shoulder mark, 45 mm behind the front edge of
    its panels.
    """
    panel = PanelNumbers(length_mm=length_mm)
    places = (_POINTS_BEHIND_MM, WAIST * length_mm, PANEL_REAR * length_mm)
    front, waist, rear = (
        face_on(back, behind - _POINTS_BEHIND_MM + _POINTS_AT_MM, 0.5 * channel, width, pad_mm)
        for behind, channel, width in zip(places, panel.channel_mm, panel.width_mm, strict=True)
    )
    top = half_section(back, _POINTS_AT_MM)[1][0] + over_withers_mm
    return PanelledNumbers(
        label=label,
        tree=TreeNumbers(
            width_mm=round(2.0 * _half_width(front, panel, top - depth_mm)),
            depth_mm=depth_mm,
            angle_deg=round(2.0 * (90.0 - front.angle_deg)),
            rise_mm=round(top - waist.inner_z_mm - panel.channel_depth_mm[0]),
        ),
        panel=replace(
            panel,
            angle_deg=(round(waist.angle_deg), round(rear.angle_deg)),
            rear_rise_mm=round(rear.inner_z_mm - waist.inner_z_mm),
        ),
        fittings=Fittings(seat=SeatNumbers(rear_behind_mm=length_mm + 10.0)),
    )


def _half_width(front: FaceOnBack, panel: PanelNumbers, end_z_mm: float, cover_mm: float = 12.0) -> float:
    """Return the half width at which a point at height `end_z` stands one cover off the face."""
    half = np.deg2rad(90.0 - front.angle_deg)
    on_face = 0.5 * panel.channel_mm[0] + (front.inner_z_mm - end_z_mm) * np.tan(half)
    return float(on_face + (cover_mm - panel.rounding_mm) / np.cos(half))


def bars_for(back: BackShape, label: str, *, length_mm: float = 480.0, pad_mm: float = 20.0) -> BarsNumbers:
    """Return a saddle on bars (invented) that follows a back through a pad."""
    bar = BarNumbers(length_mm=length_mm)
    front, middle, rear = (
        face_on(back, part * length_mm, 0.5 * spread, width, pad_mm)
        for part, spread, width in zip((FRONT, MIDDLE, REAR), bar.spread_mm, bar.width_mm, strict=True)
    )
    top = half_section(back, 70.0)[1][0] + 65.0
    return BarsNumbers(
        label=label,
        bar=replace(
            bar,
            angle_deg=(round(front.angle_deg), round(middle.angle_deg), round(rear.angle_deg)),
            rocker_mm=(
                round(front.middle_z_mm - middle.middle_z_mm),
                round(rear.middle_z_mm - middle.middle_z_mm),
            ),
        ),
        fork=ForkNumbers(
            height_mm=round(top - middle.middle_z_mm),
            roof_mm=(
                round(half_section(back, MIDDLE * length_mm)[1][0] + 40.0 - middle.middle_z_mm),
                round(half_section(back, REAR * length_mm)[1][0] + 40.0 - middle.middle_z_mm),
            ),
        ),
    )


def side_saddle_for(back: BackShape, label: str) -> SideSaddleNumbers:
    """Return a side-saddle (invented) that follows a back; its near point and panel reach further down."""
    base = panelled_for(back, label, length_mm=470.0)
    tree, panel = base.tree, base.panel
    half_angle = 0.5 * tree.angle_deg
    deeper = 35.0
    near = SideNumbers(
        half_width_mm=0.5 * tree.width_mm + round(deeper * np.tan(np.deg2rad(half_angle))),
        depth_mm=tree.depth_mm + deeper,
        half_angle_deg=half_angle,
        point_mm=150.0,
        panel=replace(panel, width_mm=(190.0, 115.0, 120.0)),
    )
    off = SideNumbers(
        half_width_mm=0.5 * tree.width_mm,
        depth_mm=tree.depth_mm,
        half_angle_deg=half_angle,
        point_mm=100.0,
        panel=replace(panel, width_mm=(150.0, 105.0, 130.0)),
    )
    return SideSaddleNumbers(label=label, near=near, off=off, rise_mm=tree.rise_mm)
