"""A pair of back and saddle and its solutions, `d` at once: what every measure reads from.

Arrays carry a leading axis that is `d` where a quantity varies from solution to solution and 1 where not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.stations import Station
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.settled import Outcome, Position, Settled
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import PadCut, PadLayer, SaddleModel

MARKS = (
    "withers",
    "lowest",
    "last_rib",
    "shoulder_left",
    "shoulder_right",
    "girth_groove",
    "spine_strip_width",
)
STRIDE_MM = (30.0, 80.0)
"""How far the blade's rear edge comes back at full stride: a teaching value, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solutions:
    """One load case, settled `d` times."""

    state: State
    position: Position
    rotation: FloatArray
    """(d, 3, 3) float, saddle to back frame [1]."""
    translation_mm: FloatArray
    """(d, 3) float, back frame [mm]."""
    gap_mm: FloatArray
    """(d, n) float [mm]."""
    pressure_kpa: FloatArray
    """(d, n) float [kPa]."""
    slip_share: FloatArray
    """(d,) float [1]."""
    stiffness: FloatArray
    """(d, 6, 6) float, back frame [N/mm, N, N·mm]: tangent against sway and turn."""
    sits: NDArray[np.bool_]
    """(d,)."""
    why_not: NotMeasured | Undetermined | None
    """Why the first of them does not sit, if so."""

    @classmethod
    def of(cls, settled: Sequence[Settled]) -> Self:
        """Stack states of one load case at one position."""
        first = settled[0]
        return cls(
            state=first.case.state,
            position=first.position,
            rotation=np.stack([one.saddle_to_back.rotation for one in settled]),
            translation_mm=np.stack([one.saddle_to_back.translation_mm for one in settled]),
            gap_mm=np.stack([one.gap_mm for one in settled]),
            pressure_kpa=np.stack([one.pressure_kpa for one in settled]),
            slip_share=np.array([one.solver.slip_share for one in settled]),
            stiffness=np.stack([one.stiffness_back for one in settled]),
            sits=np.array([one.outcome is Outcome.SITS for one in settled]),
            why_not=_why_not(first),
        )

    def to_back(self, points_saddle: FloatArray) -> FloatArray:
        """Move points (d or 1, m, 3) float, saddle frame [mm], to (d, m, 3) in the back frame [mm]."""
        return points_saddle @ self.rotation.transpose(0, 2, 1) + self.translation_mm[:, None, :]

    def turn_to_back(self, directions_saddle: FloatArray) -> FloatArray:
        """Turn directions (d or 1, m, 3) float, saddle frame [1], to (d, m, 3) in the back frame."""
        return directions_saddle @ self.rotation.transpose(0, 2, 1)


def _why_not(settled: Settled) -> NotMeasured | Undetermined | None:
    if settled.outcome is Outcome.SITS:
        return None
    reason = settled.why_not.reason if settled.why_not is not None else str(settled.outcome)
    on_unmeasured = bool(np.any(settled.pressure_kpa[~settled.measured] > 0.0))
    is_missing = settled.outcome is Outcome.CANNOT_BE_JUDGED and on_unmeasured
    return NotMeasured(reason) if is_missing else Undetermined(f"{settled.case.name}: {reason}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleShape:
    """The parts of a saddle that measures look at, apart from the bearing points themselves."""

    points: FloatArray
    """(d or 1, n, 3) float, saddle frame [mm]: the bearing points."""
    arch: FloatArray
    """(d or 1, m, 3) float, saddle frame [mm]."""
    point_ends: FloatArray | None
    """(d or 1, 2, 3) float, saddle frame [mm]: left, right; None without tree points."""
    half_width: FloatArray
    """(d or 1, 2, k) float, saddle frame [mm]: the channel to the left and to the right of the midline."""
    roof_z: FloatArray
    """(d or 1, k) float, saddle frame [mm]."""

    @classmethod
    def of(cls, saddles: Sequence[SaddleModel]) -> Self:
        """Stack saddles that differ in shape only."""
        return cls(
            points=np.stack([one.bearing.points_saddle for one in saddles]),
            arch=np.stack([one.arch_saddle for one in saddles]),
            point_ends=None
            if saddles[0].points is None
            else np.stack([[end.end_saddle for end in one.points or ()] for one in saddles]),
            half_width=np.stack(
                [[one.channel.half_width_left_mm, one.channel.half_width_right_mm] for one in saddles]
            ),
            roof_z=np.stack([one.channel.roof_z_mm for one in saddles]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One back and one saddle as `d` solutions see them."""

    surface: BackSurface
    coefficients: FloatArray
    """(d or 1, n_s + 2, n_phi + 2, 2) float: spline of each solution's back, R [mm] and C [1]."""
    marks: Mapping[str, FloatArray | NotMeasured]
    """(d or 1,) float [mm] by the landmark's name."""
    saddle: SaddleModel
    """As recorded; what does not vary between solutions is read here."""
    shape: SaddleShape
    pad_mm: FloatArray
    """(d or 1, 4) float: unpressed thickness of all pads together, by zone [mm]."""
    pad_over_spine_mm: FloatArray
    """(d or 1, 4) float: of the pads that lie pulled down on the spine [mm]."""

    stride_mm: FloatArray
    """(d or 1,) float: how far the shoulder blade's edge comes back at full stride [mm]."""
    stations: tuple[Station, ...] = ()
    """Of the record, so that what is missing can be named."""


def pair_of(
    surface: BackSurface,
    landmarks: Landmarks,
    saddle: SaddleModel,
    pads: Sequence[PadLayer],
    stations: tuple[Station, ...] = (),
) -> Pair:
    """Return a pair as recorded, for a single solution."""
    return Pair(
        surface=surface,
        coefficients=surface.spline.coefficients[None],
        marks=mark_values(landmarks),
        saddle=saddle,
        shape=SaddleShape.of([saddle]),
        pad_mm=pad_thickness(pads, over_spine=False)[None, :],
        pad_over_spine_mm=pad_thickness(pads, over_spine=True)[None, :],
        stride_mm=np.array([sum(STRIDE_MM) / 2.0]),
        stations=stations,
    )


def mark_values(landmarks: Landmarks) -> dict[str, FloatArray | NotMeasured]:
    """Return each mark as a (1,) array [mm], or why it is missing."""
    marks: dict[str, FloatArray | NotMeasured] = {}
    for name in MARKS:
        mark = getattr(landmarks, name)
        marks[name] = np.array([mark.value_mm]) if isinstance(mark, Mark) else mark
    return marks


def pad_thickness(pads: Sequence[PadLayer], *, over_spine: bool) -> FloatArray:
    """Return (4,) float, the pads' unpressed thickness by zone [mm], all of them or those over the spine."""
    counted = [pad.thickness_mm for pad in pads if not over_spine or pad.cut is PadCut.PULLED_DOWN]
    return np.sum(counted, axis=0) if counted else np.zeros(4)
