"""A quantity that changes along the saddle: smooth through what was measured, straight beyond it."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy.interpolate import CubicSpline

from saddlebench.engine.frames import FloatArray

Lengthwise = Callable[[FloatArray], FloatArray]
"""Takes distances behind the front edge of the panels, any shape [mm]; gives values of the same shape."""


def lengthwise(behind_mm: Sequence[float], values: Sequence[float]) -> Lengthwise:
    """Return the natural cubic spline through measured values.

    Its second derivative is zero at both ends, so that the straight continuation beyond them is C².

    Parameters
    ----------
    behind_mm : (k,) distances behind the front edge, increasing [mm]
    values : (k,) in the quantity's own unit

    Returns
    -------
    Lengthwise
    """
    if len(behind_mm) == 1:
        return lambda d: np.full_like(np.asarray(d, float), values[0])
    if len(behind_mm) == 2:
        slope = (values[1] - values[0]) / (behind_mm[1] - behind_mm[0])
        return lambda d: values[0] + slope * (np.asarray(d, float) - behind_mm[0])
    if len(behind_mm) == 3:
        return _through_three(behind_mm, values)
    spline = CubicSpline(behind_mm, values, bc_type="natural")
    slope_of = spline.derivative()
    first, last = behind_mm[0], behind_mm[-1]

    def _at(d: FloatArray) -> FloatArray:
        inside = np.clip(d, first, last)
        return spline(inside) + slope_of(inside) * (d - inside)

    return _at


def _through_three(behind_mm: Sequence[float], values: Sequence[float]) -> Lengthwise:
    """Return the natural spline through three values in closed form: its one moment is M = 3 Δs/(h₀ + h₁).

    Nearly every number of a saddle is taken at three places, and stocks hold thousands of saddles.
    """
    (x0, x1, x2), (y0, y1, y2) = behind_mm, values
    before, after = x1 - x0, x2 - x1
    rise, fall = (y1 - y0) / before, (y2 - y1) / after
    moment = 3.0 * (fall - rise) / (before + after)
    front, rear = rise - before * moment / 6.0, fall + after * moment / 6.0
    bend_front, bend_rear = moment / (6.0 * before), moment / (6.0 * after)

    def _at(d: FloatArray) -> FloatArray:
        behind, ahead = np.asarray(d, float) - x0, x2 - np.asarray(d, float)
        in_front = y0 + front * behind + bend_front * np.maximum(behind, 0.0) ** 3
        in_rear = y2 - rear * ahead + bend_rear * np.maximum(ahead, 0.0) ** 3
        return np.where(np.asarray(d) <= x1, in_front, in_rear)

    return _at


def smooth_step(x: FloatArray) -> FloatArray:
    """Return 0 below 0, 1 above 1, and the C² quintic `10x³ − 15x⁴ + 6x⁵` between, of x (n,) float [1]."""
    t = np.clip(x, 0.0, 1.0)
    return t**3 * (10.0 - 15.0 * t + 6.0 * t * t)
