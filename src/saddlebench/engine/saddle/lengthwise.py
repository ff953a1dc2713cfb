"""A quantity that changes along the saddle: smooth through what was measured, straight beyond it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only


@dataclass(frozen=True, slots=True)
class Lengthwise:
    """A quantity by distance behind the front edge of the panels; calling it gives its values."""

    table: FloatArray
    """(9,) float, any unit: x₀ x₁ x₂; value, slope, bend at the outer end of the front half; of the rear."""

    def __call__(self, d: FloatArray) -> FloatArray:
        """Return the values at distances `d`, any shape [mm], in the quantity's own unit."""
        x0, x1, x2, y0, front, bend_front, y2, rear, bend_rear = self.table
        behind, ahead = np.asarray(d, float) - x0, x2 - np.asarray(d, float)
        in_front = y0 + front * behind + bend_front * np.maximum(behind, 0.0) ** 3
        in_rear = y2 - rear * ahead + bend_rear * np.maximum(ahead, 0.0) ** 3
        return np.where(np.asarray(d) <= x1, in_front, in_rear)


def lengthwise(behind_mm: Sequence[float], values: Sequence[float]) -> Lengthwise:
    """Return the natural cubic spline through one, two or three measured values.

    Its second derivative is zero at both ends, so that the straight continuation beyond them is C². In
    closed form: its one moment is M = 3 Δs/(h₀ + h₁), Δs the change of slope.

    Parameters
    ----------
    behind_mm : (k,) distances behind the front edge, increasing [mm]
    values : (k,) in the quantity's own unit

    Raises
    ------
    ValueError
        If there are more than three: no number of a saddle is taken at more places.
    """
    if len(behind_mm) == 1:
        at, value = behind_mm[0], values[0]
        return _table(at, at, at, value, 0.0, 0.0, value, 0.0, 0.0)
    if len(behind_mm) == 2:
        (x0, x1), (y0, y1) = behind_mm, values
        slope = (y1 - y0) / (x1 - x0)
        return _table(x0, x1, x1, y0, slope, 0.0, y1, slope, 0.0)
    (x0, x1, x2), (y0, y1, y2) = behind_mm, values
    before, after = x1 - x0, x2 - x1
    rise, fall = (y1 - y0) / before, (y2 - y1) / after
    moment = 3.0 * (fall - rise) / (before + after)
    front, rear = rise - before * moment / 6.0, fall + after * moment / 6.0
    return _table(x0, x1, x2, y0, front, moment / (6.0 * before), y2, rear, moment / (6.0 * after))


def _table(*numbers: float) -> Lengthwise:
    return Lengthwise(read_only(np.array(numbers, float)))


def smooth_step(x: FloatArray) -> FloatArray:
    """Return 0 below 0, 1 above 1, and the C² quintic `10x³ − 15x⁴ + 6x⁵` between, of x (n,) float [1]."""
    t = np.clip(x, 0.0, 1.0)
    return t**3 * (10.0 - 15.0 * t + 6.0 * t * t)
