"""The solid of a back, by exact boolean operations: hollow it, engrave it, slice it, drill it for dowels."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product

import manifold3d
import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.block import (
    Block,
    BlockMesh,
    back_block,
    cavity,
    groove,
    groove_lines,
    skin_normals,
)
from saddlebench.engine.replica.curves import stations_of

BED_MARGIN_MM = 4.0
"""A piece is at least this much smaller than the bed in each direction [mm]."""
GRID_MM = 1.0 / 1024.0
"""Vertices are set to whole steps of this: the 32-bit numbers of STL and GLB hold them exactly up to 8 m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidChoices:
    """What the solid is made for."""

    bed_mm: tuple[float, float, float] | None = None
    """A printer's or mill's bed: along the back, across it, height [mm]; None: one piece."""
    wall_mm: float | None = 6.0
    """Thickness of the shell; None: solid throughout [mm]."""
    base_below_mm: float = 20.0
    """The flat base lies this far below the lowest measured place [mm]."""
    dowel_mm: float = 8.0
    """Diameter of the dowels [mm]."""
    dowel_play_mm: float = 0.3
    """A hole is this much wider [mm]."""
    dowel_depth_mm: float = 14.0
    """How deep each hole goes [mm]."""
    engrave: bool = True
    """Whether midline, stations and marks are engraved."""

    def problems(self) -> tuple[Problem, ...]:
        """Return what is wrong with the choices."""
        limits: dict[str, tuple[float | None, float, float]] = {
            "wall": (self.wall_mm, 1.0, 60.0),
            "base below": (self.base_below_mm, 5.0, 300.0),
            "dowel": (self.dowel_mm, 2.0, 30.0),
            "dowel play": (self.dowel_play_mm, 0.0, 2.0),
            "dowel depth": (self.dowel_depth_mm, 3.0, 60.0),
        }
        if self.bed_mm is not None:
            limits |= {
                f"bed, {name}": (size, 80.0, 5000.0)
                for name, size in zip(("along", "across", "height"), self.bed_mm, strict=True)
            }
        return tuple(
            Problem(
                what=f"is {value:g} mm; it must lie between {low:g} and {high:g} mm",
                cure="Choose another value.",
                where=Where(field=name),
            )
            for name, (value, low, high) in limits.items()
            if value is not None and not (np.isfinite(value) and low <= value <= high)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidPiece:
    """One piece: a closed mesh in the back frame."""

    name: str
    """“1”, or “2-1”: counted from the front, and from the near side."""
    vertices: FloatArray
    """(n, 3) float, back frame [mm]."""
    faces: NDArray[np.int32]
    """(m, 3) int, anticlockwise from outside."""

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Length, width and height of its box [mm]."""
        along, across, up = np.ptp(self.vertices, axis=0)
        return float(along), float(across), float(up)


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidReplica:
    """A back as one or more pieces that stand together on a flat base."""

    pieces: tuple[SolidPiece, ...]
    dowels: tuple[tuple[FloatArray, FloatArray], ...]
    """Both ends, (3,) float, back frame, of every dowel's hole [mm]."""
    base_mm: float
    volume_mm3: float
    problems: tuple[Problem, ...] = field(default=())


def solid_replica(
    estimated: EstimatedBack,
    choices: SolidChoices | None = None,
    *,
    told: Callable[[int, int, str], None] = lambda _done, _of, _doing: None,
) -> SolidReplica:
    """Return the solid of a back.

    Raises
    ------
    InputProblemsError
        If a choice is out of range, the back has a part that was not measured, or is higher than the bed.
    """
    choices = choices or SolidChoices()
    problems = choices.problems()
    if problems:
        raise InputProblemsError(problems)
    told(0, 4, "block")
    block = back_block(estimated, base_below_mm=choices.base_below_mm)
    cuts_x, cuts_y = cut_planes(block, choices)
    told(1, 4, "hollowing")
    body = solid_of(block.mesh)
    body = body - _hollow(block, estimated, choices, cuts_x, cuts_y)
    told(2, 4, "engraving")
    if choices.engrave:
        body = body - _grooves(block, estimated)
    told(3, 4, "slicing")
    dowels = tuple(_dowels(block, choices, cuts_x, cuts_y))
    for start, end in dowels:
        body = body - _rod(start, end, 0.5 * (choices.dowel_mm + choices.dowel_play_mm))
    pieces = tuple(_sliced(body, block, cuts_x, cuts_y))
    told(4, 4, "done")
    return SolidReplica(
        pieces=pieces,
        dowels=dowels,
        base_mm=block.base_mm,
        volume_mm3=float(body.volume()),
        problems=tuple(_said(block)),
    )


def _said(block: Block) -> Sequence[Problem]:
    if not block.cut_at_widest:
        return ()
    what = "the measured back goes on below its widest place; there the solid's sides drop straight"
    return (Problem(what=what, cure="Use ribs or templates if that part matters.", weight=Weight.WARNING),)


def solid_of(mesh: BlockMesh) -> manifold3d.Manifold:
    """Return a mesh as a solid for boolean operations.

    Raises
    ------
    ValueError
        If the mesh is not closed.
    """
    made = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(mesh.vertices, dtype=np.float64),
            tri_verts=np.ascontiguousarray(mesh.faces, dtype=np.uint64),
        )
    )
    if made.status() != manifold3d.Error.NoError or made.is_empty():
        msg = f"the mesh is no solid: {made.status()}"
        raise ValueError(msg)
    return made


