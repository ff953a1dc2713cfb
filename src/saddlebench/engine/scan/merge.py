"""Merge partial scans of one standing animal: each piece laid on the others, and how sure that is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.disagreement import Disagreement, LaidOverlap, compare, laid_together
from saddlebench.engine.scan.facing import Facing, facing
from saddlebench.engine.scan.rigid import AS_IT_LIES, Rigid, laid_by_points
from saddlebench.engine.scan.sample import thinned
from saddlebench.engine.scan.standing import Standing, find_standing
from saddlebench.engine.scan.starting import place_on

SEED = 20
MOST_PIECES = 6
LEAST_OVERLAP = 0.08
"""Share of a piece that must lie on the others."""
DOUBTFUL_OVERLAP = 0.2
"""Below it, pieces that lie apart may as well be laid wrongly: that the horse moved is not said."""
MOST_UNSURE_MM = 4.0
"""How far a piece may be off, one standard deviation, by what its overlap pins (assumption)."""
MOVED_MM = 4.0
"""Root mean square of what a rigid move leaves in the overlap, above which the horse moved: breath and a
shifted skin make 1–3 mm (assumption)."""
_SCENE, _DENSE = 24_000, 45_000
_BEYOND_TRUNK, _BELOW_AXIS = 0.9, 0.9
"""How far beyond the trunk's ends and below its axis pieces are compared, in half-widths."""
_FEWEST = 400

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One partial scan, in its own axes, in mm."""

    name: str
    points: FloatArray
    """(n, 3) float, instrument frame [mm], about even."""
    up: FloatArray | None = None
    """(3,) float, instrument frame, where a person stated it."""
    common: FloatArray | None = None
    """(k, 3) float, instrument frame [mm]: points that a person marked on every piece, in one order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """Pieces laid together, in the first piece's axes."""

    names: tuple[str, ...]
    moves: tuple[Rigid, ...]
    """From each piece's axes to the first piece's [mm]; the first is no move."""
    overlap: tuple[LaidOverlap, ...]
    """How each piece lies on the others."""
    about: FloatArray
    """(3,) float, instrument frame of the first piece [mm]: turns are about it."""
    covariance: FloatArray
    """(m, m) float, m = 6·(k − 1), instrument frame of the first piece: of shift [mm] and turn [rad] of the
    second piece, the third, …"""
    apart: Disagreement
    standing: Standing | None
    """The animal in what was merged, where one was found."""


def merge(pieces: Sequence[Piece], progress: Progress | None = None) -> Merged:
    """Lay pieces of a scan on each other.

    Each piece begins where three or more common points lay it, or where the heights above its ground agree
    best, seen from above; it is then laid on the others by its surface alone. Once the animal is found in
    what was laid together, only its trunk counts: head and legs move. What a rigid move leaves is compared
    with the scatter of the points.

    Parameters
    ----------
    pieces : two to six; the first one's axes are kept
    progress : told after each piece

    Raises
    ------
    InputProblemsError
        When pieces overlap too little, could lie on each other in two ways, or the horse moved.
    """
    if not 2 <= len(pieces) <= MOST_PIECES:
        raise _refused(
            pieces[0].name if pieces else "",
            f"{len(pieces)} pieces are given",
            f"Give two to {MOST_PIECES} pieces of one scan.",
        )
    rng = np.random.default_rng(SEED)
    sparse = [thinned(piece.points, _SCENE) for piece in pieces]
    for piece, some in zip(pieces, sparse, strict=True):
        if len(some) < _FEWEST:
            raise _refused(piece.name, f"the piece has only {len(some)} points", "Scan that part again.")
    moves = _begun(pieces, sparse, rng, progress or _quiet)
    scene = np.concatenate([move.points(some) for move, some in zip(moves, sparse, strict=True)])
    standing = find_standing(scene, rng, up=pieces[0].up)
    dense = _dense(pieces, moves, standing)
    whole = [facing(points) for points in dense]
    fitted, information = laid_together(whole, moves)
    found = compare(whole, fitted, information)
    merged = Merged(
        names=tuple(piece.name for piece in pieces),
        moves=tuple(fitted),
        overlap=found.overlap,
        about=information.about,
        covariance=found.covariance,
        apart=found.apart,
        standing=standing,
    )
    _refuse_what_does_not_fit(merged)
    return merged


def _quiet(done: int, of: int, doing: str) -> None:
    del done, of, doing


def _begun(
    pieces: Sequence[Piece], sparse: list[FloatArray], rng: np.random.Generator, progress: Progress
) -> list[Rigid]:
    """Return a first place for every piece, each on what already lies."""
    held: list[Facing] = [facing(some) for some in sparse]
    placed: dict[int, Rigid] = {0: AS_IT_LIES}
    waiting = list(range(1, len(pieces)))
    while waiting:
        failures: list[InputProblemsError] = []
        for k in waiting:
            try:
                placed[k] = _first_place(pieces, held, placed, k, rng)
            except InputProblemsError as error:
                failures.append(error)
                continue
            waiting.remove(k)
            progress(len(placed), len(pieces), f"laying {pieces[k].name} on the others")
            break
        else:
            raise InputProblemsError([problem for error in failures for problem in error.problems])
    return [placed[k] for k in range(len(pieces))]


