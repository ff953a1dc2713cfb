"""The back, the saddle and its states as a study holds them, so that everything can be drawn again."""

from typing import Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import LoadCase, Push, State
from saddlebench.engine.fit.settled import Outcome, Position, Settled, Settlement, SolverReport
from saddlebench.engine.frames import Frame, Pose
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import (
    BearingSurface,
    Channel,
    Family,
    SaddleModel,
    Seat,
    StrapPair,
    TreePoint,
)
from saddlebench.exchange.records.arrays import (
    Bits,
    Direction,
    DirectionRows,
    Field,
    FieldRows,
    Integers,
    LengthRows,
    Lengths,
    Mirror,
)
from saddlebench.exchange.records.document import Part

MIDDLING_MM = 1000.0
"""A back's radius lies between nothing and twice this."""


class SurfacePart(Mirror):
    """The back's surface at the nodes of its grid: mean, standard deviation, where measured, tissue."""

    ENGINE: ClassVar[type] = BackSurface
    grid: PolarGrid
    radius_mm: LengthRows
    sd_mm: LengthRows
    measured: Bits
    tissue: Integers

    @classmethod
    def given(cls, held: BackSurface) -> dict[str, Any]:
        """Return the surface's fields, the tissue as one list."""
        return {**super().given(held), "tissue": held.tissue.ravel().astype(np.int32)}

    def fields(self) -> dict[str, Any]:
        """Return the surface's fields, its spline made again."""
        shape = (self.grid.n_s, self.grid.n_phi)
        return {
            **super().fields(),
            "measured": self.measured.reshape(shape),
            "tissue": self.tissue.reshape(shape).astype(np.int8),
            "spline": PolarSpline.through(self.grid, self.radius_mm),
        }

    def problems(self) -> list[str]:
        """Return what does not fit together, in words."""
        shape = (self.grid.n_s, self.grid.n_phi)
        sizes = {
            "radius_mm": self.radius_mm.shape == shape
            and bool(np.all(np.abs(self.radius_mm - MIDDLING_MM) < MIDDLING_MM)),
            "sd_mm": self.sd_mm.shape == shape,
            "measured": self.measured.size == shape[0] * shape[1],
            "tissue": self.tissue.size == shape[0] * shape[1],
        }
        wrong = [name for name, fits in sizes.items() if not fits]
        if not min(self.grid.ds_mm, self.grid.dphi) > 0.0:
            wrong.append("grid")
        return [f"surface.{name} is no back's, on a grid of {shape[0]} by {shape[1]} nodes" for name in wrong]


class BearingPart(Mirror):
    """The underside's points."""

    ENGINE: ClassVar[type] = BearingSurface
    points_saddle: LengthRows
    normals_saddle: DirectionRows
    area_mm2: Lengths
    side: Integers
    row: Integers
    column: Integers
    zone: Integers
    edge_mm: Lengths
    outer_edge_mm: Lengths
    firmness: Lengths

    def fields(self) -> dict[str, Any]:
        """Return the bearing surface's fields, sides and zones as small integers."""
        return {**super().fields(), "side": self.side.astype(np.int8), "zone": self.zone.astype(np.int8)}

    def problems(self) -> list[str]:
        """Return what does not fit together, in words."""
        n_points = len(self.points_saddle)
        wrong = [
            f"bearing.{name} does not have {n_points} rows of {width} numbers"
            for name, width in (("points_saddle", 3), ("normals_saddle", 3))
            if getattr(self, name).shape != (n_points, width)
        ]
        flat = ("area_mm2", "side", "row", "column", "zone", "edge_mm", "outer_edge_mm", "firmness")
        wrong += [
            f"bearing.{name} does not have {n_points} numbers"
            for name in flat
            if getattr(self, name).shape != (n_points,)
        ]
        return wrong or [
            f"bearing: the points of the {name} side do not fill their rows and columns"
            for name, side in (("near", 1), ("off", -1))
            if not self._fills(self.side == side)
        ]

    def _fills(self, chosen: NDArray[np.bool_]) -> bool:
        places = np.unique(np.column_stack([self.row[chosen], self.column[chosen]]), axis=0)
        rows, columns = np.unique(places[:, 0]).size, np.unique(places[:, 1]).size
        count = int(chosen.sum())
        return rows > 1 and columns > 1 and len(places) == count == rows * columns


class TreePointPart(Mirror):
    """One tree point."""

    ENGINE: ClassVar[type] = TreePoint
    end_saddle: Lengths
    upward_saddle: Direction
    length_mm: float
    cover_mm: float


class ChannelPart(Mirror):
    """The channel along the saddle."""

    ENGINE: ClassVar[type] = Channel
    x_mm: Lengths
    half_width_left_mm: Lengths
    half_width_right_mm: Lengths
    roof_z_mm: Lengths


class StrapPairPart(Mirror):
    """A pair of girth straps."""

    ENGINE: ClassVar[type] = StrapPair
    name: str
    left_saddle: Lengths
    right_saddle: Lengths


class SeatPart(Mirror):
    """The seat's line and the stirrup bars."""

    ENGINE: ClassVar[type] = Seat
    x_mm: Lengths
    z_mm: Lengths
    stirrup_bar_left: Lengths
    stirrup_bar_right: Lengths
    load_y_mm: float


