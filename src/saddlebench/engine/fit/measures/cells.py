"""How bearing points stand for lengths and widths: rows along each panel, cells across it.

Points stand at the centres of their cells. A part that ends inside a cell takes its share of it, so that
shares of the load do not jump with the number of points.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import BearingSurface

SIDES = ((Side.NEAR, 1), (Side.OFF, -1))


def row_lengths(x_mm: FloatArray) -> FloatArray:
    """Return the length (rows,) [mm] that each row at `x_mm` (rows,) float, saddle frame [mm], stands for."""
    middle = 0.5 * (x_mm[1:] + x_mm[:-1])
    edges = np.concatenate([[2 * x_mm[0] - middle[0]], middle, [2 * x_mm[-1] - middle[-1]]])
    return np.abs(np.diff(edges))


@dataclass(frozen=True, slots=True)
class Rows:
    """Points of one panel sorted into rows from front to rear."""

    order: NDArray[np.intp]
    starts: NDArray[np.intp]
    x_mm: FloatArray
    """(rows,) float, saddle frame [mm]: the rows' mean places."""
    length_mm: FloatArray
    """(rows,) float, the length each row stands for [mm]."""

    @classmethod
    def of(cls, bearing: BearingSurface, sign: int) -> "Rows":
        """Sort one side's points; `sign` is +1 left, −1 right."""
        mine = np.flatnonzero(bearing.side == sign)
        order = mine[np.argsort(bearing.row[mine], kind="stable")]
        rows = bearing.row[order]
        starts = np.flatnonzero(np.concatenate([[True], rows[1:] != rows[:-1]]))
        counts = np.diff(np.append(starts, order.size))
        x = np.add.reduceat(bearing.points_saddle[order, 0], starts) / counts
        return cls(order, starts, x, row_lengths(x) if x.size > 1 else np.zeros(x.size))

    def spread(self, by_row: FloatArray) -> FloatArray:
        """Return values by row (rows,) or (rows, k) float, any frame [any unit], by point in `order`."""
        return np.repeat(by_row, np.diff(np.append(self.starts, self.order.size)), axis=0)


@dataclass(frozen=True, slots=True)
class Cells:
    """Where each point's cell begins and ends along the saddle, and how wide it is."""

    behind_mm: FloatArray
    """(n,) float, saddle frame [mm]: centre behind the foremost end of the panels."""
    length_mm: FloatArray
    """(n,) float [mm]."""
    width_mm: FloatArray
    """(n,) float [mm]: area over length."""
    total_mm: float
    """Bearing length of the longer panel."""

    @classmethod
    def of(cls, bearing: BearingSurface) -> "Cells":
        """Find the cells of all points."""
        n = bearing.area_mm2.size
        x, length = np.zeros(n), np.zeros(n)
        for _, sign in SIDES:
            rows = Rows.of(bearing, sign)
            x[rows.order], length[rows.order] = rows.spread(rows.x_mm), rows.spread(rows.length_mm)
        front, rear = float(np.max(x + length / 2)), float(np.min(x - length / 2))
        width = bearing.area_mm2 / np.maximum(length, 1e-9)
        return cls(front - x, length, width, front - rear)

    def within(self, first_mm: float, last_mm: float) -> FloatArray:
        """Return (n,) float, the share of each cell between two distances behind the foremost end [mm]."""
        low = np.maximum(self.behind_mm - self.length_mm / 2, first_mm)
        high = np.minimum(self.behind_mm + self.length_mm / 2, last_mm)
        return np.clip((high - low) / np.maximum(self.length_mm, 1e-9), 0.0, 1.0)

    def nearer_than(self, edge_mm: FloatArray, limit_mm: float) -> FloatArray:
        """Return (n,) float, the share of each cell nearer to an edge than a limit.

        Parameters
        ----------
        edge_mm : (n,) float, saddle frame [mm], distance of the centres from the edge
        limit_mm : float
        """
        return np.clip((limit_mm - edge_mm) / np.maximum(self.width_mm, 1e-9) + 0.5, 0.0, 1.0)

    def thirds(self) -> FloatArray:
        """Return (3, n) float, the share of each cell in the front, middle and rear third."""
        third = self.total_mm / 3.0
        return np.stack([self.within(k * third, (k + 1) * third) for k in range(3)])
