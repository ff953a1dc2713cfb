"""Balance: tilt and shift of the seat, lean, line, girth straps, rocking, slip."""

import numpy as np

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.pressure import CONTACT_KPA
from saddlebench.engine.fit.measures.table import Absent, Columns
from saddlebench.engine.frames import FloatArray

HEAVE, PITCH = 2, 4
"""Places of "up" and "turn about y" in the tangent stiffness."""


def balance_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return attitude, seat, line and slip of one state."""
    rotation, state = solutions.rotation, solutions.state
    rear = solutions.to_back(rear_of_saddle(pair))[:, 0]
    return {
        MeasureKey(name=MeasureName.SEAT_TILT, state=state): _arcsine(rotation[:, 2, 0]),
        MeasureKey(name=MeasureName.LEAN, state=state): -_arcsine(rotation[:, 2, 1]),
        MeasureKey(name=MeasureName.YAW, state=state): np.arctan2(rotation[:, 1, 0], rotation[:, 0, 0]),
        MeasureKey(name=MeasureName.OFF_LINE, state=state): rear[:, 1],
        MeasureKey(name=MeasureName.SEAT_SHIFT, state=state): _seat_shift(pair, solutions),
        MeasureKey(name=MeasureName.SLIP_TENDENCY, state=state): solutions.slip_share,
        MeasureKey(name=MeasureName.STRAPS_FROM_GROOVE, state=state): _straps(pair, solutions),
        MeasureKey(name=MeasureName.PITCH_STIFFNESS_RATIO, state=state): _pitch_ratio(pair, solutions),
    }


def _arcsine(values: FloatArray) -> FloatArray:
    return np.arcsin(np.clip(values, -1.0, 1.0))


def rear_of_saddle(pair: Pair) -> FloatArray:
    """Return (1, 1, 3) float, saddle frame [mm]: the rear end of the seat on the midline (the cantle)."""
    seat = pair.saddle.seat
    return np.array([[[seat.x_mm[-1], 0.0, seat.z_mm[-1]]]])


def _seat_shift(pair: Pair, solutions: Solutions) -> FloatArray:
    """Return how far behind its designed place the seat is lowest, as it stands [mm].

    Both lowest places are vertices of the parabola through the lowest recorded place and its neighbours.
    """
    x, z = pair.saddle.seat.x_mm, pair.saddle.seat.z_mm
    if x.size < 3:
        return np.zeros(solutions.rotation.shape[0])
    height = solutions.rotation[:, 2, 0, None] * x + solutions.rotation[:, 2, 2, None] * z
    return _lowest(x, z[None, :]) - _lowest(x, height)


def _lowest(x: FloatArray, height: FloatArray) -> FloatArray:
    middle = np.clip(np.argmin(height, axis=1), 1, x.size - 2)
    rows = np.arange(height.shape[0])
    x0, x1, x2 = x[middle - 1], x[middle], x[middle + 1]
    h0, h1, h2 = height[rows, middle - 1], height[rows, middle], height[rows, middle + 1]
    first, second = (h1 - h0) / (x1 - x0), (h2 - h1) / (x2 - x1)
    curvature = (second - first) / (x2 - x0)
    slope = first + curvature * (x1 - x0)
    place = x1 - slope / np.where(curvature > 0.0, 2.0 * curvature, np.inf)
    return np.clip(np.where(curvature > 0.0, place, x1), np.minimum(x0, x2), np.maximum(x0, x2))


def _straps(pair: Pair, solutions: Solutions) -> FloatArray | Absent:
    """Return how far ahead of the girth groove the straps' anchors lie on average [mm]."""
    groove = pair.marks["girth_groove"]
    if isinstance(groove, NotMeasured):
        return groove
    if not pair.saddle.straps:
        return NotMeasured("the girth straps were not recorded")
    anchors = np.array([[one.left_saddle, one.right_saddle] for one in pair.saddle.straps]).reshape(1, -1, 3)
    return groove + solutions.to_back(anchors)[:, :, 0].mean(axis=1)


def _pitch_ratio(pair: Pair, solutions: Solutions) -> FloatArray | Absent:
    """Return the settled pitch stiffness over that of the same panels bearing everywhere alike.

    About the centre of stiffness the settled value is `K_θθ − K_zθ²/K_zz`; panels that bear everywhere
    with the settled stiffness per area would have `K_zz/A_contact · Σ A (x − x̄)²`.
    """
    area, x = pair.saddle.bearing.area_mm2, pair.saddle.bearing.points_saddle[:, 0]
    spread = np.sum(area * (x - np.average(x, weights=area)) ** 2)
    contact = np.where(solutions.pressure_kpa > CONTACT_KPA, area, 0.0).sum(axis=1)
    heave = solutions.stiffness[:, HEAVE, HEAVE]
    if not np.any((heave > 0.0) & (contact > 0.0)) or spread <= 0.0:
        return Undetermined("nothing bears: the saddle carries no load here")
    coupling, turn = solutions.stiffness[:, HEAVE, PITCH], solutions.stiffness[:, PITCH, PITCH]
    safe = np.maximum(heave, 1e-9)
    return (turn - coupling**2 / safe) * contact / (safe * spread)


def rocking_column(pair: Pair, girthed: Solutions, pressed: Solutions) -> Columns:
    """Return how far the cantle rises when the pommel is pressed by the standard hand load."""
    rear = rear_of_saddle(pair)
    rise = pressed.to_back(rear)[:, 0, 2] - girthed.to_back(rear)[:, 0, 2]
    return {MeasureKey(name=MeasureName.ROCKING, state=girthed.state): rise}
