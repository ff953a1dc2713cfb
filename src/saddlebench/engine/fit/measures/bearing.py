"""How the panels bear along and across: bridges, panel faces, the last rib, reach onto the shoulder blade."""

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.measures._kernels import bridges
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.cells import SIDES, Cells, Rows
from saddlebench.engine.fit.measures.names import THIRDS, MeasureKey, MeasureName, Side
from saddlebench.engine.fit.measures.pressure import CONTACT_KPA, NOTHING_BEARS
from saddlebench.engine.fit.measures.table import Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import BearingSurface


def bridge_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return depth and length of the deepest and of the longest gap that stays open between bearing rows.

    A row is open where it touches nowhere across the panel. The gap is to the unpressed back, pad included.
    """
    columns: Columns = {}
    for side, sign in SIDES:
        rows = Rows.of(pair.saddle.bearing, sign)
        smallest = np.minimum.reduceat(solutions.gap_mm[:, rows.order], rows.starts, axis=1)
        depth, length = longest_bridge(smallest, rows.length_mm)
        columns[MeasureKey(name=MeasureName.BRIDGE_DEPTH, state=solutions.state, side=side)] = depth
        columns[MeasureKey(name=MeasureName.BRIDGE_LENGTH, state=solutions.state, side=side)] = length
    return columns


def longest_bridge(row_gap_mm: FloatArray, length_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return depth and length, each (d,) float [mm], of the gaps that bearing rows enclose.

    Parameters
    ----------
    row_gap_mm : (d, rows) float, across the panel's closest place [mm]
        Above 0 where the row is open.
    length_mm : (rows,) float, along the panel [mm]
    """
    depth, length = np.zeros(len(row_gap_mm)), np.zeros(len(row_gap_mm))
    bridges(np.ascontiguousarray(row_gap_mm), np.ascontiguousarray(length_mm), depth, length)
    return depth, length


def face_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return the angle of each panel's face against the back across, by third.

    The gap to the unpressed back is fitted, by least squares over the third, as a height for each row
    plus one slope across; the angle is the slope's arc tangent, above 0 where the gap opens outwards.
    """
    bearing = pair.saddle.bearing
    across = across_mm(bearing)
    columns: Columns = {}
    for part, inside in zip(THIRDS, Cells.of(bearing).thirds(), strict=True):
        for side, sign in SIDES:
            weight = bearing.area_mm2 * inside * (bearing.side == sign)
            moment = np.sum(weight * across**2)
            slope = solutions.gap_mm @ (weight * across) / max(float(moment), 1e-12)
            key = MeasureKey(name=MeasureName.FACE_ANGLE, state=solutions.state, side=side, part=part)
            columns[key] = np.arctan(slope)
    return columns


def across_mm(bearing: BearingSurface) -> FloatArray:
    """Return (n,) float [mm], each point's place across its row, outwards from the row's centre of area."""
    place = np.zeros(bearing.area_mm2.size)
    for _, sign in SIDES:
        rows = Rows.of(bearing, sign)
        by_column = rows.order[np.lexsort((bearing.column[rows.order], bearing.row[rows.order]))]
        points, area = bearing.points_saddle[by_column], bearing.area_mm2[by_column]
        last = np.append(rows.starts[1:], rows.order.size) - 1
        chord = points[last] - points[rows.starts]
        length = np.linalg.norm(chord, axis=1)
        is_wide = length > 0.0
        unit = chord / np.where(is_wide, length, 1.0)[:, None]
        along = np.sum(points * rows.spread(unit), axis=1)
        middle = np.add.reduceat(along * area, rows.starts) / np.add.reduceat(area, rows.starts)
        place[by_column] = (along - rows.spread(middle)) * rows.spread(is_wide)
    return place


def length_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return how far, and with what load, the panels reach past the last-rib mark and onto the blades."""
    state = solutions.state
    behind = -solutions.to_back(pair.shape.points)[:, :, 0]
    cells = Cells.of(pair.saddle.bearing)
    ends = behind + cells.length_mm / 2.0
    load = solutions.pressure_kpa * pair.saddle.bearing.area_mm2
    last_rib = pair.marks["last_rib"]
    past = MeasureKey(name=MeasureName.PAST_LAST_RIB, state=state)
    past_load = MeasureKey(name=MeasureName.LOAD_PAST_LAST_RIB, state=state)
    if isinstance(last_rib, NotMeasured):
        columns: Columns = {past: last_rib, past_load: last_rib}
    else:
        share = np.clip((ends - last_rib[:, None]) / np.maximum(cells.length_mm, 1e-9), 0.0, 1.0)
        beyond = np.sum(load * share, axis=1)
        columns = {
            past: ends.max(axis=1) - last_rib,
            past_load: beyond / np.maximum(load.sum(axis=1), 1e-12),
        }
    for side, sign in SIDES:
        fronts = behind - cells.length_mm / 2.0
        columns.update(_reach(pair, solutions, fronts, side=side, mine=pair.saddle.bearing.side == sign))
    return columns


def _reach(
    pair: Pair, solutions: Solutions, behind: FloatArray, *, side: Side, mine: NDArray[np.bool_]
) -> Columns:
    at_rest = MeasureKey(name=MeasureName.REACH_AT_REST, state=solutions.state, side=side)
    full = MeasureKey(name=MeasureName.REACH_FULL_STRIDE, state=solutions.state, side=side)
    shoulder = pair.marks["shoulder_left" if side is Side.NEAR else "shoulder_right"]
    if isinstance(shoulder, NotMeasured):
        return {at_rest: shoulder, full: shoulder}
    bears = mine & (solutions.pressure_kpa > CONTACT_KPA)
    if not np.any(bears):
        return {at_rest: NOTHING_BEARS, full: NOTHING_BEARS}
    foremost = np.where(bears, behind, np.inf).min(axis=1)
    reach = shoulder - np.where(np.isfinite(foremost), foremost, shoulder)
    return {at_rest: reach, full: reach + pair.stride_mm}
