"""A back as a closed block on a flat base, and the cavity that hollows it: for printing and milling."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import marks_along

STEP_MM = 4.0
"""Distance between the skin's vertices: chords over a radius of 30 mm then depart by 0.07 mm."""
GROOVE_MM = 0.8
"""Half width and depth of an engraved line [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockMesh:
    """A closed triangle mesh in the back frame, outward facing."""

    vertices: FloatArray
    """(n, 3) float, back frame [mm]."""
    faces: NDArray[np.int32]
    """(m, 3) int, anticlockwise from outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A back as a block: its skin on a grid, and the base it stands on."""

    mesh: BlockMesh
    skin: FloatArray
    """(n_s, n_u, 3) float, back frame, front to rear and off to near [mm]."""
    base_mm: float
    """Height of the flat base, back frame [mm]."""
    cut_at_widest: bool
    """Whether the measured back goes on below the widest place; there the block's sides drop straight."""


def back_block(estimated: EstimatedBack, *, base_below_mm: float = 20.0, step_mm: float = STEP_MM) -> Block:
    """Return a back as a block, as far as it was measured.

    Its sides drop plumb from where the measured back ends, or from its widest place if that is higher: a
    mill reaches all of it from above, and it stands flat.

    Parameters
    ----------
    estimated : EstimatedBack
    base_below_mm : how far the base lies below the lowest place of the skin [mm]
    step_mm : between vertices [mm]

    Raises
    ------
    InputProblemsError
        If stations lie too far apart for a block without a gap.
    """
    support = estimated.support
    first, last = float(support.s_mm[0]), float(support.s_mm[-1])
    s = np.linspace(first, last, max(4, int(np.ceil((last - first) / step_mm)) + 1))
    missing = [support.missing(float(at), 0.0) for at in s]
    reasons = [one.reason for one in missing if one is not None]
    if reasons:
        what = f"a solid would have a hole: {reasons[0]}"
        raise input_problem(what, "Measure there, or make ribs or templates instead.")
    left, right, cut = _reach(estimated, s)
    n_u = max(8, int(np.ceil((left - right).max() * float(estimated.surface.radius_mm.mean()) / step_mm)) + 1)
    skin = _skin(estimated, s, left, right, n_u)
    base = float(skin[..., 2].min()) - base_below_mm
    return Block(mesh=prism(skin, base), skin=skin, base_mm=base, cut_at_widest=cut)


def _reach(estimated: EstimatedBack, s: FloatArray) -> tuple[FloatArray, FloatArray, bool]:
    """Return the angles (n,) [rad] to which the block's skin goes left and right at places s (n,) [mm]."""
    left, right = estimated.support.reach(s)
    share = np.linspace(0.0, 1.0, 90)
    ends, cut = [], False
    for end in (left, right):
        phi = end[:, None] * share
        radius = estimated.surface.spline.radius(np.repeat(s, len(share)), phi.ravel())[:, 0]
        out = np.abs(radius.reshape(phi.shape) * np.sin(phi))
        widest = np.argmax(out, axis=1)
        cut = cut or bool(np.any(widest < len(share) - 1))
        ends.append(phi[np.arange(len(s)), widest])
    return ends[0], ends[1], cut


def _skin(
    estimated: EstimatedBack, s: FloatArray, left: FloatArray, right: FloatArray, n_u: int
) -> FloatArray:
    half = n_u // 2
    share = np.linspace(0.0, 1.0, half + 1)
    phi = np.concatenate([right[:, None] * share[::-1][None, :-1], left[:, None] * share[None, :]], axis=1)
    s_all = np.broadcast_to(s[:, None], phi.shape)
    radius = estimated.surface.spline.radius(s_all.ravel(), phi.ravel())[:, 0]
    grid = estimated.surface.grid.cartesian(s_all.ravel(), phi.ravel(), radius).reshape(*phi.shape, 3)
    # y rises from off to near; where a side is all but plumb, rounding must not fold the skin.
    grid[..., 1] = _rising(grid[..., 1])
    return grid


def _rising(y_mm: FloatArray) -> FloatArray:
    least = y_mm + 1e-4 * np.arange(y_mm.shape[1])
    return np.asarray(np.maximum.accumulate(least, axis=1) - 1e-4 * np.arange(y_mm.shape[1])) + 1e-5 * (
        np.arange(y_mm.shape[1]) - y_mm.shape[1] // 2
    )


def prism(skin: FloatArray, base_mm: float) -> BlockMesh:
    """Return the closed mesh between a skin and a flat base straight below it.

    Parameters
    ----------
    skin : (n_s, n_u, 3) float, back frame, x falling along the first axis and y rising along the second [mm]
    base_mm : height of the base, back frame [mm]
    """
    rows, columns, _ = skin.shape
    floor = skin.copy()
    floor[..., 2] = base_mm
    vertices = np.concatenate([skin.reshape(-1, 3), floor.reshape(-1, 3)])
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    upper = _quads(a, d, c, b)
    n = rows * columns
    lower = _quads(a + n, b + n, c + n, d + n)
    loop = np.concatenate([number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0]])
    after = np.roll(loop, -1)
    walls = _quads(loop, loop + n, after + n, after)
    mesh = BlockMesh(vertices=vertices, faces=np.concatenate([upper, lower, walls]).astype(np.int32))
    return _outward(mesh)


def _quads(
    a: NDArray[np.intp], b: NDArray[np.intp], c: NDArray[np.intp], d: NDArray[np.intp]
) -> NDArray[np.intp]:
    corners = [one.ravel() for one in (a, b, c, d)]
    return np.concatenate(
        [
            np.stack([corners[0], corners[1], corners[2]], axis=1),
            np.stack([corners[0], corners[2], corners[3]], axis=1),
        ]
    )


