"""Pressure and load: peak, mean, evenness, contact, shares, centre of pressure, load along each panel."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.cells import SIDES, Cells, Rows
from saddlebench.engine.fit.measures.names import (
    THIRDS,
    MeasureKey,
    MeasureName,
    Part,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.measures.table import Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import BearingSurface

CONTACT_KPA = 1.0
"""Contact area is the area above this pressure (the definition used throughout)."""
NEWTON_PER_KPA_MM2 = 1e-3
END_MM, OUTER_EDGE_MM, EDGE_MM = 50.0, 15.0, 10.0
NOTHING_BEARS = Undetermined("nothing bears: the saddle carries no load here")


def load_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return shares of the normal load, contact and evenness of one state.

    The share of a part is `Σ p A` over the part divided by `Σ p A` over both panels: what a sensing mat under
    the saddle would report, were there one.
    """
    bearing, state = pair.saddle.bearing, solutions.state
    cells = Cells.of(bearing)
    total_mm, outer, any_edge = cells.total_mm, bearing.outer_edge_mm, bearing.edge_mm
    groups: dict[MeasureKey, FloatArray] = {
        MeasureKey(name=MeasureName.LEFT_SHARE, state=state): 1.0 * (bearing.side > 0),
        MeasureKey(name=MeasureName.EDGE_SHARE, state=state): cells.nearer_than(outer, OUTER_EDGE_MM),
        MeasureKey(name=MeasureName.INNER_OUTER_EDGE_SHARE, state=state): cells.nearer_than(
            any_edge, EDGE_MM
        ),
        _end(state, Part.FRONT): cells.within(0.0, END_MM),
        _end(state, Part.REAR): cells.within(total_mm - END_MM, total_mm),
    }
    for part, inside in zip(THIRDS, cells.thirds(), strict=True):
        groups[MeasureKey(name=MeasureName.THIRD_SHARE, state=state, part=part)] = inside
    weights = np.stack([*groups.values(), np.ones_like(outer)], axis=1) * bearing.area_mm2[:, None]
    loads = solutions.pressure_kpa @ weights
    total = loads[:, -1]
    if not np.any(total > 0.0):
        return dict.fromkeys(groups, NOTHING_BEARS)
    shares = loads[:, :-1] / np.maximum(total, 1e-12)[:, None]
    columns: Columns = {key: shares[:, k] for k, key in enumerate(groups)}
    columns.update(_centre(pair, solutions))
    columns.update(_contact(bearing, cells, solutions))
    return columns


def _end(state: State, part: Part) -> MeasureKey:
    return MeasureKey(name=MeasureName.END_SHARE, state=state, part=part)


def centre_of_pressure(pair: Pair, solutions: Solutions) -> FloatArray:
    """Return (d, 3) float, saddle frame [mm]: the centre of the normal load over both panels."""
    weight = solutions.pressure_kpa * pair.saddle.bearing.area_mm2
    total = np.maximum(weight.sum(axis=1), 1e-12)
    return (
        np.einsum("dn,dnk->dk", weight, np.broadcast_to(pair.shape.points, (*weight.shape, 3)))
        / (total[:, None])
    )


def _centre(pair: Pair, solutions: Solutions) -> Columns:
    centre = solutions.to_back(centre_of_pressure(pair, solutions)[:, None, :])[:, 0]
    state = solutions.state
    return {
        MeasureKey(name=MeasureName.CENTRE_OF_PRESSURE_ALONG, state=state): -centre[:, 0],
        MeasureKey(name=MeasureName.CENTRE_OF_PRESSURE_ACROSS, state=state): centre[:, 1],
    }


def _contact(bearing: BearingSurface, cells: Cells, solutions: Solutions) -> Columns:
    pressure, state = solutions.pressure_kpa, solutions.state
    areas = np.where(pressure > CONTACT_KPA, bearing.area_mm2, 0.0)
    contact = areas.sum(axis=1)
    columns: Columns = {
        MeasureKey(name=MeasureName.CONTACT_AREA, state=state): contact,
        MeasureKey(name=MeasureName.SURFACE_USED, state=state): contact / bearing.area_mm2.sum(),
        PressureKey(name=PressureName.PEAK, state=state): pressure.max(axis=1),
    }
    load = np.sum(areas * pressure, axis=1)
    mean = load / np.maximum(contact, 1e-12)
    p99 = weighted_quantile(pressure, areas, 0.99)
    columns[PressureKey(name=PressureName.MEAN, state=state)] = mean
    columns[PressureKey(name=PressureName.P99, state=state)] = p99
    columns[MeasureKey(name=MeasureName.PRESSURE_RATIO, state=state)] = p99 / np.maximum(mean, 1e-12)
    for part, inside in zip(THIRDS, cells.thirds(), strict=True):
        area = np.maximum(areas @ inside, 1e-12)
        key = PressureKey(name=PressureName.MEAN, state=state, part=part)
        columns[key] = (areas * pressure) @ inside / area
        key = PressureKey(name=PressureName.PEAK, state=state, part=part)
        columns[key] = (pressure * (inside > 0.5)).max(axis=1)
    return columns


def weighted_quantile(values: FloatArray, weights: FloatArray, level: float) -> FloatArray:
    """Return the smallest value of each row that at least `level` of the row's weight does not exceed.

    Parameters
    ----------
    values, weights : (d, n) float, any frame [any unit, weight ≥ 0]
    level : float
        Between 0 and 1.

    Returns
    -------
    (d,) float, in the values' unit; 0 for a row without weight.
    """
    order = np.argsort(values, axis=1)
    cumulated = np.cumsum(np.take_along_axis(weights, order, axis=1), axis=1)
    total = cumulated[:, -1:]
    first = np.argmax(cumulated >= level * total * (1.0 - 1e-12), axis=1)
    found = np.take_along_axis(values, np.take_along_axis(order, first[:, None], axis=1), axis=1)[:, 0]
    return np.where(total[:, 0] > 0.0, found, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLoad:
    """Load per unit length along one panel."""

    side: Side
    s_mm: FloatArray
    """(rows,) float, distance behind the shoulder mark [mm]."""
    newton_per_mm: FloatArray
    """(rows,) float [N/mm]."""


def line_loads(pair: Pair, solutions: Solutions) -> tuple[LineLoad, LineLoad]:
    """Return the load along the left and the right panel of the first solution.

    Each row of points stands for the length between the midpoints to its neighbours, so that the integral
    over the length is the panel's load.
    """
    bearing = pair.saddle.bearing
    found = []
    load = solutions.pressure_kpa[0] * bearing.area_mm2 * NEWTON_PER_KPA_MM2
    for side, sign in SIDES:
        rows = Rows.of(bearing, sign)
        by_row = np.add.reduceat(load[rows.order], rows.starts)
        midline = np.zeros((1, rows.x_mm.size, 3))
        midline[0, :, 0] = rows.x_mm
        s_mm = -solutions.to_back(midline)[0, :, 0]
        per_mm = by_row / np.maximum(rows.length_mm, 1e-9)
        found.append(LineLoad(side=side, s_mm=s_mm, newton_per_mm=per_mm))
    return found[0], found[1]
