"""A scan and its marks file, read into one `ScanOfBack` in mm, or refused with everything that is wrong."""

from pathlib import Path

import numpy as np

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.landmarks import NOT_MARKED, SPINE_STRIP_SD_MM, Mark
from saddlebench.engine.back.scan import SUGGESTIBLE, ScanMark, ScanOfBack
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.exchange.scans.marks import Direction, MarksFile, axis_vector, read_marks, unit_mm
from saddlebench.exchange.scans.mesh import HalfSpace, read_mesh
from saddlebench.exchange.scans.smooth import skin_over
from saddlebench.exchange.scans.sniff import sniff

_FIELDS = {
    "shoulder": ScanMark.SHOULDER,
    "withers": ScanMark.WITHERS,
    "lowest": ScanMark.LOWEST,
    "last_rib": ScanMark.LAST_RIB,
    "shoulder_edge_near": ScanMark.SHOULDER_NEAR,
    "shoulder_edge_off": ScanMark.SHOULDER_OFF,
    "girth_groove": ScanMark.GIRTH_GROOVE,
}
_KEPT_ALONG, _KEPT_BELOW = 0.7, 0.9
"""A very large mesh is kept so far beyond the marks, in lengths from shoulder mark to last-rib mark."""


def read_scan(path: Path, marks_path: Path) -> ScanOfBack:
    """Read a mesh and its marks.

    Parameters
    ----------
    path : a mesh (PLY, OBJ, STL, OFF, glTF) or a cloud of points (PLY, XYZ, LAS)
    marks_path : its marks file (TOML)

    Raises
    ------
    InputProblemsError
        With everything that is wrong with either file.
    """
    try:
        marks = read_marks(marks_path)
    except InputProblemsError as error:
        raise InputProblemsError([*error.problems, *sniff(path).problems]) from error
    points = {
        mark: np.array(point)
        for name, mark in _FIELDS.items()
        if (point := getattr(marks.marks, name)) is not None and point != "suggest"
    }
    up, forward = _directions(marks, marks_path, points[ScanMark.SHOULDER])
    mm_per_unit, scale_sd = _scale(marks, marks_path, up)
    keep = _neighbourhood(points, up, forward)
    mesh = read_mesh(path, near=list(points.values()), keep=keep, clouds=True)
    smooth = skin_over(
        path.name, mesh, mm_per_unit, {m: p * mm_per_unit for m, p in points.items()}, up, forward
    )
    return ScanOfBack(
        name=path.name,
        vertices_instrument=read_only(smooth.vertices_mm),
        faces=smooth.faces,
        up=read_only(up),
        forward=read_only(forward),
        marks={mark: read_only(point * mm_per_unit) for mark, point in points.items()},
        suggest=frozenset(
            mark for mark in SUGGESTIBLE if getattr(marks.marks, mark.name.lower()) == "suggest"
        ),
        proposed=frozenset(_FIELDS[name] for name in marks.proposed),
        spine_strip_width_mm=(
            NOT_MARKED
            if marks.spine_strip_width_mm is None
            else Mark(marks.spine_strip_width_mm, SPINE_STRIP_SD_MM)
        ),
        instrument=Scan(
            name=marks.label or path.name,
            point_sd_mm=max(marks.errors.point_sd_mm, smooth.noise_mm),
            registration_sd_mm=marks.errors.registration_sd_mm,
            registration_sd_deg=marks.errors.registration_sd_deg,
            scale_sd=float(np.hypot(marks.errors.scale_percent / 100.0, scale_sd)),
        ),
        remarks=(*mesh.remarks, *smooth.remarks),
    )


def _directions(marks: MarksFile, path: Path, above: FloatArray) -> tuple[FloatArray, FloatArray]:
    if marks.up.ground is not None:
        a, b, c = (np.array(point) for point in marks.up.ground)
        normal = np.cross(b - a, c - a)
        up = normal if float(normal @ (above - a)) >= 0.0 else -normal
        # Three points in one line, within a hundredth of their spread, say nothing about what is level.
        flat = float(np.linalg.norm(b - a) * np.linalg.norm(c - a)) * 0.01
    else:
        up, flat = _stated(marks.up), 0.0
    head = _stated(marks.head)
    problems = []
    if not float(np.linalg.norm(up)) > flat:
        problems.append(
            ("up", "the three ground points lie in one line" if flat else "the direction is zero")
        )
    if not float(np.linalg.norm(head)) > 0.0:
        problems.append(("head", "the direction is zero"))
    if problems:
        raise InputProblemsError(
            [
                Problem(what=what, cure="State it again.", where=Where(file=path.name, field=field))
                for field, what in problems
            ]
        )
    up, head = up / np.linalg.norm(up), head / np.linalg.norm(head)
    if abs(float(up @ head)) > 0.87:
        raise input_problem(
            "the head lies straight above or below by what is stated",
            "State which way is up and where the head is as two different directions.",
            Where(file=path.name, field="head"),
        )
    return up, head


def _stated(direction: Direction) -> FloatArray:
    if direction.axis is not None:
        return np.array(axis_vector(direction.axis))
    return np.zeros(3) if direction.vector is None else np.array(direction.vector)


def _scale(marks: MarksFile, path: Path, up: FloatArray) -> tuple[float, float]:
    """Return mm in one unit of the mesh, and its relative standard deviation."""
    stated = unit_mm(marks)
    known = marks.known_length
    if known is None:
        return (1.0 if stated is None else stated), 0.0
    first, second = (np.array(marks.named_points[name]) for name in known.between)
    apart = second - first
    length = abs(float(apart @ up)) if known.measured == "upright" else float(np.linalg.norm(apart))
    if not length > 1e-9 * float(np.abs([first, second]).max()):
        raise input_problem(
            "the two points of the known length are at the same place",
            "Name two points that are far apart.",
            Where(file=path.name, field="known_length"),
        )
    return known.length_mm / length, known.sd_mm / known.length_mm


def _neighbourhood(
    points: dict[ScanMark, FloatArray], up: FloatArray, forward: FloatArray
) -> list[HalfSpace]:
    """Return half-spaces around the back, wide enough for a heading that is 20° wrong."""
    level = forward - up * float(forward @ up)
    level /= np.linalg.norm(level)
    shoulder, last_rib = points[ScanMark.SHOULDER], points[ScanMark.LAST_RIB]
    length = float(np.linalg.norm(shoulder - last_rib))
    ahead = [float(shoulder @ level), float(last_rib @ level)]
    lowest = min(float(shoulder @ up), float(last_rib @ up))
    walls = (
        (level, max(ahead) + _KEPT_ALONG * length),
        (-level, -min(ahead) + _KEPT_ALONG * length),
        (-up, -lowest + _KEPT_BELOW * length),
    )
    return [(float(n[0]), float(n[1]), float(n[2]), limit) for n, limit in walls]