class SaddleModelPart(Mirror):
    """The saddle as it was put on the back."""

    ENGINE: ClassVar[type] = SaddleModel
    label: str
    family: Family
    bearing: BearingPart
    panel: Material
    arch_saddle: LengthRows
    points: tuple[TreePointPart, TreePointPart] | None = None
    channel: ChannelPart
    straps: tuple[StrapPairPart, ...]
    seat: SeatPart
    mass_kg: float
    centre_of_mass_saddle: Lengths
    skirts_x_mm: tuple[float, float] | None = None

    @classmethod
    def given(cls, held: SaddleModel) -> dict[str, Any]:
        """Return the saddle's fields as parts."""
        near, off = held.points or (None, None)
        return {
            **super().given(held),
            "bearing": BearingPart.of(held.bearing),
            "points": (TreePointPart.of(near), TreePointPart.of(off)) if held.points else None,
            "channel": ChannelPart.of(held.channel),
            "straps": tuple(StrapPairPart.of(pair) for pair in held.straps),
            "seat": SeatPart.of(held.seat),
        }

    def fields(self) -> dict[str, Any]:
        """Return the saddle's fields."""
        return {
            **super().fields(),
            "bearing": self.bearing.engine(),
            "points": tuple(point.engine() for point in self.points) if self.points else None,
            "channel": self.channel.engine(),
            "straps": tuple(pair.engine() for pair in self.straps),
            "seat": self.seat.engine(),
        }

    def problems(self) -> list[str]:
        """Return what does not fit together, in words."""
        gap, seat = self.channel, self.seat
        vectors = [seat.stirrup_bar_left, seat.stirrup_bar_right, self.centre_of_mass_saddle]
        vectors += [end for pair in self.straps for end in (pair.left_saddle, pair.right_saddle)]
        vectors += [end for point in self.points or () for end in (point.end_saddle, point.upward_saddle)]
        sound = {
            "arch_saddle": self.arch_saddle.ndim == 2
            and len(self.arch_saddle) > 1
            and self.arch_saddle.shape[1] == 3,
            "channel": _are_lines(gap.x_mm, gap.half_width_left_mm, gap.half_width_right_mm, gap.roof_z_mm),
            "seat": _are_lines(seat.x_mm, seat.z_mm),
            "points": all(vector.shape == (3,) for vector in vectors),
        }
        wrong = [
            f"saddle.{name} has not as many numbers as it needs" for name, fits in sound.items() if not fits
        ]
        return self.bearing.problems() + wrong


def _are_lines(*lines: NDArray[np.float64]) -> bool:
    return all(line.ndim == 1 and 1 < line.size == lines[0].size for line in lines)


class PushPart(Mirror):
    """A test load."""

    ENGINE: ClassVar[type] = Push
    at_saddle: Lengths
    force_n: float


class LoadCasePart(Mirror):
    """One load case."""

    ENGINE: ClassVar[type] = LoadCase
    name: str
    state: State
    force_multiple: float
    is_peak: bool
    stirrup_share: float
    back_lift_mm: float
    pushes: tuple[PushPart, ...]
    source: str

    @classmethod
    def given(cls, held: LoadCase) -> dict[str, Any]:
        """Return the case's fields, its test loads as parts."""
        return {**super().given(held), "pushes": tuple(PushPart.of(push) for push in held.pushes)}

    def fields(self) -> dict[str, Any]:
        """Return the case's fields."""
        return {**super().fields(), "pushes": tuple(push.engine() for push in self.pushes)}


class PlacePart(Mirror):
    """Where the saddle is: from the saddle frame to the back frame."""

    ENGINE: ClassVar[type] = Pose
    rotation: DirectionRows
    translation_mm: Lengths

    def fields(self) -> dict[str, Any]:
        """Return the move's fields, its frames named."""
        return {**super().fields(), "source": Frame.SADDLE, "target": Frame.BACK}


class StatePart(Mirror):
    """The saddle at rest under one load case, with its fields at the bearing points."""

    ENGINE: ClassVar[type] = Settled
    case: LoadCasePart
    position: Position
    outcome: Outcome
    why_not: Undetermined | None = None
    saddle_to_back: PlacePart
    gap_mm: Field
    pressure_kpa: Field
    shear_back_kpa: FieldRows
    measured: Bits
    girth_tension_n: float
    stiffness_back: FieldRows
    reference_saddle: Lengths
    solver: SolverReport

    @classmethod
    def given(cls, held: Settled) -> dict[str, Any]:
        """Return the state's fields as parts."""
        place = held.saddle_to_back
        return {
            **super().given(held),
            "case": LoadCasePart.of(held.case),
            "saddle_to_back": PlacePart.of(place),
        }

    def fields(self) -> dict[str, Any]:
        """Return the state's fields."""
        return {
            **super().fields(),
            "case": self.case.engine(),
            "saddle_to_back": self.saddle_to_back.engine(),
        }

    def problems(self, n_points: int) -> list[str]:
        """Return what does not fit a saddle of `n_points` bearing points, in words."""
        fields = {
            "gap_mm": self.gap_mm.shape == (n_points,),
            "pressure_kpa": self.pressure_kpa.shape == (n_points,),
            "shear_back_kpa": self.shear_back_kpa.shape == (n_points, 3),
            "measured": self.measured.shape == (n_points,),
        }
        wrong = [name for name, fits in fields.items() if not fits]
        return [f"{name} of “{self.case.name}” does not fit {n_points} bearing points" for name in wrong]


class StatesPart(Part):
    """Every state, in the order in which it was reached."""

    steps: tuple[StatePart, ...]
    works_to: Undetermined | None = None

    @classmethod
    def of(cls, held: Settlement) -> Self:
        """Return the part of a settlement."""
        return cls(steps=tuple(StatePart.of(step) for step in held.steps), works_to=held.works_to)

    def engine(self) -> Settlement:
        """Return the settlement."""
        return Settlement(steps=tuple(step.engine() for step in self.steps), works_to=self.works_to)
