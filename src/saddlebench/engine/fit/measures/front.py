"""The front: tree points against the back, width with the pad, distance from the shoulder blades' edges."""

import numpy as np

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.cells import SIDES
from saddlebench.engine.fit.measures.feet import feet_of, unmeasured
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Side
from saddlebench.engine.fit.measures.pressure import centre_of_pressure
from saddlebench.engine.fit.measures.table import Absent, Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import Zone

LOWER_MM = 60.0
_PER_POINT = 5
_TIP_ROWS_MM = 15.0
_LEAST_SIDEWAYS = 0.2
"""A back flatter than this across (sine) has no width to speak of at that depth."""


def front_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return angle, width and place of the tree points; for bars, width and place of their front ends."""
    if pair.shape.point_ends is None:
        return _bar_fronts(pair, solutions)
    return {
        **_point_angles(pair, solutions),
        MeasureKey(name=MeasureName.WIDTH_MISMATCH, state=solutions.state): _point_width(pair, solutions),
        **_behind_shoulder(pair, solutions, -solutions.to_back(pair.shape.point_ends)[:, :, 0]),
    }


def _point_angles(pair: Pair, solutions: Solutions) -> Columns:
    """Return each point's angle against the back: the arc sine of the least-squares slope of the distance.

    Along a straight line that leaves a plane at the angle α the distance grows by sin α for each unit of
    length. Above 0 the distance grows upwards: the end of the point is closest.
    """
    ends, points = pair.shape.point_ends, pair.saddle.points
    if ends is None or points is None:
        return {}
    places = [np.linspace(0.0, min(LOWER_MM, one.length_mm), _PER_POINT) for one in points]
    along = np.stack([one.upward_saddle * t[:, None] for one, t in zip(points, places, strict=True)])
    probes = (ends[:, :, None, :] + along[None]).reshape(ends.shape[0], -1, 3)
    feet = feet_of(pair, solutions.to_back(probes))
    columns: Columns = {}
    for index, (side, _) in enumerate(SIDES):
        key = MeasureKey(name=MeasureName.POINT_ANGLE, state=solutions.state, side=side)
        which = slice(index * _PER_POINT, (index + 1) * _PER_POINT)
        t = places[index] - places[index].mean()
        if not np.any(t):
            columns[key] = NotMeasured("the length of the tree points was not recorded")
            continue
        slope = feet.distance_mm[:, which] @ t / (t @ t)
        columns[key] = unmeasured(pair, feet, which) or np.arcsin(np.clip(slope, -1.0, 1.0))
    return columns


def levelled(pair: Pair, solutions: Solutions, points_back: FloatArray) -> FloatArray:
    """Turn points (d, m, 3) float, back frame [mm], about the centre of pressure until the seat is level."""
    centre = solutions.to_back(centre_of_pressure(pair, solutions)[:, None, :])
    pitch = np.arcsin(np.clip(solutions.rotation[:, 2, 0], -1.0, 1.0))
    cosine, sine = np.cos(pitch)[:, None], np.sin(pitch)[:, None]
    arm = points_back - centre
    turned = np.stack(
        [cosine * arm[..., 0] + sine * arm[..., 2], arm[..., 1], cosine * arm[..., 2] - sine * arm[..., 0]],
        axis=-1,
    )
    return turned + centre


def _point_width(pair: Pair, solutions: Solutions) -> FloatArray | Absent:
    """Return how much wider than the back the points stand, both sides together, with the seat level.

    A narrow arch holds the front up and the seat tips back; with the seat put level about the centre of
    pressure its points lie inside the back by what the arch is too narrow. Panel and pad count as
    pressed as they are on average over the contact.
    """
    ends, points = pair.shape.point_ends, pair.saddle.points
    if ends is None or points is None:
        return Undetermined("this saddle has no tree points")
    feet = feet_of(pair, levelled(pair, solutions, solutions.to_back(ends)))
    sideways = feet.sideways
    missing = unmeasured(pair, feet, slice(0, 2))
    if missing is not None:
        return missing
    if np.median(sideways) < _LEAST_SIDEWAYS:
        return Undetermined("the back is too flat under the points to have a width there")
    cover = np.array([one.cover_mm for one in points])
    room = feet.distance_mm - cover - pair.pad_mm[:, Zone.FRONT][:, None]
    room = room + mean_compression(pair, solutions)[:, None]
    return np.sum(room / np.maximum(sideways, _LEAST_SIDEWAYS), axis=1)


def mean_compression(pair: Pair, solutions: Solutions) -> FloatArray:
    """Return (d,) float [mm]: how deep panels, pads and back are pressed, on average over what touches."""
    pressed = np.maximum(-solutions.gap_mm, 0.0)
    touching = (pressed > 0.0) * pair.saddle.bearing.area_mm2
    return np.sum(pressed * touching, axis=1) / np.maximum(touching.sum(axis=1), 1e-9)


def _behind_shoulder(pair: Pair, solutions: Solutions, behind_mm: FloatArray) -> Columns:
    columns: Columns = {}
    for index, (side, _) in enumerate(SIDES):
        mark = pair.marks["shoulder_left" if side is Side.NEAR else "shoulder_right"]
        key = MeasureKey(name=MeasureName.BEHIND_SHOULDER, state=solutions.state, side=side)
        columns[key] = mark if isinstance(mark, NotMeasured) else behind_mm[:, index] - mark
    return columns


def _bar_fronts(pair: Pair, solutions: Solutions) -> Columns:
    """Return width, place and flare of the front ends of bars, from their bearing points."""
    bearing, state = pair.saddle.bearing, solutions.state
    back = solutions.to_back(pair.shape.points)
    normals = solutions.turn_to_back(bearing.normals_saddle[None])
    lowered = levelled(pair, solutions, back) - back
    gap = solutions.gap_mm - np.sum(normals * lowered, axis=2)
    gap = gap + mean_compression(pair, solutions)[:, None]
    x = bearing.points_saddle[:, 0]
    is_tip = x >= x.max() - _TIP_ROWS_MM
    is_front = (bearing.zone == Zone.FRONT) & ~is_tip
    room, behind = [], []
    columns: Columns = {}
    for side, sign in SIDES:
        mine = bearing.side == sign
        weight = bearing.area_mm2 * (mine & is_front)
        sideways = np.abs(normals[:, :, 1]) @ weight
        room.append((gap @ weight) / np.maximum(sideways, _LEAST_SIDEWAYS * max(weight.sum(), 1e-9)))
        behind.append(-back[:, mine, 0].max(axis=1))
        flare = MeasureKey(name=MeasureName.TIP_FLARE, state=state, side=side)
        columns[flare] = solutions.gap_mm[:, mine & is_tip].min(axis=1)
    columns[MeasureKey(name=MeasureName.WIDTH_MISMATCH, state=state)] = room[0] + room[1]
    columns.update(_behind_shoulder(pair, solutions, np.stack(behind, axis=1)))
    return columns
