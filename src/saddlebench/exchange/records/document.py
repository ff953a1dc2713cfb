"""What every record file shares: name and version, strict reading, writing that is whole or not at all.

A file is one JSON object (RFC 8259). It names its format and version; a newer version than this program knows
is refused, never half understood. Fields are those of the engine's own frozen types, so a file says exactly
what was computed with; the published schemas are generated from the same types and a test holds them to it.
"""

import datetime as dt
import json
import math
from collections import Counter
from collections.abc import Callable
from enum import Enum
from pathlib import Path
from typing import Any, ClassVar, Self, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import InitErrorDetails, from_json

from saddlebench.engine.errors import InputProblemsError, Where, input_problem
from saddlebench.exchange.doors import UNKNOWN_FIELD, each_name_once, in_file, read_text, refused
from saddlebench.exchange.whole_file import write_whole

DRAFT = "https://json-schema.org/draft/2020-12/schema"
MAX_RECORD_BYTES = 50_000_000
"""A study with every field at 5,000 points is some 2 MB; a record with a mesh of the underside 20 MB."""
ENDLESS = frozenset({"hardening_mm", "hardening_strain"})
"""Fields that may be infinite (a linear law): JSON has no infinity, and leaving them out says the same."""
LEFT_OUT_WHEN_EMPTY = frozenset({"widths", "shape_error"})
"""Fields that only a later way of measuring fills: other records stay as older programs read them."""


class Part(BaseModel):
    """A part of a document: strict, closed, finite."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Document(Part):
    """A whole file."""

    NAME: ClassVar[str]
    """What people call such a file."""
    VERSION: ClassVar[int]


_D = TypeVar("_D", bound=Document)
_Made = TypeVar("_Made")


class OneOf(Part):
    """Alternatives by name, of which exactly one is given: `{"pin_comb": {…}}`."""

    @classmethod
    def holding(cls, **given: Any) -> Self:
        """Return the alternative that was given."""
        return cls(**given)

    def the_one(self) -> Any:
        """Return the alternative that is given.

        Raises
        ------
        InputProblemsError
            If there is none, or more than one.
        """
        given = [getattr(self, name) for name in type(self).model_fields]
        held = [value for value in given if value is not None]
        if len(held) != 1:
            names = ", ".join(f"“{name}”" for name in type(self).model_fields)
            msg = f"{len(held)} of the alternatives {names} are given"
            raise input_problem(msg, "Give exactly one of them.")
        return held[0]


def plain(value: Any, key: str = "") -> Any:
    """Return a value as JSON can hold it: lists, objects, numbers, text."""
    if isinstance(value, dict):
        held = {str(name): plain(part, str(name)) for name, part in value.items()}
        return {name: part for name, part in held.items() if part is not _LEFT_OUT}
    if isinstance(value, list | tuple) and (value or key not in LEFT_OUT_WHEN_EMPTY):
        return [plain(part) for part in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dt.date):
        return value.isoformat()
    if key in LEFT_OUT_WHEN_EMPTY and not value:
        return _LEFT_OUT
    is_endless = key in ENDLESS and isinstance(value, float) and math.isinf(value)
    return _LEFT_OUT if is_endless else value


_LEFT_OUT = object()


def as_json(document: Document) -> str:
    """Return the document's text: one field of the whole to a line.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    held = plain(document.model_dump(by_alias=True, exclude_none=True))
    lines = (
        f"{json.dumps(name)}: {json.dumps(value, allow_nan=False, ensure_ascii=False)}"
        for name, value in held.items()
    )
    return "{\n" + ",\n".join(lines) + "\n}\n"


def write_document(document: Document, path: Path) -> None:
    """Write a document; no reader ever sees half of it, and a failure leaves an older file as it was."""
    write_whole(path, as_json(document).encode("utf-8"))


