"""The marks file of a scan: what the mesh itself cannot tell (unit, up, head, landmarks), as TOML.

A unit is never guessed from size: either the unit is stated, or one known length between two named points.
"""

import datetime as dt
import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.limits import MAX_MARKS_BYTES

_Number = Annotated[float, Field(ge=-1e12, le=1e12, allow_inf_nan=False)]
Point = tuple[_Number, _Number, _Number]
Axis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
_AXES = {"x": 0, "y": 1, "z": 2}


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)


class Direction(_Table):
    """A direction in the mesh's own axes: an axis, or a vector."""

    axis: Axis | None = Field(default=None, description="One of the mesh's axes, with its sign.")
    vector: Point | None = Field(default=None, description="Any length; only the direction counts.")


class UpDirection(Direction):
    """Which way is up: an axis, a vector, or three points on level ground."""

    ground: tuple[Point, Point, Point] | None = Field(
        default=None,
        description="Three points of level ground, not in one line; the horse stands above them.",
    )


class KnownLength(_Table):
    """One length that was measured on the horse, between two named points of the mesh."""

    between: tuple[str, str] = Field(description="Names of two points, from [marks] or [points].")
    length_mm: Annotated[float, Field(gt=0.0, le=10_000.0, allow_inf_nan=False)]
    sd_mm: Annotated[float, Field(ge=0.0, le=1_000.0, allow_inf_nan=False)] = 5.0
    measured: Literal["straight", "upright"] = Field(
        default="straight",
        description="“upright”: the height of one above the other, as with a measuring stick.",
    )


class Marks(_Table):
    """Landmarks as points of the mesh, in its own axes and unit. “suggest”: propose it from the shape."""

    shoulder: Point = Field(description="The shoulder mark: rear edge of the shoulder blade, the zero.")
    last_rib: Point = Field(description="The last-rib mark.")
    withers: Point | Literal["suggest"] | None = Field(default=None, description="Highest withers spine.")
    lowest: Point | Literal["suggest"] | None = Field(
        default=None, description="Lowest point of the topline."
    )
    shoulder_edge_near: Point | None = Field(
        default=None, description="Rear edge of the near shoulder blade."
    )
    shoulder_edge_off: Point | None = Field(default=None, description="Rear edge of the off shoulder blade.")
    girth_groove: Point | None = Field(default=None, description="Where the girth comes to lie.")


_Sd = Annotated[float, Field(ge=0.0, le=100.0, allow_inf_nan=False)]


class ScanError(_Table):
    """What the scan states of its own errors (standard deviations)."""

    point_sd_mm: _Sd = 3.0
    registration_sd_mm: _Sd = 1.0
    registration_sd_deg: Annotated[float, Field(ge=0.0, le=45.0, allow_inf_nan=False)] = 0.5
    scale_percent: Annotated[float, Field(ge=0.0, le=50.0, allow_inf_nan=False)] = 0.5


class PieceStated(_Table):
    """One file of several that show parts of the horse; the first one's axes are those of the marks."""

    file: Annotated[str, Field(min_length=1, max_length=300, description="The file’s name.")]
    unit: Literal["mm", "cm", "m", "in"] | None = Field(
        default=None, description="Its unit, if it is not the marks file’s."
    )
    up: Point | None = Field(default=None, description="Which way is up in it, where it shows no ground.")
    common: tuple[Point, ...] = Field(
        default=(), max_length=12, description="Places marked on every piece, in one order, its own unit."
    )


class PiecesFile(_Table):
    """What is known of several files before they are laid on each other."""

    pieces: tuple[PieceStated, ...] = Field(min_length=2, max_length=6, description="One for each file.")


