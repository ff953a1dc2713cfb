"""The faint printed grid as a check of the paper's inside, where no marker stands."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RBFInterpolator

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.drawn import GRID_MM
from saddlebench.exchange.tracings.flatten import Box, Darkness, FlatSheet

BLOCK_MM = 40.0
STEP_MM = 20.0
LEAST_SEEN = 0.5
"""Share of the blocks in which the grid has to be seen."""
_CLEAR = 4.0
"""A line of the grid stands out of the paper's grain by so many of its deviations, or is not used."""
_LINE_MM = 5.0
_SMOOTH = 0.01
_UNIT_MM = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GridFound:
    """Where the printed grid lies against where the markers say it lies."""

    blocks: FloatArray
    """(n, 2) float, sheet's frame [mm]: middles of the blocks whose grid can be seen."""
    off: FloatArray
    """(n, 2) float [mm]: how far the grid lies aside there."""
    rest_mm: float
    """How well half of the blocks tell of the other half, root mean square [mm]."""

    @property
    def worst_mm(self) -> float:
        """Ninth tenth of how far the grid lies aside [mm]."""
        return float(np.quantile(np.linalg.norm(self.off, axis=1), 0.9))

    def corrected(self, places: FloatArray) -> FloatArray:
        """Return places (n, 2) float, sheet's frame [mm], as the grid says they are printed."""
        return np.asarray(places - _between(self.blocks, self.off, places), dtype=float)


def find_grid(flat: FlatSheet, dark: Darkness) -> GridFound | None:
    """Return where the printed grid lies; None where too little of it is seen (a weak light, a worn printer).

    Parameters
    ----------
    dark : (h, w) float32, of every dot of the flat sheet: where a pen wrote the grid is not looked at
    """
    usable = _faint(flat, dark)
    left, low, right, top = flat.box
    blocks, off = [], []
    n_asked = 0
    for x in np.arange(left + 3.0, right - BLOCK_MM + 1.0, STEP_MM):
        for y in np.arange(low + 3.0, top - BLOCK_MM + 1.0, STEP_MM):
            n_asked += 1
            shift = _shift(flat, usable, (x, y, x + BLOCK_MM, y + BLOCK_MM))
            if shift is not None:
                blocks.append((x + 0.5 * BLOCK_MM, y + 0.5 * BLOCK_MM))
                off.append(shift)
    if len(blocks) < max(12, LEAST_SEEN * n_asked):
        return None
    middles, moved = np.array(blocks), np.array(off)
    keep = _without_jumps(middles, moved)
    middles, moved = middles[keep], moved[keep]
    half = (np.round(middles / STEP_MM).astype(int).sum(axis=1) % 2).astype(bool)
    misses = [moved[one] - _between(middles[~one], moved[~one], middles[one]) for one in (half, ~half)]
    rest = float(np.sqrt((np.vstack(misses) ** 2).sum(axis=1).mean()))
    return GridFound(blocks=middles, off=moved, rest_mm=rest)


def _faint(flat: FlatSheet, dark: Darkness) -> FloatArray:
    """Return how much less red every dot of the flat sheet is than the paper about it, (h, w) float.

    The grid is printed light blue; NaN: a pen wrote there, or the photo does not show it.
    """
    import cv2  # noqa: PLC0415 - slow to load

    red = flat.colours[..., 0].astype(np.float32)
    reach = 2 * round(0.5 * _LINE_MM * flat.dots_per_mm) + 1
    faint = 1.0 - red / np.maximum(cv2.blur(red, (reach, reach)), 1.0)
    wrote = cv2.dilate((dark > 0.12).astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    return np.asarray(np.where(wrote | ~flat.inside, np.nan, faint), dtype=float)


def _shift(flat: FlatSheet, usable: FloatArray, block: Box) -> tuple[float, float] | None:
    """Return how far the grid lies aside in a block, right and up [mm]; None where it is not clearly seen."""
    left, low, right, top = block
    (a, b), (c, d) = np.round(flat.dots(np.array([[left, top], [right, low]]))).astype(int)
    a, b = max(a, 0), max(b, 0)
    part = usable[b:d, a:c]
    if part.size == 0 or np.isfinite(part).mean() < 0.5:
        return None
    at = flat.places(np.column_stack([np.arange(a, a + part.shape[1]), np.zeros(part.shape[1])]))[:, 0]
    heights = flat.places(np.column_stack([np.zeros(part.shape[0]), np.arange(b, b + part.shape[0])]))[:, 1]
    across, up = _phase(part, at, axis=0), _phase(part, heights, axis=1)
    return None if across is None or up is None else (across, up)


def _without_jumps(middles: FloatArray, moved: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which blocks lie as those beside them do, (n,) bool: a line may be taken for the next one."""
    near = np.linalg.norm(middles[:, None] - middles[None], axis=2) <= 1.5 * BLOCK_MM
    usual = np.array([np.median(moved[mine], axis=0) for mine in near])
    off = np.linalg.norm(moved - usual, axis=1)
    return np.asarray(off <= max(4.0 * float(np.median(off)), 1.0))


def _between(blocks: FloatArray, off: FloatArray, places: FloatArray) -> FloatArray:
    """Return how far the grid lies aside at places (n, 2) float [mm], (n, 2) float: a thin plate."""
    plate = RBFInterpolator(blocks / _UNIT_MM, off, kernel="thin_plate_spline", smoothing=_SMOOTH)
    return np.asarray(plate(places / _UNIT_MM), dtype=float)


def _phase(part: FloatArray, at: FloatArray, axis: int) -> float | None:
    """Return how far the grid's lines lie beside multiples of its step [mm]; None: not clearly seen.

    Parameters
    ----------
    part : (rows, columns) float: the tint of a block; NaN where it is not looked at
    at : (columns,) or (rows,) float, sheet's frame [mm]: place of every column or row
    axis : over which the lines run
    """
    counts = np.isfinite(part).sum(axis=axis)
    sums = np.nansum(part, axis=axis)
    good = counts > 0.3 * part.shape[axis]
    if good.sum() < 20:
        return None
    profile = sums[good] / counts[good]
    folded = (at[good] + 0.5 * GRID_MM) % GRID_MM - 0.5 * GRID_MM
    places = np.arange(-5.0, 5.0, 0.1)
    width = 0.3
    apart = (folded[None, :] - places[:, None] + 0.5 * GRID_MM) % GRID_MM - 0.5 * GRID_MM
    weight = np.exp(-0.5 * (apart / width) ** 2)
    score = (weight @ profile) / weight.sum(axis=1)
    best = int(score.argmax())
    around = np.abs((places - places[best] + 0.5 * GRID_MM) % GRID_MM - 0.5 * GRID_MM)
    grain = score[around > 1.2]
    if score[best] - np.median(grain) < _CLEAR * max(float(np.std(grain)), 1e-4):
        return None
    near = around < 0.5
    lift = np.maximum(score[near] - np.median(grain), 0.0)
    turned = (places[near] - places[best] + 0.5 * GRID_MM) % GRID_MM - 0.5 * GRID_MM
    return float(places[best] + (lift * turned).sum() / max(float(lift.sum()), 1e-9))
