"""Cut-back flat seats: panels under a tree whose head is cut away, so that the withers stand in the open."""

from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.arch import ArchSide
from saddlebench.engine.saddle.model import Family, SaddleModel
from saddlebench.engine.saddle.panelled import PanelledNumbers, assembled, panel_sides
from saddlebench.engine.saddle.panels import channel
from saddlebench.engine.saddle.patch import PointCount

_PER_QUARTER = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class CutNumbers:
    """The cut in the head."""

    depth_mm: float = 90.0
    """From the points back to the rear of the cut."""
    width_mm: float = 80.0
    """Width of the cut between its sides."""
    rear_lower_mm: float = 5.0
    """How much lower the rear of the cut is than its sides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutBackNumbers:
    """A cut-back flat seat: a panelled saddle's numbers, and the cut."""

    base: PanelledNumbers
    """`tree.rise_mm` and `tree.depth_mm` are taken at the upper edge of the cut's sides."""
    cut: CutNumbers = field(default_factory=CutNumbers)

    @property
    def label(self) -> str:
        """Name of the saddle."""
        return self.base.label


def cut_line(side: ArchSide, cut: CutNumbers) -> FloatArray:
    """Return one side's inner line, (m, 3) float, saddle frame [mm]: up the point, then round the cut.

    From the straight point it runs straight to the cut's side, then along a quarter ellipse to its rear.
    """
    shoulder = side.end + side.point_mm * side.upward
    turn = np.linspace(0.0, 0.5 * np.pi, _PER_QUARTER)
    around = np.stack(
        [
            -side.behind_mm - cut.depth_mm * np.sin(turn),
            0.5 * cut.width_mm * np.cos(turn),
            side.top_z_mm - cut.rear_lower_mm * (1.0 - np.cos(turn)),
        ],
        axis=1,
    )
    return np.vstack([side.end, shoulder, around])


def cut_back_model(numbers: CutBackNumbers, n_points: PointCount = 2000) -> SaddleModel:
    """Return the model of a cut-back flat seat.

    Its arch line runs round the cut; its channel has a roof from the rear of the cut backwards only.
    """
    near, off = panel_sides(numbers.base)
    mirrored = cut_line(off.arch, numbers.cut) * np.array([1.0, -1.0, 1.0])
    return assembled(
        numbers.label,
        numbers.base.fittings,
        (near, off),
        n_points,
        family=Family.CUT_BACK,
        arch=read_only(np.vstack([cut_line(near.arch, numbers.cut), mirrored[-2::-1]])),
        gap=channel(
            near,
            off,
            open_to_mm=near.arch.behind_mm + numbers.cut.depth_mm,
            lower_mm=numbers.cut.rear_lower_mm,
        ),
    )
