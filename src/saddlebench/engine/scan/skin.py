"""Lay a smooth skin over the upper side of a trunk: noise evened out, what leans on it left out, holes kept.

Each cell of a polar grid takes the median of the points that fall into it; a quadratic surface is then fitted
about every cell to its measured neighbours (A. Savitzky, M. J. E. Golay, Analytical Chemistry 36 (1964),
1627–1639, in two dimensions, with gaps). A cell without points stays empty: nothing is bridged.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, binary_opening, convolve, label

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.polar_grid import PolarGrid, lay_on_grid
from saddlebench.engine.scan.trunk import midline_step, topline, turn_to

STEP_MM = 10.0
TURN = np.deg2rad(2.5)
PHI = TURN * np.arange(-42, 43)
AXIS_DEPTH_MM, HALF_WIDTH_MM = 220.0, 300.0
_BOUNDS_MM = (60.0, 600.0)
_HALF_WINDOW = 3
_FEWEST = 14
"""Measured cells, of 49, below which a cell's neighbourhood is too thin to be smoothed."""
FOREIGN_MM = 14.0
"""A patch with an edge that stands out by more than this from the other side is no horse's (assumption)."""
_EDGE_CELLS = 16
_STRAY_MM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeignPatch:
    """Something that lay on the skin and was left out."""

    x_mm: float
    """Its middle, along the skin's frame [mm]."""
    phi: float
    """Its middle, from vertical, positive left [rad]."""
    area_cm2: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """The upper side of a trunk as a grid mesh."""

    vertices: FloatArray
    """(n, 3) float, instrument frame [mm]."""
    faces: NDArray[np.int32]
    """(m, 3) int, vertex indices."""
    turn: FloatArray
    """(3, 3) rotation from the instrument frame to the skin's: x along the midline to the head, z up."""
    shift: FloatArray
    """(3,) float, skin's frame [mm]: added after the turn."""
    noise_mm: float
    """Robust standard deviation of the points about the skin [mm]."""
    measured: float
    """Share of the cells above the flanks, between the ends, that were measured."""
    foreign: tuple[ForeignPatch, ...]


def lay_skin(
    points: FloatArray, turn: FloatArray, origin: FloatArray, ends_mm: tuple[float, float]
) -> Skin | None:
    """Lay a skin over the points of a trunk, or return None where there is none to lay it on.

    Parameters
    ----------
    points : (n, 3) float, instrument frame, about even [mm]
    turn : (3, 3) rotation to a frame with x to the head, good to some 15°, and z up
    origin : (3,) float, instrument frame [mm], on the back near its midline
    ends_mm : rear and front end of the skin, along x from the origin [mm]
    """
    shift = -turn @ origin
    placed = points @ turn.T + shift
    reach = 600.0
    placed = placed[
        (placed[:, 0] > ends_mm[0] - 60.0)
        & (placed[:, 0] < ends_mm[1] + 60.0)
        & (np.abs(placed[:, 1]) < reach)
        & (np.abs(placed[:, 2]) < 1.5 * reach)
    ]
    if len(placed) < 400:
        return None
    x = np.arange(ends_mm[0], ends_mm[1] + 1.0, STEP_MM)
    for _ in range(4):
        grid = _grid(placed, x)
        if grid is None:
            return None
        # The neck bends, the tail hangs: the midline is the trunk's, between them.
        third = 0.25 * (ends_mm[1] - ends_mm[0])
        step = midline_step(grid, (ends_mm[0] + third, ends_mm[1] - third), HALF_WIDTH_MM)
        if step is None:
            break
        by = turn_to(float(np.arctan(step[1])))
        move = np.array([0.0, step[0], 0.0])
        placed, turn, shift = (placed - move) @ by.T, by @ turn, by @ (shift - move)
    grid = _grid(placed, x)
    return None if grid is None else _skin_of(grid, turn, shift)


def _grid(placed: FloatArray, x: FloatArray) -> PolarGrid | None:
    top = topline(placed, x, HALF_WIDTH_MM)
    if top is None:
        return None
    # Fixed height over long stretches: the axis must not follow the noise, only the back.
    axis = np.interp(x, x[::6], top[::6]) - AXIS_DEPTH_MM
    return lay_on_grid(placed, x, axis, PHI, _BOUNDS_MM)


def _skin_of(grid: PolarGrid, turn: FloatArray, shift: FloatArray) -> Skin:
    there = grid.count > 0
    there &= ~_strays(grid.radius, there)
    foreign, patches = _foreign(grid, there)
    there &= ~foreign
    smooth, kept = smoothed(grid.radius, there)
    off = np.abs(grid.radius - smooth)[kept]
    limit = 4.0 * 1.4826 * float(np.median(off)) + 2.0 if off.size else 0.0
    smooth, kept = smoothed(grid.radius, there & (np.abs(grid.radius - smooth) < limit))
    within = np.hypot(grid.spread, np.abs(grid.radius - smooth))[kept & (grid.count >= 3)]
    x = np.broadcast_to(grid.x[:, None], smooth.shape)
    z = grid.axis_z[:, None] + smooth * np.cos(grid.phi)
    skin_points = np.stack([x, smooth * np.sin(grid.phi), z], axis=-1)
    number = np.cumsum(kept.ravel()).reshape(kept.shape) - 1
    upper = np.abs(grid.phi) < np.deg2rad(80.0)
    return Skin(
        vertices=(skin_points[kept] - shift) @ turn,
        faces=_faces(kept, number),
        turn=turn,
        shift=shift,
        noise_mm=float(np.median(within)) if within.size else 0.0,
        measured=float(kept[:, upper].mean()),
        foreign=patches,
    )


