"""The underside from a mesh of it, cut into sections.

The mesh is taken in the saddle frame, in a stated unit, the underside alone: seat, flaps and girth cut off. A
hole is bridged from the sections on both sides of it when they are near enough, as between any two sections.
"""

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.patch import PointCount
from saddlebench.engine.saddle.sections import UndersideSection, model_from_sections
from saddlebench.engine.units import Length

SPACING_MM = 12.0
_END_MM = 1.5
_HOLE_MM = 6.0
_LAYERS = 1.25
_LENGTH_RANGE_MM = (250.0, 800.0)
_NARROWEST = 0.4
IntArray = NDArray[np.integer]


def model_from_mesh(
    vertices_saddle: FloatArray,
    faces: IntArray,
    unit: Length,
    numbers: RigidNumbers,
    n_points: PointCount = 2000,
) -> SaddleModel | NotMeasured:
    """Return the model whose underside is a mesh.

    Parameters
    ----------
    vertices_saddle : (v, 3) float, saddle frame [the stated unit]
    faces : (f, 3) int, indices of vertices; their winding does not matter
    unit : the unit the vertices are in
    numbers : tree, channel (its width marks where the panels begin), fittings and fill
    n_points : about how many bearing points, both sides together

    Returns
    -------
    SaddleModel, or NotMeasured where holes leave too much open

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the mesh.
    """
    vertices = np.asarray(vertices_saddle, float) * unit.in_mm
    problems = mesh_problems(vertices, faces, unit)
    if problems:
        raise InputProblemsError(problems)
    sections, problems = mesh_sections(vertices, np.asarray(faces), numbers)
    if problems:
        raise InputProblemsError(problems)
    holes = tuple(i for i, section in enumerate(sections, start=1) if isinstance(section, NotMeasured))
    kept = [section for section in sections if not isinstance(section, NotMeasured)]
    if len(kept) < 4:
        return NotMeasured("the mesh of the underside has holes nearly everywhere", holes)
    return model_from_sections(kept, numbers, n_points)


def mesh_problems(vertices: FloatArray, faces: IntArray, unit: Length) -> tuple[Problem, ...]:
    """Return what is wrong with a mesh before it is cut; vertices (v, 3) float, saddle frame [mm]."""
    where = Where(field="mesh")
    if vertices.ndim != 2 or vertices.shape[-1] != 3 or not len(faces) or faces.shape[-1] != 3:
        return (
            Problem(
                what="the mesh of the underside has no triangles",
                cure="Export it again as a surface of triangles, not as loose points.",
                where=where,
            ),
        )
    if faces.min() < 0 or faces.max() >= len(vertices) or not np.isfinite(vertices).all():
        return (
            Problem(
                what="the mesh names corners that do not exist, or that lie nowhere",
                cure="The file is damaged: export it again.",
                where=where,
            ),
        )
    used = vertices[np.unique(faces)]
    length = float(np.ptp(used[:, 0]))
    low, high = _LENGTH_RANGE_MM
    problems = []
    if not low <= length <= high:
        problems.append(
            Problem(
                what=f"read in {unit.value}, the underside is {length:.0f} mm long, not {low:g} to {high:g}",
                cure="State the unit the mesh is in, and turn it so that x points to the horse's head.",
                where=where,
            )
        )
    elif used[:, 0].max() > 0.2 * length or used[:, 1].min() >= 0.0 or used[:, 1].max() <= 0.0:
        problems.append(
            Problem(
                what="the mesh does not lie in the saddle's own axes",
                cure="Put the origin in the middle of the saddle at the front edge of the panels: "
                "x to the head, y to the horse's left, z up.",
                where=where,
            )
        )
    return tuple(problems)


