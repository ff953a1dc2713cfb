"""A saddle as the fit needs it: sampled bearing surface, channel, arch, seat, straps, mass.

Everything is in the saddle frame. However the saddle was recorded (a dozen numbers, sections, a mesh),
it ends here.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.shape_error import SaddleError


class Family(StrEnum):
    """Families of saddle."""

    PANELLED = "panelled"
    CUT_BACK = "cut-back"
    BARS = "bars"
    SIDE_SADDLE = "side-saddle"
    TREELESS = "treeless"
    FLEXIBLE_TREE = "flexible tree"

    @property
    def is_rigid(self) -> bool:
        """Whether the rigid-body model covers it at all."""
        return self not in (Family.TREELESS, Family.FLEXIBLE_TREE)


class Zone(IntEnum):
    """Zones along a panel or bar; neighbours blend over 60–80 mm in the workshop."""

    FRONT = 0
    WAIST = 1
    SEAT = 2
    REAR = 3


class PadCut(StrEnum):
    """How a pad lies over the spine."""

    FREE = "free of the spine"
    PULLED_DOWN = "pulled down on the spine"


@dataclass(frozen=True, slots=True, kw_only=True)
class PadLayer:
    """A layer between saddle and back."""

    name: str
    thickness_mm: tuple[float, float, float, float]
    """Unpressed thickness by zone, front to rear."""
    material: Material
    cut: PadCut = PadCut.FREE


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingSurface:
    """The underside of both panels (or bars) as a cloud of `n` points, each standing for an area.

    Points of one side form rows across and columns along: `row` counts from the front, `column` from the
    inner edge. Left and right have the same rows and columns.
    """

    points_saddle: FloatArray
    """(n, 3) float, saddle frame [mm]."""
    normals_saddle: FloatArray
    """(n, 3) float, saddle frame [1], outward: away from the saddle, towards the horse."""
    area_mm2: FloatArray
    """(n,) float [mm²]."""
    side: NDArray[np.int8]
    """(n,) +1 left, −1 right."""
    row: NDArray[np.int32]
    column: NDArray[np.int32]
    zone: NDArray[np.int8]
    """(n,) `Zone`."""
    edge_mm: FloatArray
    """(n,) float, distance to the nearest edge of the panel, along the underside [mm]."""
    outer_edge_mm: FloatArray
    """(n,) float, distance to the outer edge [mm]."""
    firmness: FloatArray
    """(n,) float, the panel's stiffness here over its material's [1]; below 1 where no tree lies above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TreePoint:
    """The lower end of the front arch on one side."""

    end_saddle: FloatArray
    """(3,) float, saddle frame [mm]: the point's end on its inner face."""
    upward_saddle: FloatArray
    """(3,) float, saddle frame [1]: unit vector along the point, from its end up towards the arch."""
    length_mm: float
    cover_mm: float
    """Thickness of panel between the point's inner face and the horse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """The gap between the panels, at `k` places from front to rear."""

    x_mm: FloatArray
    """(k,) float, saddle frame [mm], decreasing."""
    half_width_left_mm: FloatArray
    half_width_right_mm: FloatArray
    roof_z_mm: FloatArray
    """(k,) float, saddle frame [mm]: underside of whatever is above the spine. In front of the first place
    (the rear of a cut-back head) nothing is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapPair:
    """A pair of girth straps (billets): where they are anchored, left and right."""

    name: str
    left_saddle: FloatArray
    """(3,) float, saddle frame [mm]."""
    right_saddle: FloatArray
    """(3,) float, saddle frame [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The seat along the midline, and where the rider's weight enters."""

    x_mm: FloatArray
    """(k,) float, saddle frame [mm], decreasing."""
    z_mm: FloatArray
    """(k,) float, saddle frame [mm]."""
    stirrup_bar_left: FloatArray
    """(3,) float, saddle frame [mm]."""
    stirrup_bar_right: FloatArray
    """(3,) float, saddle frame [mm]. A side-saddle's one stirrup is both."""
    load_y_mm: float = 0.0
    """Where across the seat the rider's weight enters by design, positive left (a side-saddle's offset)."""

    @property
    def lowest_x_mm(self) -> float:
        """Where the seat is lowest with the saddle level as designed, saddle frame [mm]."""
        return float(self.x_mm[int(np.argmin(self.z_mm))])


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleModel:
    """One saddle, ready to be settled on a back."""

    label: str
    family: Family
    bearing: BearingSurface
    panel: Material
    arch_saddle: FloatArray
    """(m, 3) float, saddle frame [mm]: inner line of the front arch, left end over the top to right end."""
    points: tuple[TreePoint, TreePoint] | None
    """Left and right tree points; None for families that have none (bars)."""
    channel: Channel
    straps: tuple[StrapPair, ...]
    seat: Seat
    mass_kg: float
    centre_of_mass_saddle: FloatArray
    """(3,) float, saddle frame [mm]."""
    skirts_x_mm: tuple[float, float] | None = None
    """Front and rear end of the skirts, saddle frame [mm]: leather that reaches past the bars, unloaded."""
    shape_error: SaddleError | None = None
    """How well its shape is known where its own measurement says so; None: as by tape and angle gauge."""