def _first_place(
    pieces: Sequence[Piece],
    held: list[Facing],
    placed: dict[int, Rigid],
    k: int,
    rng: np.random.Generator,
) -> Rigid:
    moving, name = pieces[k], pieces[k].name
    if moving.common is not None:
        for j, move in placed.items():
            other = pieces[j].common
            if other is not None:
                return _by_points(name, moving.common, move.points(other))
    lying = [(held[j], move) for j, move in placed.items()]
    found = place_on(held[k], moving.up, lying, pieces[0].up, rng)
    if found is None:
        raise _refused(
            name,
            "no place is found where it lies on the other pieces",
            "Scan again with a third of each piece on the next one, or mark three common points.",
        )
    if not found.clear:
        raise _refused(
            name,
            "it could lie on the other pieces in two ways",
            "Mark three common points on each piece, far apart and not in one line.",
        )
    return found.move


def _by_points(name: str, moving: FloatArray, fixed: FloatArray) -> Rigid:
    if len(moving) != len(fixed) or len(moving) < 3:
        raise _refused(
            name,
            f"{len(moving)} common points are marked on it and {len(fixed)} on the other piece",
            "Mark the same three or more points on every piece, in the same order.",
        )
    try:
        move = laid_by_points(moving, fixed)
    except ValueError as error:
        raise _refused(
            name, "the common points lie in one line", "Mark points to both sides of the back."
        ) from error
    off = np.linalg.norm(move.points(moving) - fixed, axis=1)
    if float(off.max()) > 120.0:
        raise _refused(
            name,
            f"common point {int(off.argmax()) + 1} is {off.max():.0f} mm from its partner once all of them "
            "are laid on each other",
            "Check that the points mean the same places, in the same order, and the units.",
        )
    return move


def _dense(pieces: Sequence[Piece], moves: list[Rigid], standing: Standing | None) -> list[FloatArray]:
    """Return many points of every piece, its own axes: of the trunk where each piece shows enough of it."""
    if standing is not None:
        of_trunk = [
            piece.points[_near_trunk(standing, move.points(piece.points))]
            for piece, move in zip(pieces, moves, strict=True)
        ]
        if min(len(points) for points in of_trunk) >= _FEWEST:
            return [thinned(points, _DENSE) for points in of_trunk]
    return [thinned(piece.points, _DENSE) for piece in pieces]


def _near_trunk(standing: Standing, points: FloatArray) -> NDArray[np.bool_]:
    trunk = standing.trunk
    x, y, z = standing.points(points).T
    w = trunk.half_width
    rear, front = trunk.core[0] - _BEYOND_TRUNK * w, trunk.core[1] + _BEYOND_TRUNK * w
    axis = np.interp(x, trunk.grid.x, trunk.grid.axis_z)
    near = (x > rear) & (x < front) & (np.abs(y) < 1.5 * w)
    return near & (z > axis - _BELOW_AXIS * w) & (z < axis + 2.0 * w)


def _refuse_what_does_not_fit(merged: Merged) -> None:
    problems = []
    for name, one in zip(merged.names, merged.overlap, strict=True):
        if one.share < LEAST_OVERLAP:
            what = f"only {100.0 * one.share:.0f} % of it lies on the other pieces"
            cure = "Scan again with a third of each piece on the next one."
        elif one.unsure_mm > MOST_UNSURE_MM:
            what = f"what it shares with the other pieces leaves it free to move by {one.unsure_mm:.0f} mm"
            cure = "Scan again with a third of each piece on the next one, over withers or croup."
        elif one.apart_mm > MOVED_MM and one.share < DOUBTFUL_OVERLAP:
            what = (
                f"only {100.0 * one.share:.0f} % of it lies on the other pieces, and there they lie "
                f"{one.apart_mm:.0f} mm apart: where it belongs is not sure"
            )
            cure = "Scan again with a third of each piece on the next one, or mark three common points."
        elif one.apart_mm > MOVED_MM:
            what = (
                f"it and the other pieces lie {one.apart_mm:.0f} mm apart where both show the horse, "
                f"and most, {one.most_mm:.0f} mm, {merged_place(merged, one.most_at)}: "
                "no turn or shift explains that"
            )
            cure = (
                "The horse moved, the scanner drifted, or the pieces share too little: scan it again while "
                "it stands still, with a third of each piece on the next one."
            )
        else:
            continue
        problems.append(Problem(what=what, cure=cure, where=Where(file=name)))
    if problems:
        raise InputProblemsError(problems)


def merged_place(merged: Merged, at: FloatArray) -> str:
    """Return in words where a point (3,) lies, instrument frame of the first piece [mm]."""
    standing = merged.standing
    if standing is None:
        return f"at [{at[0]:.0f}, {at[1]:.0f}, {at[2]:.0f}] mm in {merged.names[0]}"
    x, y, z = standing.points(at[None])[0]
    trunk = standing.trunk
    # Head and tail are told apart later; until then both ends are named by where they are in the trunk.
    share = (trunk.core[1] - x) / (trunk.core[1] - trunk.core[0])
    along = (
        "over the front third" if share < 1 / 3 else "over the rear third" if share > 2 / 3 else "mid-back"
    )
    side = "on the near side" if y > 0.25 * trunk.half_width else "on the off side"
    side = "on the topline" if abs(y) <= 0.25 * trunk.half_width else side
    low = ", low down" if z < float(np.interp(x, trunk.grid.x, trunk.grid.axis_z)) else ""
    return f"{along}, {side}{low}"


def _refused(name: str, what: str, cure: str) -> InputProblemsError:
    return InputProblemsError([Problem(what=what, cure=cure, where=Where(file=name))])
