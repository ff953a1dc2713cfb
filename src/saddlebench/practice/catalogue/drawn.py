"""What is drawn on a photo: lines, angles, and distances against a length that is known."""

import uuid as uuids
from itertools import pairwise

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue.field import Field, Kind, Value
from saddlebench.practice.catalogue.reading import read_value

MEASURED_KINDS = ("topline", "shoulder", "points")
"""Lines whose angle against the level is measured, with its error."""
DRAWN_KINDS = {
    "line": 2,
    "angle": 3,
    "distance": 2,
    "known": 2,
    "level": 2,
    "upright": 2,
    **dict.fromkeys(MEASURED_KINDS, 2),
}
"""Kind to its number of points. `known` is the length that gives the photo its scale; `level` and `upright`
are lines that are so on the spot, and say how the camera stood."""
ONLY_ONE = {"known", "level", "upright", *MEASURED_KINDS}
"""Kinds of which a photo has one; drawn again, the new one stands."""
MOST_DRAWN = 100
KNOWN_MM = Field(name="known_mm", words="Known length", kind=Kind.NUMBER, unit="mm", low=5, high=5000)
_LEAST_APART = 0.005


def read_drawn(kind: str, points: list[tuple[float, float]], known_mm: Value, key: uuids.UUID) -> Value:
    """Return a mark as it is kept; points are fractions of the photo's width and height.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    problems: list[Problem] = []
    wanted = DRAWN_KINDS.get(kind)
    if wanted is None:
        problems.append(Problem(what="is no kind of mark", cure=f"Choose one of {', '.join(DRAWN_KINDS)}."))
    elif len(points) != wanted:
        what = f"{len(points)} points are set, this needs {wanted}"
        problems.append(Problem(what=what, cure="Set the points on the picture."))
    if any(not (0 <= x <= 1 and 0 <= y <= 1) for x, y in points):
        problems.append(Problem(what="a point lies outside the picture", cure="Set it inside."))
    if _has_pair_at_one_place(points):
        problems.append(Problem(what="two points lie at one place", cure="Set them apart."))
    length: Value = None
    if kind in {"known", "level", "upright"}:
        try:
            length = read_value(KNOWN_MM, known_mm)
        except InputProblemsError as error:
            problems += error.problems
        if kind == "known" and length is None and not problems:
            where = Where(field=KNOWN_MM.words)
            problems.append(Problem(what="is needed", cure="Say how long it is in millimetres.", where=where))
    if problems:
        raise InputProblemsError(problems)
    kept: list[Value] = [[round(x, 5), round(y, 5)] for x, y in points]
    return {"key": str(key), "kind": kind, "points": kept, "known_mm": length}


def _has_pair_at_one_place(points: list[tuple[float, float]]) -> bool:
    pairs = pairwise(points)
    return any(abs(a[0] - b[0]) < _LEAST_APART and abs(a[1] - b[1]) < _LEAST_APART for a, b in pairs)
