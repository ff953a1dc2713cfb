"""Several files that each show a part of one horse: read one by one, merged into one cloud."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.joined import JoinedPieces, modes_of
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.merge import MOST_PIECES, Merged, Piece, merge, merged_place
from saddlebench.engine.scan.sample import cube_keys, even_points
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.mesh import read_mesh

Tell = Callable[[int, int, str], None]
"""Called with what is done, of how much, and what is being done."""

_POINTS = 600_000
_SEED = 20
_EXTENT_MM = (200.0, 60_000.0)
"""The least and most that a piece of a horse with its surroundings measures."""
_CELL_MM = 70.0
_NOTED_MM = 2.5
"""Root mean square of what a rigid move leaves, above which it is said (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanPiece:
    """One file of several, and what a person states of it."""

    path: Path
    unit: Length
    up: FloatArray | None = None
    """(3,) float, the file's own axes [1], where it shows no ground."""
    common: tuple[FloatArray, ...] = ()
    """(3,) float each, the file's own axes and unit: places marked on every piece, in one order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPiece:
    """How one file lies on the others."""

    name: str
    unit: Length
    up: tuple[float, ...]
    """Empty where nobody stated it."""
    common: tuple[tuple[float, ...], ...]
    n_points: int
    """Vertices in the file."""
    overlap: float
    """Share of its surface of the trunk that another piece shows, too."""
    apart_mm: float
    """Root mean square of what no turn or shift explains, beyond the scatter of the points."""
    sure_mm: float
    """Standard deviation of where it was laid, where that is worst; zero for the first, which stayed."""
    said: str
    """All that in a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MergedScan:
    """Several files as one cloud, in the first one's axes and unit."""

    name: str
    points: FloatArray
    """(n, 3) float, instrument frame of the first file, its unit, about even over each piece."""
    piece: NDArray[np.int8]
    """(n,) which file each point is of, from 0."""
    laid: tuple[LaidPiece, ...]
    merged: Merged
    mm_per_unit: float
    remarks: tuple[Problem, ...]

    def joined(self, near_mm: FloatArray, within_mm: float) -> JoinedPieces:
        """Return the errors of the joining round a point (3,), instrument frame [mm]."""
        points = self.points * self.mm_per_unit
        close = np.linalg.norm(points - near_mm, axis=1) < within_mm
        return _joined(self.merged, points[close], self.piece[close])


def read_pieces(pieces: Sequence[ScanPiece], tell: Tell | None = None) -> MergedScan:
    """Read files of partial scans, each in a process of its own, and merge them.

    Parameters
    ----------
    pieces : two to six; axes and unit of the first are kept
    tell : called before each file is read, and while they are laid on each other

    Raises
    ------
    InputProblemsError
        With what is wrong with any file; or why the pieces do not go together.
    """
    _refuse_impossible(pieces)
    told = tell or _quiet
    of = 2 * len(pieces)
    held: list[Piece] = []
    counts: list[int] = []
    remarks: list[Problem] = []
    problems: list[Problem] = []
    for k, piece in enumerate(pieces):
        told(k, of, f"reading {piece.path.name}")
        try:
            points, n, noted = _points_mm(piece)
        except InputProblemsError as error:
            problems += error.problems
            continue
        counts.append(n)
        remarks += noted
        common = np.array(piece.common) * piece.unit.in_mm if piece.common else None
        held.append(Piece(name=piece.path.name, points=points, up=piece.up, common=common))
    if problems:
        raise InputProblemsError(problems)
    told(len(pieces), of, f"laying {len(pieces)} pieces on each other")
    merged = merge(held, lambda done, _, doing: told(len(pieces) + done - 1, of, doing))
    unit = pieces[0].unit.in_mm
    laid = tuple(_laid(merged, k, piece, counts[k]) for k, piece in enumerate(pieces))
    return MergedScan(
        name=" + ".join(merged.names),
        points=np.concatenate([m.points(p.points) for m, p in zip(merged.moves, held, strict=True)]) / unit,
        piece=np.concatenate([np.full(len(p.points), k, dtype=np.int8) for k, p in enumerate(held)]),
        laid=laid,
        merged=merged,
        mm_per_unit=unit,
        remarks=(*remarks, *_noted(merged, laid)),
    )


def _quiet(done: int, of: int, doing: str) -> None:
    del done, of, doing


def _refuse_impossible(pieces: Sequence[ScanPiece]) -> None:
    if not 2 <= len(pieces) <= MOST_PIECES:
        what = f"{len(pieces)} files are given as pieces of one scan"
        raise input_problem(what, f"Give two to {MOST_PIECES}.", Where())
    names = [piece.path.name for piece in pieces]
    problems = [
        Problem(
            what="two pieces have the same name",
            cure="Name each file differently: what is said of a piece is said by its name.",
            where=Where(file=name),
        )
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    counted = {len(piece.common) for piece in pieces}
    if counted != {0} and (len(counted) > 1 or min(counted) < 3):
        problems.append(
            Problem(
                what="common points are not marked alike on every piece",
                cure="Mark the same three or more places on each of them, in the same order; or on none.",
                where=Where(file=names[0]),
            )
        )
    if problems:
        raise InputProblemsError(problems)


def _points_mm(piece: ScanPiece) -> tuple[FloatArray, int, tuple[Problem, ...]]:
    mesh = read_mesh(piece.path, clouds=True)
    points = even_points(mesh.vertices, mesh.faces, _POINTS, np.random.default_rng(_SEED)) * piece.unit.in_mm
    extent = float(np.ptp(points, axis=0).max())
    if not _EXTENT_MM[0] <= extent <= _EXTENT_MM[1]:
        what = f"in {piece.unit} what it shows would be {extent / 1000.0:,.4g} m long"
        raise input_problem(
            what,
            "Check the unit of this file; each piece may have its own.",
            Where(file=piece.path.name),
        )
    return points, len(mesh.vertices), mesh.remarks


def _laid(merged: Merged, k: int, piece: ScanPiece, n_points: int) -> LaidPiece:
    one = merged.overlap[k]
    name = merged.names[k]
    laid = "it stays where it is" if k == 0 else f"it is laid to within {one.unsure_mm:.1f} mm"
    said = (
        f"{name}: {laid}; another piece shows {100.0 * one.share:.0f} % of its trunk, too, and lies "
        f"{one.apart_mm:.1f} mm off there, beyond the roughness of the scans"
    )
    return LaidPiece(
        name=name,
        unit=piece.unit,
        up=() if piece.up is None else tuple(float(x) for x in piece.up),
        common=tuple(tuple(float(x) for x in point) for point in piece.common),
        n_points=n_points,
        overlap=one.share,
        apart_mm=one.apart_mm,
        sure_mm=one.unsure_mm,
        said=said,
    )


def _noted(merged: Merged, laid: Sequence[LaidPiece]) -> list[Problem]:
    said = [
        Problem(
            what=one.said.removeprefix(f"{one.name}: "),
            cure="Nothing to do: the back's own error holds what the laying may be off by.",
            where=Where(file=one.name),
            weight=Weight.WARNING,
        )
        for one in laid
    ]
    for name, one in zip(merged.names, merged.overlap, strict=True):
        if one.apart_mm > _NOTED_MM:
            what = (
                f"it and the other pieces lie {one.apart_mm:.1f} mm apart, most, {one.most_mm:.0f} mm, "
                f"{merged_place(merged, one.most_at)}: the horse may have moved between them"
            )
            cure = "Scan it again if that place matters; until then the surface is the less sure there."
            said.append(Problem(what=what, cure=cure, where=Where(file=name), weight=Weight.WARNING))
    return said


def _joined(merged: Merged, points: FloatArray, piece: NDArray[np.int8]) -> JoinedPieces:
    """Return shares of each piece over small cubes, with what lies apart there, and the laying's errors."""
    _, cube, count = np.unique(cube_keys(points, _CELL_MM), return_inverse=True, return_counts=True)
    places = np.stack([np.bincount(cube, points[:, i]) / count for i in range(3)], axis=1)
    seen = np.stack([np.bincount(cube, piece == k) for k in range(len(merged.names))], axis=1)
    shares = seen / seen.sum(axis=1, keepdims=True)
    covariance = _about_origin(merged.covariance, merged.about)
    return JoinedPieces(
        names=merged.names,
        modes=modes_of(covariance),
        places_mm=_rows(places, 1),
        shares=_rows(shares, 3),
        apart_mm=_rows(_apart_at(merged, places), 2),
    )


def _about_origin(covariance: FloatArray, about: FloatArray) -> FloatArray:
    """Turn a covariance of moves about a point, instrument frame [mm], into one of moves about the origin."""
    x, y, z = about
    block = np.eye(6)
    # A turn about `about` moves the origin by −ω × about, that is by [about]× ω.
    block[:3, 3:] = [[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]]
    whole = np.kron(np.eye(len(covariance) // 6), block)
    return whole @ covariance @ whole.T


def _apart_at(merged: Merged, places: FloatArray) -> FloatArray:
    """Return how far pieces lie apart at places (n, 3), instrument frame [mm]; 0 where only one looks."""
    known = merged.apart
    out = np.zeros_like(places)
    for k, place in enumerate(places):
        near = np.linalg.norm(known.places - place, axis=1)
        if len(near) and near.min() < 1.5 * _CELL_MM:
            weight = np.exp(-0.5 * np.square(near / _CELL_MM))
            out[k] = weight @ known.apart / weight.sum()
    return out


def _rows(values: FloatArray, digits: int) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(x) for x in row) for row in np.round(values, digits))
