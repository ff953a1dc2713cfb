"""What lies under the skin, by region: the regions only; their stiffness is a material.

The boundaries are common practice, not measured anatomy: the spinous processes lie under the spine strip,
the bony withers are wider than it, the shoulder blade's cartilage ends some 20 mm behind the edge that is
felt, and the long back muscle is about 130 mm wide on a horse of 1.60 m.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray


class Tissue(IntEnum):
    """Regions of the back that bear differently (common practice; no published stiffness per region)."""

    BONY_WITHERS = 0
    """Over the spinous processes: the withers, and the spine strip all along."""
    CARTILAGE = 1
    """Over the shoulder blade's upper edge."""
    MUSCLE = 2
    """The long back muscle beside the spine."""
    OVER_RIBS = 3
    """Thin muscle over ribs, behind and outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TissueBounds:
    """Where one region ends and the next begins, measured over the skin (common practice)."""

    withers_half_width_mm: float = 40.0
    """Bony to this distance from the midline on the withers."""
    withers_length_mm: float = 140.0
    """The withers end this far behind their highest spine (about T9)."""
    spine_strip_mm: float = 45.0
    """Full width of the spine strip where it was not felt."""
    cartilage_behind_edge_mm: float = 20.0
    """The blade's cartilage reaches this far behind the edge that is felt."""
    muscle_width_mm: float = 130.0
    """The long back muscle ends this far from the midline."""


def _distance(mark: Mark | NotMeasured, otherwise: float) -> float:
    return mark.value_mm if is_known(mark) else otherwise


def distance_over_skin(grid: PolarGrid, radius_mm: FloatArray) -> FloatArray:
    """Return the distance from the midline along each node's cross-section, by the trapezium rule.

    Parameters
    ----------
    grid : PolarGrid
    radius_mm : (n_s, n_phi) float, back frame [mm]

    Returns
    -------
    (n_s, n_phi) float [mm], positive on either side
    """
    step_y = np.diff(radius_mm * np.sin(grid.phi), axis=1)
    step_z = np.diff(radius_mm * np.cos(grid.phi), axis=1)
    along = np.zeros_like(radius_mm)
    along[:, 1:] = np.cumsum(np.hypot(step_y, step_z), axis=1)
    at_midline = np.array([np.interp(0.0, grid.phi, row) for row in along])
    return np.abs(along - at_midline[:, None])


def tissue_regions(
    grid: PolarGrid, radius_mm: FloatArray, landmarks: Landmarks, bounds: TissueBounds | None = None
) -> NDArray[np.int8]:
    """Return the `Tissue` at every node.

    Marks that are missing are replaced by where they usually lie: the shoulder edges at the zero, the withers
    70 mm in front of it.

    Parameters
    ----------
    grid : PolarGrid
    radius_mm : (n_s, n_phi) float, back frame [mm]
    landmarks : Landmarks
    bounds : TissueBounds, optional

    Returns
    -------
    (n_s, n_phi) int8
    """
    bounds = bounds or TissueBounds()
    lateral = distance_over_skin(grid, radius_mm)
    s = np.broadcast_to(grid.s_mm[:, None], lateral.shape)
    left_edge = _distance(landmarks.shoulder_left, 0.0)
    right_edge = _distance(landmarks.shoulder_right, 0.0)
    edge = np.where(grid.phi > 0, left_edge, right_edge)[None, :] + bounds.cartilage_behind_edge_mm
    withers_end = _distance(landmarks.withers, -70.0) + bounds.withers_length_mm
    strip = _distance(landmarks.spine_strip_width, bounds.spine_strip_mm) / 2
    bony = np.where(s <= withers_end, max(bounds.withers_half_width_mm, strip), strip)
    last_rib = _distance(landmarks.last_rib, np.inf)
    region = np.full(lateral.shape, Tissue.MUSCLE, dtype=np.int8)
    region[(lateral > bounds.muscle_width_mm) & (s <= last_rib)] = Tissue.OVER_RIBS
    region[s <= edge] = Tissue.CARTILAGE
    region[lateral <= bony] = Tissue.BONY_WITHERS
    region.flags.writeable = False
    return region
