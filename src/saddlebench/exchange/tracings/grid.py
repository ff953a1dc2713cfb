"""The faint printed grid as a check of the paper's inside, where no marker stands."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.drawn import GRID_MM
from saddlebench.exchange.tracings.flatten import Box, Darkness, FlatSheet

BLOCK_MM = 40.0
FEWEST_BLOCKS = 12
_CLEAR = 4.0
"""A line of the grid stands out of the paper's grain by so many of its deviations, or is not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GridFound:
    """Where the printed grid lies against where the markers say it lies."""

    blocks: FloatArray
    """(n, 2) float, sheet's frame [mm]: middles of the blocks whose grid can be seen."""
    off: FloatArray
    """(n, 2) float [mm]: how far the grid lies aside there."""
    terms: FloatArray
    """(10, 2) float: a cubic in both directions through these."""
    box: Box

    @property
    def worst_mm(self) -> float:
        """Ninth tenth of how far the grid lies aside [mm]."""
        return float(np.quantile(np.linalg.norm(self.off, axis=1), 0.9))

    @property
    def rest_mm(self) -> float:
        """What the cubic leaves, root mean square [mm]."""
        rest = self.off - _terms(self.blocks, self.box) @ self.terms
        return float(np.sqrt((rest**2).sum(axis=1).mean()))

    def corrected(self, places: FloatArray) -> FloatArray:
        """Return places (n, 2) float, sheet's frame [mm], as the grid says they are printed."""
        return np.asarray(places - _terms(places, self.box) @ self.terms, dtype=float)


def find_grid(flat: FlatSheet, dark: Darkness) -> GridFound | None:
    """Return where the printed grid lies; None where too little of it is seen (a grey print, a weak light).

    Parameters
    ----------
    dark : (h, w) float32, of every dot of the flat sheet: where a pen wrote the grid is not looked at
    """
    import cv2  # noqa: PLC0415 - slow to load

    colours = flat.colours.astype(np.float32)
    tint = 1.0 - colours[..., 0] / np.maximum(colours.max(axis=2), 1.0)
    reach = 2 * round(GRID_MM * flat.dots_per_mm) + 1
    tint -= cv2.blur(tint, (reach, reach))
    wrote = cv2.dilate((dark > 0.12).astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    usable = np.where(wrote, np.nan, tint)
    left, low, right, top = flat.box
    blocks, off = [], []
    for x in np.arange(left + 5.0, right - BLOCK_MM + 1.0, BLOCK_MM):
        for y in np.arange(low + 5.0, top - BLOCK_MM + 1.0, BLOCK_MM):
            corners = flat.dots(np.array([[x, y + BLOCK_MM], [x + BLOCK_MM, y]]))
            (a, b), (c, d) = np.round(corners).astype(int)
            part = usable[max(b, 0) : d, max(a, 0) : c]
            if part.size == 0 or np.isfinite(part).mean() < 0.5:
                continue
            at = flat.places(np.column_stack([np.arange(max(a, 0), c), np.zeros(c - max(a, 0))]))[:, 0]
            heights = flat.places(np.column_stack([np.zeros(d - max(b, 0)), np.arange(max(b, 0), d)]))[:, 1]
            shift = (_phase(part, at, axis=0), _phase(part, heights, axis=1))
            if shift[0] is not None and shift[1] is not None:
                blocks.append((x + 0.5 * BLOCK_MM, y + 0.5 * BLOCK_MM))
                off.append(shift)
    if len(blocks) < FEWEST_BLOCKS:
        return None
    middles, moved = np.array(blocks), np.array(off, dtype=float)
    keep = np.ones(len(moved), dtype=bool)
    terms = np.zeros((10, 2))
    for _ in range(3):
        matrix = _terms(middles[keep], flat.box)
        ridge = 0.3 * np.diag([0.0, 0.1, 0.1, 0.2, 0.2, 0.2, 1.0, 1.0, 1.0, 1.0])
        terms = np.linalg.solve(matrix.T @ matrix + ridge, matrix.T @ moved[keep])
        rest = np.linalg.norm(moved - _terms(middles, flat.box) @ terms, axis=1)
        keep = rest <= max(3.0 * float(np.median(rest)), 0.3)
    return GridFound(blocks=middles, off=moved, terms=terms, box=flat.box)


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


def _terms(places: FloatArray, box: Box) -> FloatArray:
    """Return the ten terms of a cubic at places (n, 2) float, sheet's frame [mm]; (n, 10) float."""
    left, low, right, top = box
    x = (places[:, 0] - 0.5 * (left + right)) / (0.5 * (right - left))
    y = (places[:, 1] - 0.5 * (low + top)) / (0.5 * (top - low))
    return np.column_stack([x**0, x, y, x**2, x * y, y**2, x**3, x**2 * y, x * y**2, y**3])
