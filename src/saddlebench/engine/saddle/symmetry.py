"""The saddle against itself: near side against off side."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT, side_grid
from saddlebench.engine.saddle.model import Family, SaddleModel, Zone

_MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Unevenness:
    """How far the off side's part lies from the mirror image of the near side's."""

    distance_mm: float
    forward_mm: float
    """Off further forward."""
    outward_mm: float
    """Off further out."""
    upward_mm: float
    """Off higher."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelUnevenness:
    """Off panel (or bar) against near, along the normal: positive where off stands out more."""

    largest_mm: float
    """Largest in size, sign kept."""
    behind_mm: float
    """Where the largest is, behind the front edge."""
    by_zone_mm: tuple[float, float, float, float]
    """Mean by zone, front to rear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleSymmetry:
    """Near side against off side; nothing is judged here."""

    points: Unevenness | Undetermined
    stirrup_bars: Unevenness | Undetermined
    panels: PanelUnevenness | Undetermined


_ITS_OWN_PATTERN = Undetermined("a side-saddle is unequal by design: compare it with its own pattern")


def saddle_symmetry(model: SaddleModel) -> SaddleSymmetry:
    """Compare the two sides of a saddle in its own frame.

    Parameters
    ----------
    model : the saddle; each side's rows and columns correspond

    Returns
    -------
    SaddleSymmetry
    """
    if model.family is Family.SIDE_SADDLE:
        return SaddleSymmetry(points=_ITS_OWN_PATTERN, stirrup_bars=_ITS_OWN_PATTERN, panels=_ITS_OWN_PATTERN)
    points: Unevenness | Undetermined = Undetermined("this family has no tree points")
    if model.points is not None:
        points = _unevenness(model.points[0].end_saddle, model.points[1].end_saddle)
    return SaddleSymmetry(
        points=points,
        stirrup_bars=_unevenness(model.seat.stirrup_bar_left, model.seat.stirrup_bar_right),
        panels=_panels(model),
    )


def _unevenness(left: FloatArray, right: FloatArray) -> Unevenness:
    difference = right * _MIRROR - left
    return Unevenness(
        distance_mm=float(np.linalg.norm(difference)),
        forward_mm=float(difference[0]),
        outward_mm=float(difference[1]),
        upward_mm=float(difference[2]),
    )


def _panels(model: SaddleModel) -> PanelUnevenness:
    bearing = model.bearing
    near = side_grid(bearing, bearing.points_saddle, LEFT)
    off = side_grid(bearing, bearing.points_saddle, RIGHT) * _MIRROR
    # Both sides' normals, so that a mirrored saddle answers exactly the same.
    normal = side_grid(bearing, bearing.normals_saddle, LEFT)
    normal = normal + side_grid(bearing, bearing.normals_saddle, RIGHT) * _MIRROR
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    out = np.einsum("rci,rci->rc", off - near, normal)
    zone = side_grid(bearing, bearing.zone, LEFT)
    worst = np.unravel_index(int(np.argmax(np.abs(out))), out.shape)
    means = [float(out[zone == one].mean()) for one in Zone]
    return PanelUnevenness(
        largest_mm=float(out[worst]),
        behind_mm=float(-near[worst][0]),
        by_zone_mm=(means[0], means[1], means[2], means[3]),
    )
