"""Parts packed by their outlines: a hump lies beside a hump turned over, where boxes would keep apart.

Every part is laid, the largest first, at the first free place of a grid, in whichever of the four directions
lets the sheet end soonest; where it would lie on another part, a convolution finds for all places at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.signal import fftconvolve
from shapely import affinity
from shapely.geometry import Polygon

STEP_MM = 3.0
QUARTERS = (0, 1, 2, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a part lies: the lower left of its box on its sheet, after so many quarter turns [mm]."""

    sheet: int
    left_mm: float
    low_mm: float
    quarters: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    quarters: int
    mask: NDArray[np.bool_]
    """(columns, rows) bool: cells that the part and half the gap about it touch."""


def placed_by_outline(
    shapes: Sequence[Polygon], width_mm: float, height_mm: float, gap_mm: float
) -> tuple[Placed, ...]:
    """Return where each shape lies on as few sheets as this way of packing finds.

    Parameters
    ----------
    shapes : each fits on a sheet
    width_mm, height_mm : of the room on a sheet, the gap at its edges already taken off [mm]
    gap_mm : between parts [mm]
    """
    # Half the gap lies about every part, so the room grows by as much on each side.
    size = (int((width_mm + gap_mm) / STEP_MM), int((height_mm + gap_mm) / STEP_MM))
    sheets: list[NDArray[np.float64]] = []
    found: dict[int, Placed] = {}
    for k in sorted(range(len(shapes)), key=lambda one: -shapes[one].area):
        ways = [_way(shapes[k], quarters, gap_mm) for quarters in QUARTERS]
        number, way, at = _laid(sheets, [one for one in ways if _fits(one, size)] or ways, size)
        columns, rows = way.mask.shape
        sheets[number][at[0] : at[0] + columns, at[1] : at[1] + rows] += way.mask
        found[k] = Placed(
            sheet=number, left_mm=at[0] * STEP_MM, low_mm=at[1] * STEP_MM, quarters=way.quarters
        )
    return tuple(found[k] for k in range(len(shapes)))


def _fits(way: _Way, size: tuple[int, int]) -> bool:
    return way.mask.shape[0] <= size[0] and way.mask.shape[1] <= size[1]


def _way(shape: Polygon, quarters: int, gap_mm: float) -> _Way:
    """Return which cells a turned part touches, its box's lower left half a gap in from the grid's corner."""
    turned = affinity.rotate(shape, 90 * quarters, origin=(0, 0))
    left, low, right, high = turned.bounds
    half = 0.5 * gap_mm
    # A cell counts as touched where its middle lies within half its diagonal of the part.
    grown = affinity.translate(turned, half - left, half - low).buffer(half + STEP_MM * 0.5**0.5)
    columns = int(np.ceil((right - left + gap_mm) / STEP_MM))
    rows = int(np.ceil((high - low + gap_mm) / STEP_MM))
    x, y = np.meshgrid((np.arange(columns) + 0.5) * STEP_MM, (np.arange(rows) + 0.5) * STEP_MM, indexing="ij")
    shapely.prepare(grown)
    return _Way(quarters=quarters, mask=shapely.contains_xy(grown, x, y))


def _laid(
    sheets: list[NDArray[np.float64]], ways: Sequence[_Way], size: tuple[int, int]
) -> tuple[int, _Way, tuple[int, int]]:
    for number, taken in enumerate(sheets):
        offers = [(at, way) for way in ways if (at := _free(taken, way.mask)) is not None]
        if offers:
            at, way = min(offers, key=lambda one: (one[0][0] + one[1].mask.shape[0], one[0][1]))
            return number, way, at
    sheets.append(np.zeros(size))
    way = min(ways, key=lambda one: one.mask.shape[0])
    return len(sheets) - 1, way, (0, 0)


def _free(taken: NDArray[np.float64], mask: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Return the first column, and in it the first row, where a part lies on nothing."""
    if mask.shape[0] > taken.shape[0] or mask.shape[1] > taken.shape[1]:
        return None
    over = fftconvolve(taken, mask[::-1, ::-1].astype(float), mode="valid")
    free = np.argwhere(over < 0.5)
    return (int(free[0, 0]), int(free[0, 1])) if len(free) else None