def _faces(kept: NDArray[np.bool_], number: NDArray[np.int64]) -> NDArray[np.int32]:
    """Return two triangles for each square of four measured cells, one for three."""
    corners = [(slice(None, -1), slice(None, -1)), (slice(1, None), slice(None, -1))]
    corners += [(slice(1, None), slice(1, None)), (slice(None, -1), slice(1, None))]
    held = [kept[c] for c in corners]
    named = [number[c] for c in corners]
    count = sum(h.astype(int) for h in held)
    faces = []
    for k in range(4):
        a, b, c = ((k + j) % 4 for j in range(3))
        whole = (count == 4) & (k % 2 == 0)
        three = (count == 3) & held[a] & held[b] & held[c]
        use = whole | three
        faces.append(np.stack([named[a][use], named[b][use], named[c][use]], axis=1))
    return np.concatenate(faces).astype(np.int32)


def smoothed(radius: FloatArray, there: NDArray[np.bool_]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Fit a quadratic surface about every measured cell of a grid.

    Parameters
    ----------
    radius : (k, j) float, any unit
    there : (k, j) which cells were measured

    Returns
    -------
    (k, j) float, fitted, the given value where none could be; (k, j) bool, where one could
    """
    w = np.arange(-_HALF_WINDOW, _HALF_WINDOW + 1) / (_HALF_WINDOW + 1.0)
    u, v = np.meshgrid(w, w, indexing="ij")
    weight = (1.0 - u**2) * (1.0 - v**2)
    basis = [np.ones_like(u), u, v, u * u, u * v, v * v]
    mask = there.astype(float)
    # About the grid's own median: sums of squares of large numbers would lose the last digits.
    middle = float(np.median(radius[there])) if there.any() else 0.0
    values = np.where(there, radius - middle, 0.0)

    def near(kernel: FloatArray, field: FloatArray) -> FloatArray:
        return convolve(field, kernel[::-1, ::-1], mode="constant")

    matrix = np.zeros((*radius.shape, 6, 6))
    right = np.zeros((*radius.shape, 6))
    for a in range(6):
        right[..., a] = near(weight * basis[a], values)
        for b in range(a, 6):
            matrix[..., a, b] = matrix[..., b, a] = near(weight * basis[a] * basis[b], mask)
    n = near(np.ones_like(weight), mask)
    kept = there & (n >= _FEWEST)
    solution = np.linalg.solve(matrix[kept] + 1e-6 * np.eye(6), right[kept][..., None])[:, 0, 0]
    out = radius.copy()
    out[kept] = solution + middle
    return out, kept


def _strays(radius: FloatArray, there: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return cells (k, j) that stand off the middle of their neighbours."""
    padded = np.pad(np.where(there, radius, np.nan), 2, constant_values=np.nan)
    shape = radius.shape
    around = np.stack([padded[i : i + shape[0], j : j + shape[1]] for i in range(5) for j in range(5)])
    count = np.isfinite(around).sum(axis=0)
    order = np.sort(around, axis=0)  # NaN last
    middle = np.take_along_axis(order, np.maximum(count - 1, 0)[None] // 2, axis=0)[0]
    off = np.abs(radius - middle)
    # Where the flank falls away, neighbours differ by its slope.
    return there & ((count < 4) | (np.nan_to_num(off) > _STRAY_MM + 0.06 * radius))


def _foreign(grid: PolarGrid, there: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], tuple[ForeignPatch, ...]]:
    """Find patches where one side stands out from the other, with an edge: a hand, a strap, a rolled rug."""
    both = there & there[:, ::-1]
    over = np.where(both, grid.radius - grid.radius[:, ::-1], 0.0)
    out = np.zeros_like(there)
    patches = []
    if both.sum() < 100:
        return out, ()
    # A horse's own asymmetry changes slowly along it; so does a turn of the midline.
    slow = _slow(over, both)
    candidate = both & (over - slow > FOREIGN_MM) & (over > 0.6 * FOREIGN_MM)
    numbered, n = label(binary_opening(candidate, iterations=1))
    for k in range(1, n + 1):
        patch = numbered == k
        grown = binary_dilation(patch, iterations=2)
        ring = binary_dilation(patch, iterations=6) & ~binary_dilation(patch, iterations=3) & both
        edge = float(np.median(over[patch])) - float(np.median(over[ring])) if ring.any() else 0.0
        cells = float((grid.radius[patch] * TURN * STEP_MM).sum()) / 100.0
        if edge < FOREIGN_MM or cells < 4.0 or patch.sum() > 0.2 * both.sum():
            continue
        i, j = (float(np.median(axis)) for axis in np.nonzero(patch))
        out |= grown
        patches.append(
            ForeignPatch(
                x_mm=float(grid.x[round(i)]),
                phi=float(grid.phi[round(j)]),
                area_cm2=cells,
                height_mm=float(np.median((over - slow)[patch])),
            )
        )
    return out, tuple(patches)


def _slow(over: FloatArray, both: NDArray[np.bool_]) -> FloatArray:
    """Return the difference (k, j) of the two sides as it changes over some 300 mm, by running medians."""
    half = _EDGE_CELLS
    values = np.where(both, over, np.nan)
    rows, out = len(over), np.zeros_like(over)
    for i in range(rows):
        part = values[max(0, i - half) : i + half + 1]
        count = np.isfinite(part).sum(axis=0)
        order = np.sort(part, axis=0)
        middle = np.take_along_axis(order, np.maximum(count - 1, 0)[None] // 2, axis=0)[0]
        out[i] = np.where(count > 0, np.nan_to_num(middle), 0.0)
    return out
