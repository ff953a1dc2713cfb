"""Find the vertical plane about which the two sides of a back differ least.

The heading a person states for a scan is good to some 15°, and the neck and the croup's crest mislead: a
back that stands a few degrees askew shows a left/right difference that is not there. So both sides are
compared over the whole length of the back at once. Gravity is kept: a horse that leans is shown leaning.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.scan_sections import BackOutline, Faces, cut_mesh, outline_of_back
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.two_sides import Sides, fit_line, two_sides

AXIS_DEPTH_MM = 220.0
"""Depth of the axis of the outlines below the topline."""
_N_SECTIONS = 27
_FEWEST_SECTIONS = 4
_FEWEST_PAIRS = 8
_MAX_ROUNDS = 20
_STEP = np.deg2rad(4.0)
_SIDE = _STEP * np.arange(1, 21)
PHI = np.concatenate([-_SIDE[::-1], [0.0], _SIDE])
"""Angles at which the two sides are compared, to 80° from vertical [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Midline:
    """The vertical plane `y = offset + x·tan(yaw)` of the frame it was sought in."""

    yaw_rad: float
    offset_mm: float
    yaw_sd_rad: float
    offset_sd_mm: float
    mismatch_mm: float
    """Difference of the two sides that is left, root mean square of left minus right radius [mm]."""


def find_midline(vertices: FloatArray, faces: Faces, x_mm: tuple[float, float], start: FloatArray) -> Midline:
    """Find the plane of symmetry of the back between two transverse planes.

    Left minus right radius about an axis on the plane is, to first order in a shift `t` of the plane,
    `2t(sin φ − (r′/r) cos φ)`; `t` is a straight line along the back, fitted with Huber weights, and the mesh
    is cut anew until it stays.

    Parameters
    ----------
    vertices : (n, 3) float, gravity frame turned to the stated heading [mm]
    faces : (m, 3) int, vertex indices
    x_mm : front and rear end of the back, same frame [mm]
    start : (k, 3) float, same frame [mm]
        Points on the top of the back, near its midline.

    Raises
    ------
    ValueError
        When fewer than four sections could be compared.
    """
    middle = 0.5 * (x_mm[0] + x_mm[1])
    along = np.linspace(x_mm[0] - middle, x_mm[1] - middle, _N_SECTIONS)
    reach = float(np.ptp(along))
    yaw, offset = 0.0, float(np.median(start[:, 1]))
    for _ in range(_MAX_ROUNDS):
        turned = turn_about_vertical(vertices - [middle, offset, 0.0], -yaw)
        tops = turn_about_vertical(start - [middle, offset, 0.0], -yaw)
        sides = _compare(turned, faces, along, tops)
        fit, mismatch, sd = fit_line(sides, along / reach, reach / (_N_SECTIONS - 1))
        turn = float(np.arctan(fit[1] / reach))
        offset += float(fit[0] / np.cos(yaw))
        yaw += turn
        if abs(turn) < 1e-6 and abs(fit[0]) < 1e-3:
            break
    return Midline(
        yaw_rad=yaw,
        offset_mm=offset - middle * float(np.tan(yaw)),
        yaw_sd_rad=float(sd[1]) / reach,
        offset_sd_mm=float(sd[0]),
        mismatch_mm=mismatch,
    )


def turn_about_vertical(points: FloatArray, angle_rad: float) -> FloatArray:
    """Return points (n, 3) float, any frame with z up [mm], turned about z, positive from x to y."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def top_along(start: FloatArray, x_mm: FloatArray) -> FloatArray:
    """Return the heights (c,) to expect the topline at, from a few points (k, 3) on top, any frame [mm]."""
    order = np.argsort(start[:, 0])
    return np.interp(x_mm, start[order, 0], start[order, 2])


def outlines_along(
    vertices: FloatArray, faces: Faces, x_mm: FloatArray, tops: FloatArray, phi: FloatArray
) -> tuple[tuple[BackOutline, ...], FloatArray, FloatArray]:
    """Return the outlines at `x_mm` (c,), the heights (c,) of their axes, and their facets' sag (c,) [mm]."""
    expected = top_along(tops, x_mm)
    axes = expected - AXIS_DEPTH_MM
    cuts = cut_mesh(vertices, faces, x_mm)
    outlines = tuple(
        outline_of_back(cut, (0.0, float(axis)), phi, float(top))
        for cut, axis, top in zip(cuts, axes, expected, strict=True)
    )
    return outlines, axes, np.array([cut.facet_sag_mm for cut in cuts])


def _compare(vertices: FloatArray, faces: Faces, x_mm: FloatArray, tops: FloatArray) -> Sides:
    """Compare the two sides in sections at x_mm (c,), frame with x along the plane [mm]."""
    outlines, _, _ = outlines_along(vertices, faces, x_mm, tops, PHI)
    n = len(_SIDE)
    radius = np.array([outline.radius_mm for outline in outlines])
    found = np.array([outline.found for outline in outlines])
    both = found[:, n + 1 :] & found[:, n - 1 :: -1]
    both &= (both.sum(axis=1) >= _FEWEST_PAIRS)[:, None]
    if both.any(axis=1).sum() < _FEWEST_SECTIONS:
        msg = f"only {int(both.any(axis=1).sum())} sections show both sides of the back"
        raise ValueError(msg)
    middle = np.where(found[:, n], radius[:, n], np.nan)
    return two_sides(_SIDE, middle, radius[:, n + 1 :], radius[:, n - 1 :: -1], both)
