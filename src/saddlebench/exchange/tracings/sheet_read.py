"""What is asked of a photo, and what was read from it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.errors import Problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.paper_edge import PrintedScale

Tell = Callable[[int, int, str], None]
"""Told how much is done, of how much, and what is being done."""


MARKS = "square marks"
"""Field that a problem names where a sheet has too few marks: its corners may be marked by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLength:
    """A length on the paper that is known: a ruler lying there, two crosses that were measured."""

    start: tuple[float, float]
    """[px]"""
    end: tuple[float, float]
    """[px]"""
    mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Four corners of a paper without markers, marked by hand, and what is known of its size."""

    kind: SheetKind
    corners: tuple[tuple[float, float], ...]
    """Upper left, upper right, lower right, lower left [px]."""
    width_mm: float | None = None
    height_mm: float | None = None
    """None: not known; then the known length says it."""
    length: KnownLength | None = None
    corner_sd_px: float = 2.0
    middle_mm: float | None = None
    """The midline, from the left edge; None: the middle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known beforehand."""

    ruler_across_mm: float | None = None
    """The printed ruler as measured on the print."""
    ruler_down_mm: float | None = None
    frame: Frame | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadCurve:
    """One curve."""

    points: FloatArray
    """(n, 2) float, true mm from the curve's own midline (a topline's: from the sheet's cross): right, up."""
    seen: np.ndarray[tuple[int], np.dtype[np.bool_]]
    """(n,) bool: whether the pen wrote here."""
    photo: FloatArray
    """(n, 2) float: the same in the photo [px]."""
    point_sd_mm: float
    """Standard deviation of a point, by sheet, photo and stroke, without the scale."""
    ticks: FloatArray
    """(k, 2) float: marks across the curve, true mm, from the same origin."""
    by_tick: bool = False
    """Whether a drawn tick, not the printed line, says where the midline is."""
    is_doubled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSheet:
    """Everything that was read from one photo."""

    kind: SheetKind
    size_px: tuple[int, int]
    curves: tuple[ReadCurve, ...]
    """From the upper one down."""
    stations: tuple[int, ...]
    """Whose rings are filled in."""
    scale: PrintedScale
    tilt_deg: float
    curl: float
    """Curvature of the paper [1/m]."""
    n_markers: int
    inside_mm: float | None
    """How far the printed grid lies aside before it is put right; None: it cannot be seen."""
    to_mm: FloatArray
    """(3, 3) float: homography from the photo [px] to true mm, for small moves only: no lens, no bend."""
    remarks: tuple[Problem, ...] = field(default=())


def height_at(points: FloatArray, x: float) -> float:
    """Return the height where a curve (n, 2) float [mm] crosses a place from left to right."""
    right = np.flatnonzero((points[:-1, 0] <= x) & (points[1:, 0] > x))
    if len(right) == 0:
        return float(points[np.abs(points[:, 0] - x).argmin(), 1])
    k = int(right[0])
    share = (x - points[k, 0]) / max(points[k + 1, 0] - points[k, 0], 1e-9)
    return float(points[k, 1] + share * (points[k + 1, 1] - points[k, 1]))
