"""Loads of a case as the kernels need them: weights at fixed points, and the rider on the seat's curve."""

import numpy as np

from saddlebench.engine.fit._kernels.parts import Loads
from saddlebench.engine.fit.loads import GRAVITY_M_S2, LoadCase, Rider
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel, Seat

SEAT_REACH_MM = 90.0
"""A rider slides this far along the seat's curve at most, before and behind its lowest point (assumption)."""
FLATTEST_SEAT_MM = 2000.0


def seat_curve(seat: Seat) -> tuple[float, float]:
    """Return the seat's lowest x [mm] and its curvature there [1/mm], by a parabola through its middle."""
    lowest = seat.lowest_x_mm
    near = np.abs(seat.x_mm - lowest) <= SEAT_REACH_MM
    curvature = 0.0
    if near.sum() >= 3:
        x = seat.x_mm[near] - lowest
        bend, slope, _ = np.linalg.lstsq(np.stack([x * x, x, np.ones_like(x)], axis=1), seat.z_mm[near])[0]
        curvature = 2.0 * float(bend)
        if curvature > 1.0 / FLATTEST_SEAT_MM:
            lowest += float(np.clip(-slope / curvature, -SEAT_REACH_MM, SEAT_REACH_MM))
    return lowest, max(curvature, 1.0 / FLATTEST_SEAT_MM)


def case_loads(
    saddle: SaddleModel,
    reference_saddle: FloatArray,
    rider: Rider,
    case: LoadCase,
    curve: tuple[float, float],
) -> Loads:
    """Return the loads of a case, about a reference (3,) float, saddle frame [mm].

    The seat's load acts `load_height_mm` above the panels' centroid. The multiple of a gait applies to the
    rider alone, as it was published.
    """
    ridden = rider.mass_kg * GRAVITY_M_S2 * case.force_multiple
    on_bars = case.stirrup_share * ridden
    at = [saddle.centre_of_mass_saddle]
    force = [saddle.mass_kg * GRAVITY_M_S2]
    if on_bars > 0.0:
        at += [saddle.seat.stirrup_bar_left, saddle.seat.stirrup_bar_right]
        force += [on_bars * rider.left_stirrup_share, on_bars * (1.0 - rider.left_stirrup_share)]
    for push in case.pushes:
        at.append(push.at_saddle)
        force.append(push.force_n)
    lowest, curvature = curve
    return Loads(
        points=np.column_stack([np.array(at) - reference_saddle, force]),
        seat_n=float(ridden - on_bars),
        seat_x=float(lowest - reference_saddle[0]),
        seat_y=float(saddle.seat.load_y_mm + rider.off_centre_mm - reference_saddle[1]),
        seat_z=float(rider.load_height_mm),
        seat_curvature=float(curvature),
        seat_reach=SEAT_REACH_MM,
    )


def seated(loads: Loads, pose: FloatArray) -> Loads:
    """Return the loads with the rider kept at the lowest point of the seat as it lies now.

    A peak lasts a tenth of a second: nobody slides to a new lowest point within it.

    Parameters
    ----------
    loads : of a case
    pose : (12,) rotation by rows and place of the reference, saddle to back frame [1, mm]

    Returns
    -------
    Loads
    """
    bend = pose[8] * loads.seat_curvature
    along = float(np.clip(-pose[6] / bend, -loads.seat_reach, loads.seat_reach))
    height = loads.seat_z + 0.5 * loads.seat_curvature * along**2
    at = np.array([[loads.seat_x + along, loads.seat_y, height, loads.seat_n]])
    return loads._replace(points=np.concatenate([loads.points, at]), seat_n=0.0)


def between(before: Loads, after: Loads, part: float) -> Loads:
    """Return the loads part of the way from one case to the next."""
    if part >= 1.0:
        return after
    old, new = before.points.copy(), after.points.copy()
    old[:, 3] *= 1.0 - part
    new[:, 3] *= part
    return after._replace(
        points=np.concatenate([old, new]), seat_n=(1.0 - part) * before.seat_n + part * after.seat_n
    )
