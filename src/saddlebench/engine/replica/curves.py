"""Curves of a measured back: cross-sections and the topline, only as far as they were measured.

A sheet of some thickness stands in a curve's plane and has square edges, while the back rises or falls
across that thickness. What the sheet must clear (`HIGHEST`) or must not overtop (`LOWEST`) is then the
envelope of the back over the thickness.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.backwards import SectionAt, sections_of_surface
from saddlebench.engine.back.surface import BackSurface, EstimatedBack
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where, is_known
from saddlebench.engine.frames import FloatArray

SPACING_MM = 1.5
"""Distance between a curve's points: a chord over a radius of 60 mm then departs by 0.005 mm."""
SLICES = 7
"""Places across a sheet's thickness at which its envelope is taken."""


class Envelope(StrEnum):
    """Which of a back's heights over a sheet's thickness the curve follows."""

    MIDDLE = "middle"
    HIGHEST = "highest"
    LOWEST = "lowest"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionCurve:
    """A cross-section from the off side to the near side, measured throughout."""

    s_mm: float
    """Distance behind the shoulder mark [mm]."""
    phi: FloatArray
    """(n,) float, back frame, rising; one of them is 0 [rad]."""
    points: FloatArray
    """(n, 2) float, back frame (y, z) [mm]."""
    slope: float
    """Greatest fall or rise of the radius along the back within the section [mm/mm]."""

    @property
    def top_mm(self) -> float:
        """Height of the midline, back frame [mm]."""
        return float(self.points[np.argmin(np.abs(self.phi)), 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineCurve:
    """The dorsal midline from front to rear; parts between stations too far apart were not measured."""

    s_mm: FloatArray
    """(n,) float, back frame, rising [mm]."""
    z_mm: FloatArray
    """(n,) float, back frame [mm]; meaningless where not measured."""
    measured: NDArray[np.bool_]
    """(n,) bool, back frame: whether the place was measured [1]."""


def stations_of(estimated: EstimatedBack) -> tuple[float, ...]:
    """Return the distances behind the shoulder mark at which the back was measured [mm]."""
    return tuple(float(s) for s in estimated.support.s_mm)


def measured_at(estimated: EstimatedBack, s_mm: float) -> NotMeasured | None:
    """Return why there is no cross-section at a distance, or None where there is one on a side at least."""
    return estimated.support.missing(s_mm, 0.0)


def sections_of(estimated: EstimatedBack, points_per_cell: int = 20) -> SectionAt:
    """Return the sections of a back that reach down both sides, its outermost stations' among them."""
    by_node = sections_of_surface(estimated.surface, points_per_cell)

    def section(distance_mm: float) -> FloatArray | NotMeasured:
        found = by_node(distance_mm)
        if not isinstance(found, NotMeasured) or measured_at(estimated, distance_mm) is not None:
            return found
        # An outermost station seldom stands on a node, and the nearest node may lie beyond it.
        left, right = estimated.support.reach(np.array([distance_mm]))
        for side, reached in (("near", left), ("off", right)):
            if not reached[0]:
                return NotMeasured(f"nothing was measured on the {side} side at {distance_mm:.0f} mm")
        curve = section_curve(estimated, distance_mm)
        return curve if isinstance(curve, NotMeasured) else curve.points

    return section


def require_measured(estimated: EstimatedBack, distances_mm: tuple[float, ...]) -> None:
    """Refuse distances at which there is no cross-section.

    Raises
    ------
    InputProblemsError
        Naming each of them.
    """
    problems = []
    for number, distance in enumerate(distances_mm, start=1):
        missing = measured_at(estimated, distance)
        if missing is not None:
            cure = "Choose a place within what was measured."
            problems.append(Problem(what=missing.reason, cure=cure, where=Where(station=number)))
    if not distances_mm:
        problems.append(Problem(what="No place along the back is named", cure="Name at least one."))
    if problems:
        raise InputProblemsError(problems)


def section_curve(
    estimated: EstimatedBack,
    s_mm: float,
    *,
    thickness_mm: float = 0.0,
    envelope: Envelope = Envelope.MIDDLE,
    spacing_mm: float = SPACING_MM,
) -> SectionCurve | NotMeasured:
    """Return the cross-section at a distance, for a sheet of some thickness standing there.

    Parameters
    ----------
    estimated : EstimatedBack
    s_mm : middle of the sheet, behind the shoulder mark [mm]
    thickness_mm : of the sheet [mm]
    envelope : which heights over the thickness are followed
    spacing_mm : between points [mm]
    """
    missing = measured_at(estimated, s_mm)
    if missing is not None:
        return missing
    support, surface = estimated.support, estimated.surface
    # The outermost stations have nothing measured beyond them: the sheet's outer half repeats the last place.
    across = np.clip(
        s_mm + thickness_mm * np.linspace(-0.5, 0.5, SLICES if thickness_mm > 0.0 else 1),
        support.s_mm[0],
        max(support.s_mm[-1], support.s_mm[0]),
    )
    if thickness_mm == 0.0:
        across = np.array([s_mm])
    left, right = support.reach(across)
    n_left, n_right = (
        max(2, int(np.ceil(abs(end) * _mean_radius(surface) / spacing_mm)) + 1)
        for end in (left.min(), right.max())
    )
    phi = np.concatenate([np.linspace(right.max(), 0.0, n_right)[:-1], np.linspace(0.0, left.min(), n_left)])
    found = surface.spline.radius(np.repeat(across, len(phi)), np.tile(phi, len(across)))
    radii = found[:, 0].reshape(len(across), len(phi))
    radius = _followed(radii, surface.spline.radius(np.full_like(phi, s_mm), phi)[:, 0], envelope)
    points = surface.grid.cartesian(np.full_like(phi, s_mm), phi, radius)[:, 1:]
    return SectionCurve(s_mm=s_mm, phi=phi, points=points, slope=float(np.abs(found[:, 1]).max()))


def _mean_radius(surface: BackSurface) -> float:
    return float(surface.radius_mm.mean())


def _followed(stacked: FloatArray, middle: FloatArray, envelope: Envelope) -> FloatArray:
    """Pick from values (slices, n), any frame [mm], the middle (n,) or the envelope."""
    if envelope is Envelope.MIDDLE:
        return middle
    return stacked.max(axis=0) if envelope is Envelope.HIGHEST else stacked.min(axis=0)


def heights_at(surface: BackSurface, s_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return the skin's heights over places, by Newton's iteration on the polar angle.

    Parameters
    ----------
    surface : BackSurface
    s_mm, y_mm : (n,) float, back frame [mm]; places near the midline, where height is a function of y

    Returns
    -------
    (n,) float, back frame [mm]
    """
    phi = np.arctan2(y_mm, -surface.grid.axis_z_mm)
    for _ in range(8):
        radius, slope = surface.spline.radius(s_mm, phi)[:, [0, 2]].T
        off = radius * np.sin(phi) - y_mm
        phi = phi - off / (radius * np.cos(phi) + slope * np.sin(phi))
    radius = surface.spline.radius(s_mm, phi)[:, 0]
    return np.asarray(radius * np.cos(phi) + surface.grid.axis_z_mm)


def lengthwise_curve(
    estimated: EstimatedBack,
    *,
    y_mm: float = 0.0,
    thickness_mm: float = 0.0,
    envelope: Envelope = Envelope.MIDDLE,
    spacing_mm: float = SPACING_MM,
) -> ToplineCurve:
    """Return a curve along the back, beside the midline by `y_mm`, for a sheet standing there.

    Parameters
    ----------
    estimated : EstimatedBack
    y_mm : beside the midline, positive near (left) [mm]
    thickness_mm, envelope, spacing_mm : as of `section_curve`
    """
    support, surface = estimated.support, estimated.surface
    first, last = float(support.s_mm[0]), float(support.s_mm[-1])
    s = np.linspace(first, last, max(2, int(np.ceil((last - first) / spacing_mm)) + 1))
    across = y_mm + thickness_mm * np.linspace(-0.5, 0.5, SLICES if thickness_mm > 0.0 else 1)
    stacked = np.stack([heights_at(surface, s, np.full_like(s, y)) for y in across])
    middle = heights_at(surface, s, np.full_like(s, y_mm))
    phi = np.arctan2(y_mm, middle - surface.grid.axis_z_mm)
    return ToplineCurve(
        s_mm=s, z_mm=_followed(stacked, middle, envelope), measured=support.contains(s, np.asarray(phi))
    )


def marks_along(estimated: EstimatedBack) -> tuple[tuple[str, float], ...]:
    """Return the marks along the topline by name, with their distance behind the shoulder mark [mm]."""
    marks = estimated.landmarks
    named = (("withers", marks.withers), ("lowest", marks.lowest), ("last rib", marks.last_rib))
    return (("shoulder mark", 0.0), *((name, mark.value_mm) for name, mark in named if is_known(mark)))
