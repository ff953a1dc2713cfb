"""Curves become points of sections, heights of the topline, and the errors that a record states."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.back.readings import SectionPoints, ToplineHeights
from saddlebench.engine.errors import input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.sheet_read import ReadCurve, ReadSheet

POINT_STEP_MM = 8.0
HEIGHT_STEP_MM = 40.0
MOST_POINTS = 56
FIRST_OUT_MM = 3.0
PEN_SD_MM = 0.5
"""How far a pen's stroke lies from the curve that it follows (common practice, judgement)."""
STEP_MM = 0.1
FEWEST_A_SIDE = 3


def section_of(curve: ReadCurve, number: int, distance_mm: float, *, repeat: int = 0) -> SectionPoints:
    """Return a section of points from a curve; only where the pen wrote.

    Raises
    ------
    InputProblemsError
        If neither side has enough of them.
    """
    sides = {}
    for side, sign in (("left", -1.0), ("right", 1.0)):
        outward = curve.points[::-1] if sign < 0 else curve.points
        seen = curve.seen[::-1] if sign < 0 else curve.seen
        mine = seen & (sign * outward[:, 0] >= FIRST_OUT_MM)
        spaced = _spaced(outward[mine])
        sides[side] = tuple((round(sign * x, 1), round(y, 1)) for x, y in spaced.tolist())
    if max(len(points) for points in sides.values()) < FEWEST_A_SIDE:
        what = f"the curve of station {number} has too few points on either side"
        raise input_problem(what, "Trace it again, in one go across the midline.")
    return SectionPoints(
        number=number, distance_mm=distance_mm, left=sides["left"], right=sides["right"], repeat=repeat
    )


def _spaced(points: FloatArray) -> FloatArray:
    """Return points (n, 2) float [mm] far enough from each other along the curve, (m, 2) float."""
    if len(points) < 2:
        return points
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    step = max(POINT_STEP_MM, length[-1] / (MOST_POINTS - 1))
    at = np.searchsorted(length, np.arange(0.0, length[-1] + 0.5 * step, step))
    return points[np.unique(np.minimum(at, len(points) - 1))]


def topline_of(curve: ReadCurve, *, starts_at_mm: float = 0.0, level_deg: float = 0.0) -> ToplineHeights:
    """Return heights of the topline every 40 mm.

    Parameters
    ----------
    starts_at_mm : where the sheet's long line lay, behind the shoulder mark [mm]
    level_deg : by how much the sheet's level lines fell towards the tail on the horse [°]
    """
    angle = np.radians(level_deg)
    back = np.cos(angle) * curve.points[:, 0] + np.sin(angle) * curve.points[:, 1]
    high = np.cos(angle) * curve.points[:, 1] - np.sin(angle) * curve.points[:, 0]
    order = np.argsort(back)
    back, high = back[order], high[order]
    places = (
        np.arange(np.ceil(back[0] / HEIGHT_STEP_MM), np.floor(back[-1] / HEIGHT_STEP_MM) + 1) * HEIGHT_STEP_MM
    )
    if len(places) < 2:
        raise input_problem("the topline’s curve is too short", "Trace it again.")
    heights = np.interp(places, back, high)
    return ToplineHeights(
        distance_mm=tuple(np.round(places + starts_at_mm, 1).tolist()),
        height_mm=tuple(np.round(heights, 1).tolist()),
    )


def instrument_of(curve: TracedCurve, sheets: Sequence[ReadSheet]) -> TracedCurve:
    """Return the instrument with the error of points and of scale that these photos have.

    What the curve does itself (springing open, being laid on) stays as the instrument states it. The coarsest
    photo's error is taken for all, and the sheets' scale as one error of the whole record.
    """
    if not sheets:
        return curve
    point = max(one.point_sd_mm for sheet in sheets for one in sheet.curves)
    scale = max(sheet.scale.sd for sheet in sheets)
    return replace(
        curve,
        mm_per_unit=1.0,
        step=STEP_MM,
        point_sd_mm=round(float(np.hypot(PEN_SD_MM, point)), 3),
        scale_sd=round(float(np.hypot(curve.scale_sd, scale)), 5),
    )