class MarksFile(_Table):
    """Marks of a scan of a horse's back."""

    label: str = Field(default="", max_length=200, description="What to call the record.")
    measured_on: dt.date | None = Field(default=None, description="Day of the scan.")
    unit: Literal["mm", "cm", "m", "in"] | None = Field(default=None, description="Unit of the mesh.")
    known_length: KnownLength | None = None
    up: UpDirection
    level_by: LevelBy | None = Field(
        default=None,
        description="What said which way is up: an axis of the scan, the ground, ground that somebody knew "
        "to be level, or the body alone. “ground” and “body” widen the record's error.",
    )
    head: Direction = Field(description="Where the head is, good to some 20°.")
    marks: Marks
    points: Mapping[str, Point] = Field(default_factory=dict, description="Further named points.")
    proposed: tuple[Literal["shoulder", "last_rib", "withers", "lowest"], ...] = Field(
        default=(), max_length=4, description="Marks that the shape proposed, and nobody felt for."
    )
    pieces: tuple[PieceStated, ...] = Field(
        default=(), max_length=6, description="The files that the scan is merged from, the first one first."
    )
    spine_strip_width_mm: Annotated[float, Field(gt=0.0, le=300.0, allow_inf_nan=False)] | None = None
    errors: ScanError = ScanError()

    @property
    def named_points(self) -> dict[str, Point]:
        """All points that a known length may lie between."""
        marks = self.marks.model_dump(exclude_none=True)
        return dict(self.points) | {name: point for name, point in marks.items() if point != "suggest"}


def read_marks(path: Path) -> MarksFile:
    """Read a marks file.

    Raises
    ------
    InputProblemsError
        With every problem of the file.
    """
    return marks_from_table(_read_table(path), path.name)


def read_pieces_file(path: Path) -> PiecesFile:
    """Read what is stated of several files: units, which way is up, common points.

    Raises
    ------
    InputProblemsError
        With every problem of the file.
    """
    try:
        return PiecesFile.model_validate(_read_table(path))
    except ValidationError as error:
        problems = [_in_words(dict(one), path.name) for one in error.errors(include_url=False)]
        raise InputProblemsError(problems) from error


def _read_table(path: Path) -> dict[str, Any]:
    where = Where(file=path.name)
    try:
        with path.open("rb") as stream:
            content = stream.read(MAX_MARKS_BYTES + 1)
    except OSError as error:
        what = f"the marks file cannot be opened ({error.strerror})"
        raise input_problem(what, "Check its path.", where) from error
    if len(content) > MAX_MARKS_BYTES:
        what = f"the marks file has more than {MAX_MARKS_BYTES // 1000} kB"
        raise input_problem(what, "Give the marks, not the mesh.", where)
    try:
        table: dict[str, Any] = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise input_problem("the marks file is no text (UTF-8)", "Save it as plain text.", where) from error
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        what = f"the marks file is not valid TOML: {str(error)[:120]}"
        raise input_problem(what, "Correct that line.", where) from error
    return table


def marks_from_table(table: Mapping[str, Any], file: str) -> MarksFile:
    """Check a table of marks.

    Raises
    ------
    InputProblemsError
        With every problem of the table.
    """
    try:
        marks = MarksFile.model_validate(table)
    except ValidationError as error:
        problems = [_in_words(dict(one), file) for one in error.errors(include_url=False)]
        # A union reports each alternative it tried: one sentence for each place is enough.
        unique = {str(problem): problem for problem in problems}
        raise InputProblemsError([*unique.values(), *_missing_scale(table, file)]) from error
    problems = [*_missing_scale(table, file), *_scale(marks, file), *_directions(marks, file)]
    if problems:
        raise InputProblemsError(problems)
    return marks


_NOT_NUMBERS = {"tuple_type", "too_short", "too_long", "float_type", "float_parsing", "finite_number"}
_OUT_OF_RANGE = {"greater_than", "greater_than_equal", "less_than", "less_than_equal"}


