"""Saddles that stand on two bars: western, endurance, trooper, Iberian.

Heights are counted from the middle of the bar's face, half way along, with the seat level as designed.
"""

from dataclasses import dataclass, field
from math import radians

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.arch import ArchSide, arch_line
from saddlebench.engine.saddle.bearing import Support, bearing_surface
from saddlebench.engine.saddle.face import Face
from saddlebench.engine.saddle.fittings import (
    Fittings,
    MassNumbers,
    SeatNumbers,
    StirrupNumbers,
    StrapNumbers,
    centre_of_mass,
    seat,
    strap_pairs,
)
from saddlebench.engine.saddle.lengthwise import lengthwise, smooth_step
from saddlebench.engine.saddle.materials import BAR_LINING, Material
from saddlebench.engine.saddle.model import Channel, Family, SaddleModel
from saddlebench.engine.saddle.patch import Patch, PointCount, raised

FRONT, MIDDLE, REAR = 0.12, 0.50, 0.90
"""Fractions of the bar's length at which its numbers are taken: past the flare, half way, near the end."""
_CHANNEL_PLACES = 41

FrontMiddleRear = tuple[float, float, float]

USUAL_RIGGING = (
    StrapNumbers(name="front rigging", behind_mm=95.0, apart_mm=260.0, above_roof_mm=-40.0),
    StrapNumbers(name="rear rigging", behind_mm=330.0, apart_mm=260.0, above_roof_mm=-30.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BarNumbers:
    """One bar's underside; the off bar is its mirror image but for `BarsNumbers.off_bar`."""

    length_mm: float = 520.0
    width_mm: FrontMiddleRear = (95.0, 75.0, 100.0)
    spread_mm: FrontMiddleRear = (95.0, 80.0, 95.0)
    """Between the inner edges of the two bars."""
    angle_deg: FrontMiddleRear = (46.0, 36.0, 28.0)
    """Angle of the face below the horizontal; the change along it is the bar twist."""
    rocker_mm: tuple[float, float] = (14.0, 14.0)
    """Rise of the middle of the face at front and rear above a level line through its middle place."""
    crown_mm: float = 3.0
    """How far the middle of the face stands out beyond a straight edge laid across it."""
    flare_mm: tuple[float, float] = (10.0, 8.0)
    """How far front tip and rear tip stand away from the run of the face."""
    flare_length_mm: float = 55.0
    corner_mm: float = 25.0
    """How far the corners of the ends lie inside their middle."""
    lining: Material = BAR_LINING


@dataclass(frozen=True, slots=True, kw_only=True)
class ForkNumbers:
    """The front arch between the bars."""

    height_mm: float = 135.0
    """Inside top of the arch above the middle of the bars' face half way along."""
    behind_mm: float = 70.0
    roof_mm: tuple[float, float] = (60.0, 62.0)
    """Underside of the ground seat above the same height, half way along and at the rear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OffBar:
    """By how much the off bar differs from the near bar: off minus near."""

    out_mm: float = 0.0
    angle_deg: float = 0.0
    front_drop_mm: float = 0.0
    """Lower in front (a twisted tree)."""
    rear_drop_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BarsNumbers:
    """A saddle on bars by its numbers."""

    label: str
    bar: BarNumbers = field(default_factory=BarNumbers)
    fork: ForkNumbers = field(default_factory=ForkNumbers)
    off_bar: OffBar = field(default_factory=OffBar)
    skirts_mm: tuple[float, float] = (40.0, 90.0)
    """How far the skirts reach out beyond the bars' front and rear ends."""
    fittings: Fittings = field(
        default_factory=lambda: Fittings(
            seat=SeatNumbers(
                size_in=15.5, lowest_behind_mm=300.0, front_behind_mm=90.0, rear_behind_mm=470.0
            ),
            stirrups=StirrupNumbers(behind_mm=215.0, apart_mm=230.0, above_roof_mm=-15.0),
            straps=USUAL_RIGGING,
            mass=MassNumbers(mass_kg=14.0, behind_mm=255.0, above_roof_mm=15.0),
        )
    )


def bar_face(numbers: BarsNumbers, *, off: bool) -> Face:
    """Return one bar's underside without the flare of its tips."""
    bar, other = numbers.bar, numbers.off_bar if off else OffBar()
    places = [part * bar.length_mm for part in (FRONT, MIDDLE, REAR)]
    return Face(
        length_mm=bar.length_mm,
        inner_y_mm=lengthwise(places, [0.5 * spread + other.out_mm for spread in bar.spread_mm]),
        inner_z_mm=lengthwise(
            places, (bar.rocker_mm[0] - other.front_drop_mm, 0.0, bar.rocker_mm[1] - other.rear_drop_mm)
        ),
        heights_of_middle=True,
        angle_rad=lengthwise(places, [radians(value + other.angle_deg) for value in bar.angle_deg]),
        width_mm=lengthwise(places, bar.width_mm),
        rounding_mm=lengthwise((0.0,), (bar.crown_mm,)),
        front_corner_mm=bar.corner_mm,
        rear_corner_mm=bar.corner_mm,
    )


def bar_underside(numbers: BarsNumbers, *, off: bool) -> Patch:
    """Return one bar's underside with its tips flared away from the horse."""
    bar = numbers.bar

    def _flare(behind: FloatArray, across: FloatArray) -> FloatArray:  # noqa: ARG001
        front = np.maximum(0.0, 1.0 - behind / bar.flare_length_mm)
        rear = np.maximum(0.0, 1.0 - (bar.length_mm - behind) / bar.flare_length_mm)
        return -bar.flare_mm[0] * front**3 - bar.flare_mm[1] * rear**3

    return raised(bar_face(numbers, off=off).patch(), _flare)


def bars_model(numbers: BarsNumbers, n_points: PointCount = 2000) -> SaddleModel:
    """Return the model of a saddle on bars, with about `n_points` bearing points on both together."""
    bar, roof = numbers.bar, numbers.fork.roof_mm[0]
    left, right = (bar_face(numbers, off=off) for off in (False, True))
    held = Support(length_mm=bar.length_mm, footprint=None)
    near = bar_underside(numbers, off=False)
    far = near if numbers.off_bar == OffBar() else bar_underside(numbers, off=True)
    return SaddleModel(
        label=numbers.label,
        family=Family.BARS,
        bearing=bearing_surface(
            near,
            far,
            n_points,
            (held, held),
        ),
        panel=bar.lining,
        arch_saddle=arch_line(_fork_side(numbers, left), _fork_side(numbers, right)),
        points=None,
        channel=_channel(numbers, left, right),
        straps=strap_pairs(numbers.fittings.straps, roof),
        seat=seat(numbers.fittings, roof),
        mass_kg=numbers.fittings.mass.mass_kg,
        centre_of_mass_saddle=centre_of_mass(numbers.fittings.mass, roof),
        skirts_x_mm=(numbers.skirts_mm[0], -bar.length_mm - numbers.skirts_mm[1]),
    )


def _fork_side(numbers: BarsNumbers, one: Face) -> ArchSide:
    """Return the arch that springs from the inner edge of a bar and rises along the run of its face."""
    fork = numbers.fork
    at = np.array([fork.behind_mm])
    edge_z = float(one.inner_z_mm(at)[0])
    half_width = float(one.inner_y_mm(at)[0])
    return ArchSide(
        behind_mm=fork.behind_mm,
        top_z_mm=fork.height_mm,
        half_width_mm=half_width,
        depth_mm=fork.height_mm - edge_z,
        half_angle=0.25 * (0.5 * np.pi - float(one.angle_rad(at)[0])),
        point_mm=0.2 * (fork.height_mm - edge_z),
        hoop=1.0,
    )


def _channel(numbers: BarsNumbers, left: Face, right: Face) -> Channel:
    length, fork = numbers.bar.length_mm, numbers.fork
    behind = np.linspace(0.0, length, _CHANNEL_PLACES)
    places = (MIDDLE * length, REAR * length)
    roof = lengthwise(places, fork.roof_mm)(behind)
    into_fork = 1.0 - smooth_step((behind - fork.behind_mm) / (places[0] - fork.behind_mm))
    return Channel(
        x_mm=read_only(-behind),
        half_width_left_mm=read_only(left.inner_y_mm(behind)),
        half_width_right_mm=read_only(right.inner_y_mm(behind)),
        roof_z_mm=read_only(roof + (fork.height_mm - roof) * into_fork),
    )