def cut_planes(block: Block, choices: SolidChoices) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the cutting planes' x and y, the outer planes among them, rising [mm].

    Raises
    ------
    InputProblemsError
        If the block is higher than the bed.
    """
    low, high = block.mesh.vertices.min(axis=0), block.mesh.vertices.max(axis=0)
    if choices.bed_mm is None:
        return (float(low[0]), float(high[0])), (float(low[1]), float(high[1]))
    room = np.array(choices.bed_mm) - BED_MARGIN_MM
    height = float(high[2] - low[2])
    if height > room[2]:
        raise InputProblemsError(
            [
                Problem(
                    what=f"the solid is {height:.0f} mm high and the bed takes {room[2]:.0f} mm",
                    cure="Choose a base nearer to the back, a higher bed, or ribs.",
                    where=Where(field="bed, height"),
                )
            ]
        )
    planes = []
    for axis in (0, 1):
        count = max(1, int(np.ceil((high[axis] - low[axis]) / room[axis])))
        planes.append(tuple(float(v) for v in np.linspace(low[axis], high[axis], count + 1)))
    return planes[0], planes[1]


def _hollow(
    block: Block,
    estimated: EstimatedBack,
    choices: SolidChoices,
    cuts_x: Sequence[float],
    cuts_y: Sequence[float],
) -> manifold3d.Manifold:
    """Return what is taken out: the cavity, but for a web on both sides of every cut, where dowels hold."""
    if choices.wall_mm is None:
        return manifold3d.Manifold()
    taken = solid_of(cavity(block, estimated, choices.wall_mm))
    web = choices.dowel_depth_mm + 3.0
    low, high = block.mesh.vertices.min(axis=0) - 10.0, block.mesh.vertices.max(axis=0) + 10.0
    for axis, cuts in ((0, cuts_x), (1, cuts_y)):
        for at in cuts[1:-1]:
            start, end = low.copy(), high.copy()
            start[axis], end[axis] = at - web, at + web
            taken = taken - _box(start, end)
    return taken


def _box(low: FloatArray, high: FloatArray) -> manifold3d.Manifold:
    """Return a box between two corners (3,) float, back frame [mm]."""
    size = [float(v) for v in high - low]
    return manifold3d.Manifold.cube(size).translate([float(v) for v in low])


def _grooves(block: Block, estimated: EstimatedBack) -> manifold3d.Manifold:
    lines = groove_lines(estimated, block, stations_of(estimated))
    bars = [solid_of(groove(line, skin_normals(block, line))) for line in lines]
    return manifold3d.Manifold.batch_boolean(bars, manifold3d.OpType.Add)


def _dowels(
    block: Block, choices: SolidChoices, cuts_x: Sequence[float], cuts_y: Sequence[float]
) -> Sequence[tuple[FloatArray, FloatArray]]:
    """Return the holes across every cut, two to each face between two pieces where there is room."""
    found: list[tuple[FloatArray, FloatArray]] = []
    along, across = choices.dowel_depth_mm * np.eye(3)[:2]
    for at in cuts_x[1:-1]:
        for a, b in pairwise(cuts_y):
            for y in (a + 0.28 * (b - a), a + 0.72 * (b - a)):
                height = _dowel_height(block, choices, at, y)
                if height is not None:
                    middle = np.array([at, y, height])
                    found.append((middle - along, middle + along))
    for at in cuts_y[1:-1]:
        for a, b in pairwise(cuts_x):
            for x in (a + 0.28 * (b - a), a + 0.72 * (b - a)):
                height = _dowel_height(block, choices, x, at)
                if height is not None:
                    middle = np.array([x, at, height])
                    found.append((middle - across, middle + across))
    return found


def _dowel_height(block: Block, choices: SolidChoices, x: float, y: float) -> float | None:
    """Return how high a dowel lies at a place: a third up, clear of skin and base; None without room [mm]."""
    row = int(np.argmin(np.abs(block.skin[:, 0, 0] - x)))
    across = block.skin[row]
    reach = choices.dowel_mm + choices.dowel_depth_mm
    if not across[0, 1] + reach < y < across[-1, 1] - reach:
        return None
    top = float(np.interp([y - choices.dowel_mm, y, y + choices.dowel_mm], across[:, 1], across[:, 2]).min())
    room = top - block.base_mm
    return None if room < 3.0 * choices.dowel_mm else block.base_mm + max(0.33 * room, 1.2 * choices.dowel_mm)


def _rod(start: FloatArray, end: FloatArray, radius_mm: float) -> manifold3d.Manifold:
    """Return a cylinder between two points (3,) float, back frame, along x or y [mm]."""
    length = float(np.linalg.norm(end - start))
    rod = manifold3d.Manifold.cylinder(length, radius_mm, radius_mm, 48)
    turned = rod.rotate([0.0, 90.0, 0.0]) if abs(end[0] - start[0]) > 0.0 else rod.rotate([-90.0, 0.0, 0.0])
    return turned.translate([float(v) for v in start])


def _sliced(
    body: manifold3d.Manifold, block: Block, cuts_x: Sequence[float], cuts_y: Sequence[float]
) -> Sequence[SolidPiece]:
    spans_x, spans_y = list(pairwise(cuts_x))[::-1], list(pairwise(cuts_y))[::-1]
    low, high = block.mesh.vertices[:, 2].min() - 10.0, block.mesh.vertices[:, 2].max() + 10.0
    pieces = []
    single = len(spans_x) * len(spans_y) == 1
    for (i, span_x), (j, span_y) in product(enumerate(spans_x, start=1), enumerate(spans_y, start=1)):
        held = body
        if not single:
            # A little room outside the outer planes, so that rounding leaves no sliver there.
            start = np.array([_out(span_x[0], cuts_x, -1.0), _out(span_y[0], cuts_y, -1.0), low])
            end = np.array([_out(span_x[1], cuts_x, 1.0), _out(span_y[1], cuts_y, 1.0), high])
            held = body ^ _box(start, end)
        if held.is_empty():
            continue
        mesh = held.to_mesh64()
        vertices, faces = _on_grid(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
        pieces.append(SolidPiece(name="whole" if single else f"{i}-{j}", vertices=vertices, faces=faces))
    return pieces


def _on_grid(vertices: FloatArray, faces: NDArray[np.integer]) -> tuple[FloatArray, NDArray[np.int32]]:
    """Return a closed mesh, vertices (n, 3) float, back frame [mm], on the grid, without faces lost to it.

    Edges shorter than the grid close up here, both their triangles together, so that no format's rounding
    tears the mesh open later.
    """
    steps, number = np.unique(np.rint(vertices / GRID_MM).astype(np.int64), axis=0, return_inverse=True)
    kept = number.reshape(-1)[faces.astype(np.int64)]
    kept = kept[(kept[:, 0] != kept[:, 1]) & (kept[:, 1] != kept[:, 2]) & (kept[:, 2] != kept[:, 0])]
    # Two triangles that have come to lie on each other, back to back, cancel.
    _, same, count = np.unique(np.sort(kept, axis=1), axis=0, return_inverse=True, return_counts=True)
    kept = kept[count[same.reshape(-1)] % 2 == 1]
    used, renumbered = np.unique(kept, return_inverse=True)
    return steps[used] * GRID_MM, renumbered.reshape(-1, 3).astype(np.int32)


def _out(at: float, cuts: Sequence[float], side: float) -> float:
    return at + side if at in (cuts[0], cuts[-1]) else at