def mesh_sections(
    vertices: FloatArray, faces: IntArray, numbers: RigidNumbers
) -> tuple[list[UndersideSection | NotMeasured], tuple[Problem, ...]]:
    """Cut a mesh, (v, 3) float, saddle frame [mm], every 12 mm.

    Returns
    -------
    sections from front to rear (NotMeasured where a hole lies), and problems
    """
    used = vertices[np.unique(faces), 0]
    behind = np.linspace(-used.max() + _END_MM, -used.min() - _END_MM, int(np.ptp(used) / SPACING_MM) + 2)
    gap = model_from_numbers(numbers, 250).channel
    cuts: list[tuple[FloatArray | NotMeasured | Problem, ...]] = []
    for place in behind:
        segments = _crossings(vertices, faces, -place)
        half = (
            np.interp(place, -gap.x_mm, gap.half_width_left_mm),
            np.interp(place, -gap.x_mm, gap.half_width_right_mm),
        )
        cuts.append((_line(segments, LEFT, half[0], place), _line(segments, RIGHT, half[1], place)))
    problems = tuple(one for pair in cuts for one in pair if isinstance(one, Problem))
    if problems:
        return [], problems
    return _sections(behind, cuts), ()


def _sections(
    behind: FloatArray, cuts: list[tuple[FloatArray | NotMeasured | Problem, ...]]
) -> list[UndersideSection | NotMeasured]:
    widths = [np.ptp(one[:, 0]) for pair in cuts for one in pair if isinstance(one, np.ndarray)]
    least = _NARROWEST * float(np.median(widths)) if widths else 0.0
    out: list[UndersideSection | NotMeasured] = []
    for place, (left, right) in zip(behind, cuts, strict=True):
        if isinstance(left, np.ndarray) and isinstance(right, np.ndarray):
            if min(np.ptp(left[:, 0]), np.ptp(right[:, 0])) >= least:
                out.append(UndersideSection(behind_mm=float(place), left=left, right=right))
        else:
            out.append(NotMeasured(f"the mesh has a hole {place:.0f} mm behind the front edge"))
    return out


def _crossings(vertices: FloatArray, faces: IntArray, x: float) -> FloatArray:
    """Return where triangles cross the plane at `x`: (k, 2, 2) float, saddle frame, ends by y and z [mm]."""
    corner = vertices[faces]
    above = corner[:, :, 0] > x
    cut = above.any(axis=1) & ~above.all(axis=1)
    corner, above = corner[cut], above[cut]
    alone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    pick = np.arange(len(corner))
    apex = corner[pick, alone]
    ends = []
    for step in (1, 2):
        other = corner[pick, (alone + step) % 3]
        share = (x - apex[:, 0]) / (other[:, 0] - apex[:, 0])
        ends.append((apex + share[:, None] * (other - apex))[:, 1:])
    return np.stack(ends, axis=1).reshape(-1, 2, 2)


def _line(
    segments: FloatArray, side: int, half_channel: float, place: float
) -> FloatArray | NotMeasured | Problem:
    """Return one side's section, (k, 2) float, saddle frame [mm], from the channel's edge outwards."""
    outward = segments.copy()
    outward[:, :, 0] *= side
    flip = outward[:, 0, 0] > outward[:, 1, 0]
    outward[flip] = outward[flip][:, ::-1]
    outward = outward[outward[:, 1, 0] > half_channel]
    if not len(outward):
        return NotMeasured(f"nothing of the mesh lies {place:.0f} mm behind the front edge")
    outward = outward[np.argsort(outward[:, 0, 0])]
    reach = np.maximum.accumulate(outward[:, 1, 0])
    if np.any(outward[1:, 0, 0] - reach[:-1] > _HOLE_MM):
        return NotMeasured(f"the mesh has a hole {place:.0f} mm behind the front edge")
    covered = reach[-1] - outward[0, 0, 0]
    if (outward[:, 1, 0] - outward[:, 0, 0]).sum() > _LAYERS * covered + _HOLE_MM:
        return Problem(
            what=f"{place:.0f} mm behind the front edge the mesh has more than one layer",
            cure="Cut away all but the underside of the panels, then read it again.",
            where=Where(field="mesh", side="near" if side == LEFT else "off"),
        )
    ends = outward.reshape(-1, 2)
    _, first = np.unique(np.round(ends[:, 0], 3), return_index=True)
    line = ends[first]
    start = max(half_channel, line[0, 0])
    kept = np.vstack([[start, np.interp(start, line[:, 0], line[:, 1])], line[line[:, 0] > start + 1e-3]])
    return kept * np.array([side, 1.0]) if len(kept) >= 3 else NotMeasured("too few points")