def read_document(kind: type[_D], path: Path, make: Callable[[_D], _Made]) -> _Made:
    """Read a file of one kind, and return what `make` makes of its document.

    Raises
    ------
    InputProblemsError
        With every fault and the field it lies in; for another kind of file, or one of a newer version.
    OSError
        If the file cannot be opened.
    """
    file = str(path)
    document = parse_document(kind, read_text(path, limit_bytes=MAX_RECORD_BYTES), file)
    try:
        return make(document)
    except InputProblemsError as error:
        raise InputProblemsError(in_file(error.problems, file)) from error
    except (ValueError, IndexError) as error:
        # Shapes that no field states alone (a rotation, a range) are checked by the engine's own types.
        what = f"its parts do not fit together: {error}"
        cure = f"The file was changed or damaged: make the {kind.NAME} again."
        raise input_problem(what, cure, Where(file=file)) from error


def parse_document(kind: type[_D], text: str, file: str) -> _D:
    """Read the text of a document of one kind; `file` is what problems call it.

    Raises
    ------
    InputProblemsError
        With every fault and the field it lies in; for another kind of document, or one of a newer version.
    """
    try:
        held = from_json(text, allow_inf_nan=False)
        json.loads(text, object_pairs_hook=each_name_once)
    except ValueError as error:
        msg = f"is not valid JSON: {error}"
        raise input_problem(
            msg, "Mend the place named, or export the file again.", Where(file=file)
        ) from error
    _check_kind(held, kind, file)
    try:
        return kind.model_validate_json(text)
    except ValidationError as error:
        raise refused(_of_the_nearest_kind(error), file) from error
    except InputProblemsError as error:
        raise InputProblemsError(in_file(error.problems, file)) from error


def _of_the_nearest_kind(error: ValidationError) -> ValidationError:
    """Return the faults without those of alternatives that were clearly not meant.

    Where a field may be one of several types, validation reports the faults of each; kept are those of the
    type that fits best, under the field's own name.
    """
    details = error.errors(include_url=False)
    split = [_split_at_type(detail["loc"]) for detail in details]
    counts: Counter[tuple[tuple[int | str, ...], str]] = Counter()
    for detail, (field, kind, _) in zip(details, split, strict=True):
        counts[field, kind] += 3 if detail["type"] in UNKNOWN_FIELD else 1
    kept: list[InitErrorDetails] = []
    for detail, (field, kind, rest) in zip(details, split, strict=True):
        if kind and counts[field, kind] > min(n for (other, _), n in counts.items() if other == field):
            continue
        kept.append(
            InitErrorDetails(
                type=detail["type"], loc=(*field, *rest), input=detail["input"], ctx=detail.get("ctx", {})
            )
        )
    return ValidationError.from_exception_data(error.title, kept)


def _split_at_type(loc: tuple[int | str, ...]) -> tuple[tuple[int | str, ...], str, tuple[int | str, ...]]:
    """Split a fault's place at the name of a type among alternatives: types are capitalised, fields never."""
    for i, part in enumerate(loc):
        if isinstance(part, str) and part[:1].isupper():
            return loc[:i], part, loc[i + 1 :]
    return loc, "", ()


def with_article(noun: str) -> str:
    """Return a kind of document with its article: a back record, an alteration plan, instrument settings."""
    if noun.endswith("s"):
        return noun
    return f"an {noun}" if noun.startswith(("a", "e", "i", "o")) else f"a {noun}"


def _check_kind(held: object, kind: type[Document], file: str) -> None:
    where = Where(file=file, field="format")
    wanted = f"Name {with_article(kind.NAME)}"
    name = held.get("format") if isinstance(held, dict) else None
    if not isinstance(held, dict) or not isinstance(name, str) or not name.startswith("saddlebench "):
        raise input_problem("is not a record of this program", f"{wanted} written by saddlebench.", where)
    if name != f"saddlebench {kind.NAME}":
        named = with_article(name.removeprefix("saddlebench ")[:40])
        msg = f"is {named}, not {with_article(kind.NAME)}"
        raise input_problem(msg, f"{wanted}.", where)
    version = held.get("version")
    if isinstance(version, int) and not isinstance(version, bool) and version > kind.VERSION:
        msg = (
            f"was written by a newer saddlebench (version {version} of the {kind.NAME}; this program reads "
            f"up to version {kind.VERSION})"
        )
        raise input_problem(msg, "Update saddlebench, then open it again.", Where(file=file, field="version"))


def schema_of(kind: type[Document]) -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of a kind of document."""
    return {"$schema": DRAFT, **kind.model_json_schema(by_alias=True)}