def _in_words(error: dict[str, Any], file: str) -> Problem:
    # Alternatives of a union are named in the place; a person's file knows only its own names.
    loc = [part for part in error["loc"] if not str(part).startswith(("literal[", "tuple["))]
    # A number is a place in a list, counted from 1; a name may consist of digits of any script.
    place = [str(part + 1) if isinstance(part, int) else str(part) for part in loc]
    field = ".".join(place)
    where = Where(file=file, field=field)
    kind, expected = error["type"], error.get("ctx", {}).get("expected")
    is_place = field.startswith(("marks.", "points.", "up.", "head.")) and not field.endswith("axis")
    is_place |= field.startswith("pieces.") and (".common" in field or ".up" in field)
    is_short = kind == "missing" and field[-1:].isdigit()
    if is_place and (kind in _NOT_NUMBERS | {"literal_error"} or is_short):
        what, cure = (
            "this is no point or direction",
            "Write three numbers in the mesh's own axes and unit: [x, y, z].",
        )
    elif kind == "missing":
        what, cure = f"“{field}” is missing", _asked_for(field)
    elif kind == "extra_forbidden":
        what, cure = "this is not a field of a marks file", _perhaps(place)
    elif kind == "literal_error":
        what, cure = "this is not one of the words that may stand here", f"Write one of {expected}."
    elif kind in _NOT_NUMBERS:
        what, cure = "this is not a number", "Write a number, with a decimal point."
    elif kind in _OUT_OF_RANGE:
        what, cure = "this number is out of its range", f"{error['msg']}."
    else:
        what, cure = f"this cannot be used ({error['msg']})", "Correct it."
    return Problem(what=what, cure=cure, where=where)


def _asked_for(field: str) -> str:
    asked = {
        "up": 'State which way is up: up = { axis = "+z" }, a vector, or three points of level ground.',
        "head": 'State where the head is: head = { axis = "+x" } or a vector.',
        "marks": "Give the landmarks in a table [marks]; shoulder and last_rib are needed.",
    }
    return asked.get(field, "Add it.")


def _perhaps(place: list[str]) -> str:
    known: dict[str, type[BaseModel]] = {
        "marks": Marks,
        "known_length": KnownLength,
        "up": UpDirection,
        "head": Direction,
        "errors": ScanError,
        "pieces": PieceStated,
    }
    table = known.get(place[0], MarksFile) if len(place) > 1 else MarksFile
    close = difflib.get_close_matches(place[-1], list(table.model_fields), n=1)
    return f"Did you mean “{close[0]}”?" if close else f"Known here: {', '.join(table.model_fields)}."


def _missing_scale(table: Mapping[str, Any], file: str) -> list[Problem]:
    if ("unit" in table) + ("known_length" in table) == 1:
        return []
    what = (
        "both a unit and a known length are stated"
        if "unit" in table
        else "the size of the mesh is not known: neither its unit nor one length is stated"
    )
    cure = (
        'State unit = "mm", "cm", "m" or "in", or one known length between two named points '
        "(for example the height at the withers, upright); one of the two. It is never guessed."
    )
    return [Problem(what=what, cure=cure, where=Where(file=file, field="unit"))]


def _scale(marks: MarksFile, file: str) -> list[Problem]:
    if marks.known_length is None:
        return []
    named = marks.named_points
    return [
        Problem(
            what=f"the known length names “{name}”, which is no point of this file",
            cure=f"Name two of: {', '.join(sorted(named))}; or add it under [points].",
            where=Where(file=file, field="known_length.between"),
        )
        for name in marks.known_length.between
        if name not in named
    ]


def _directions(marks: MarksFile, file: str) -> list[Problem]:
    problems = []
    stated: dict[str, list[object]] = {
        "up": [marks.up.axis, marks.up.vector, marks.up.ground],
        "head": [marks.head.axis, marks.head.vector],
    }
    for field, ways in stated.items():
        if sum(way is not None for way in ways) != 1:
            what = f"“{field}” must be stated in exactly one way"
            problems.append(Problem(what=what, cure=_asked_for(field), where=Where(file=file, field=field)))
    return problems


def axis_vector(axis: Axis) -> tuple[float, float, float]:
    """Return an axis as a unit vector."""
    vector = [0.0, 0.0, 0.0]
    vector[_AXES[axis[1]]] = 1.0 if axis[0] == "+" else -1.0
    return vector[0], vector[1], vector[2]


def unit_mm(marks: MarksFile) -> float | None:
    """Return millimetres in one unit of the mesh, where the unit is stated."""
    return None if marks.unit is None else Length(marks.unit).in_mm
