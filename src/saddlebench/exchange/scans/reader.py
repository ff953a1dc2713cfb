"""A scan and its marks file, read into one `ScanOfBack` in mm, or refused with everything that is wrong."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.joined import JoinedPieces
from saddlebench.engine.back.landmarks import NOT_MARKED, SPINE_STRIP_SD_MM, Mark
from saddlebench.engine.back.scan import SUGGESTIBLE, ScanMark, ScanOfBack
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.marks import (
    Direction,
    MarksFile,
    PieceStated,
    axis_vector,
    read_marks,
    unit_mm,
)
from saddlebench.exchange.scans.mesh import HalfSpace, Mesh, read_mesh
from saddlebench.exchange.scans.pieces import ScanPiece, Tell, read_pieces
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
_JOINED_WITHIN_MM = 1500.0
"""How far round the middle of the back the pieces of a scan are told apart."""
_KEPT_ALONG, _KEPT_BELOW = 0.7, 0.9
"""A very large mesh is kept so far beyond the marks, in lengths from shoulder mark to last-rib mark."""


def read_scan(
    path: Path, marks_path: Path, *, more: Sequence[Path] = (), tell: Tell | None = None
) -> ScanOfBack:
    """Read a mesh and its marks.

    Parameters
    ----------
    path : a mesh (PLY, OBJ, STL, OFF, glTF) or a cloud of points (PLY, XYZ, LAS)
    marks_path : its marks file (TOML)
    more : further files that show other parts of the same horse, merged with the first
    tell : told how far the reading and merging of several files is

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
    placed = {mark: point * mm_per_unit for mark, point in points.items()}
    unit = None if marks.unit is None else Length(marks.unit)
    about = Where(file=marks_path.name, field="pieces")
    several = several_pieces([path, *more], marks.pieces, unit, about)
    joined: JoinedPieces | None = None
    if several:
        scan = read_pieces(several, tell)
        size = mm_per_unit / scan.mm_per_unit
        middle = 0.5 * (points[ScanMark.SHOULDER] + points[ScanMark.LAST_RIB]) * scan.mm_per_unit
        joined = scan.joined(middle, _JOINED_WITHIN_MM / size).sized(size)
        no_faces = np.zeros((0, 3), dtype=np.int32)
        mesh = Mesh(vertices=scan.points, faces=no_faces, n_pieces=len(several), remarks=scan.remarks)
    else:
        keep = _neighbourhood(points, up, forward)
        mesh = read_mesh(path, near=list(points.values()), keep=keep, clouds=True)
    name = " + ".join(one.name for one in (path, *more))
    smooth = skin_over(name, mesh, mm_per_unit, placed, up, forward)
    return ScanOfBack(
        name=name,
        vertices_instrument=read_only(smooth.vertices_mm),
        faces=smooth.faces,
        up=read_only(up),
        forward=read_only(forward),
        marks={mark: read_only(point) for mark, point in placed.items()},
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
            name=marks.label or name,
            point_sd_mm=max(marks.errors.point_sd_mm, smooth.reading_sd_mm),
            registration_sd_mm=marks.errors.registration_sd_mm,
            registration_sd_deg=marks.errors.registration_sd_deg,
            scale_sd=float(np.hypot(marks.errors.scale_percent / 100.0, scale_sd)),
        ),
        remarks=(*mesh.remarks, *smooth.remarks),
        level_by=marks.level_by,
        joined=joined,
    )


def several_pieces(
    paths: Sequence[Path], stated: Sequence[PieceStated], unit: Length | None, where: Where
) -> list[ScanPiece]:
    """Return several files with what is stated of each, in the order given; none for one file.

    Parameters
    ----------
    paths : the files
    stated : what a marks file, or a file of pieces, says of each; or nothing
    unit : of the files of which nothing else is said
    where : what to call the place of these statements

    Raises
    ------
    InputProblemsError
        When other files are named than are given, or the unit of one is left open.
    """
    named, given = [piece.file for piece in stated], [path.name for path in paths]
    if len(paths) == 1 and len(named) < 2:
        return []
    if named and named != given:
        what = f"it states the files {', '.join(named)}, but given are {', '.join(given)}"
        cure = "Give the same files in the same order: marks are in the first one’s axes."
        raise input_problem(what, cure, where)
    known = dict(zip(named, stated, strict=True))
    pieces = []
    for path in paths:
        one = known.get(path.name)
        own = unit if one is None or one.unit is None else Length(one.unit)
        if own is None:
            what = f"the unit of {path.name} is not stated"
            cure = "Pieces are laid on each other in mm: state the unit of each, or one for all."
            raise input_problem(what, cure, where)
        up = None if one is None or one.up is None else np.array(one.up)
        common = () if one is None else tuple(np.array(point) for point in one.common)
        pieces.append(ScanPiece(path=path, unit=own, up=up, common=common))
    return pieces


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