def volume_mm3(mesh: BlockMesh) -> float:
    """Return the signed volume of a closed mesh [mm³]; positive when its faces look outward."""
    corners = mesh.vertices[mesh.faces]
    return float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6.0)


def _outward(mesh: BlockMesh) -> BlockMesh:
    if volume_mm3(mesh) >= 0.0:
        return mesh
    return BlockMesh(vertices=mesh.vertices, faces=np.ascontiguousarray(mesh.faces[:, ::-1]))


def cavity(block: Block, estimated: EstimatedBack, wall_mm: float) -> BlockMesh:
    """Return what is to be taken out of a block so that a wall of about one thickness is left, open below.

    To first order the inner skin lies `wall·√(1 + R_s² + (R_φ/R)²)` further in along the radius, which is
    one thickness along the normal.

    Parameters
    ----------
    block : Block
    estimated : EstimatedBack
        Of the same back.
    wall_mm : thickness [mm]
    """
    skin = block.skin
    within = np.linspace(-float(skin[0, 0, 0]) + wall_mm, -float(skin[-1, 0, 0]) - wall_mm, len(skin))
    left, right, _ = _reach(estimated, within)
    n_u = skin.shape[1]
    half = n_u // 2
    share = np.linspace(0.0, 1.0, half + 1)
    radius_mean = float(estimated.surface.radius_mm.mean())
    inset = wall_mm / radius_mean
    phi = np.concatenate(
        [
            np.minimum(right + inset, -inset)[:, None] * share[::-1][None, :-1],
            np.maximum(left - inset, inset)[:, None] * share[None, :],
        ],
        axis=1,
    )
    s_all = np.broadcast_to(within[:, None], phi.shape)
    radius, slope_s, slope_phi = estimated.surface.spline.radius(s_all.ravel(), phi.ravel())[:, :3].T
    inner = radius - wall_mm * np.sqrt(1.0 + slope_s**2 + (slope_phi / radius) ** 2)
    points = estimated.surface.grid.cartesian(s_all.ravel(), phi.ravel(), inner).reshape(*phi.shape, 3)
    points[..., 1] = _rising(points[..., 1])
    outer = np.stack([skin[:, 0, 1], skin[:, -1, 1]], axis=1)
    at = -skin[:, 0, 0]
    lowest = np.interp(within, at, outer[:, 0]) + wall_mm
    highest = np.interp(within, at, outer[:, 1]) - wall_mm
    points[..., 1] = _rising(np.clip(points[..., 1], lowest[:, None], highest[:, None]))
    return prism(points, block.base_mm - 5.0)


def groove_lines(
    estimated: EstimatedBack, block: Block, stations_mm: tuple[float, ...]
) -> tuple[FloatArray, ...]:
    """Return the lines to engrave: the midline, every station, and the marks on the topline.

    Each is (n, 3) float, back frame [mm]; the marks are short double lines across the midline.
    """
    at = -block.skin[:, 0, 0]
    half = block.skin.shape[1] // 2
    lines = [block.skin[2:-2, half]]
    lines += [_across(block, at, s)[2:-2] for s in stations_mm if at[0] + 4.0 < s < at[-1] - 4.0]
    for _, s in marks_along(estimated):
        for beside in (-1.5, 1.5):
            if at[0] + 6.0 < s + beside < at[-1] - 6.0:
                row = _across(block, at, s + beside)
                lines.append(row[np.abs(row[:, 1]) <= 30.0])
    return tuple(line for line in lines if len(line) >= 2)


def _across(block: Block, at: FloatArray, s_mm: float) -> FloatArray:
    after = int(np.clip(np.searchsorted(at, s_mm), 1, len(at) - 1))
    share = (s_mm - at[after - 1]) / (at[after] - at[after - 1])
    return np.asarray((1.0 - share) * block.skin[after - 1] + share * block.skin[after])


def groove(line: FloatArray, normal: FloatArray, half_mm: float = GROOVE_MM) -> BlockMesh:
    """Return a square bar along a line on the skin, to be taken away as a groove.

    Parameters
    ----------
    line : (n, 3) float, back frame [mm]
    normal : (n, 3) float, back frame, outward [1]
    half_mm : half its width, and its depth [mm]
    """
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    side = np.cross(along, normal)
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    up = np.cross(side, along)
    corners = np.stack(
        [line + half_mm * (a * side + b * up) for a, b in ((-1, -1), (1, -1), (1, 2), (-1, 2))], axis=1
    )
    n = len(line)
    number = np.arange(4 * n).reshape(n, 4)
    after = np.roll(number, -1, axis=1)
    walls = _quads(number[:-1], after[:-1], after[1:], number[1:])
    caps = np.array([[0, 2, 1], [0, 3, 2]]), number[-1, 0] + np.array([[0, 1, 2], [0, 2, 3]])
    return _outward(
        BlockMesh(vertices=corners.reshape(-1, 3), faces=np.concatenate([walls, *caps]).astype(np.int32))
    )


def skin_normals(block: Block, line: FloatArray) -> FloatArray:
    """Return outward unit normals (n, 3), back frame, of the skin's vertices nearest to a line.

    `line` : (n, 3) float, back frame [mm]
    """
    skin = block.skin
    across = np.cross(np.gradient(skin, axis=0), np.gradient(skin, axis=1))
    across /= np.linalg.norm(across, axis=2, keepdims=True)
    across[across[..., 2] < 0.0] *= -1.0
    rows = np.clip(np.searchsorted(-skin[:, 0, 0], -line[:, 0]), 0, len(skin) - 1)
    columns = [int(np.argmin(np.abs(skin[i, :, 1] - y))) for i, y in zip(rows, line[:, 1], strict=True)]
    return np.asarray(across[rows, columns])
