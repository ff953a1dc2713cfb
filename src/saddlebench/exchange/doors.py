"""What every reader of a small settings file shares: bounded text, TOML or JSON, and faults put in words."""

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem

MAX_SETTINGS_BYTES = 2_000_000
"""A file of settings typed by hand is a few kilobytes; a record with a scan's sections below a megabyte."""

UNKNOWN_FIELD = ("extra_forbidden", "unexpected_keyword_argument")
_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not a field of this file",
    "unexpected_keyword_argument": "is not a field of this file",
    "finite_number": "must be a finite number",
    "float_type": "must be a number",
    "float_parsing": "is not a number",
    "int_type": "must be a whole number",
    "int_parsing": "is not a whole number",
    "string_type": "must be text",
    "string_too_short": "must not be empty",
    "bool_type": "must be true or false",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "model_type": "must be a table of fields",
    "date_from_datetime_parsing": "is not a date",
    "date_type": "is not a date",
}
_CURES = {
    "missing": "Add it.",
    "extra_forbidden": "Check its spelling, or remove it.",
    "unexpected_keyword_argument": "Check its spelling, or remove it.",
    "date_from_datetime_parsing": "Write it as year-month-day, for example 2026-05-14.",
    "date_type": "Write it as year-month-day, for example 2026-05-14.",
}


def read_text(path: Path, *, limit_bytes: int = MAX_SETTINGS_BYTES) -> str:
    """Read a text file within a limit of size.

    Raises
    ------
    InputProblemsError
        If the file is empty, larger than the limit, or not text in UTF-8.
    OSError
        If it cannot be opened.
    """
    where = Where(file=str(path))
    with path.open("rb") as stream:
        content = stream.read(limit_bytes + 1)
    if len(content) > limit_bytes:
        what = f"is larger than the {limit_bytes / 1e6:g} MB that such a file may have"
        raise input_problem(what, "Check that this is the file you meant.", where)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise input_problem(
            "is not a text file in UTF-8", "Save it as plain text (UTF-8), or name another file.", where
        ) from error
    if not text.strip():
        raise input_problem(
            "is empty", "Check that it was saved, and that this is the file you meant.", where
        )
    return text


def read_settings(path: Path, *, limit_bytes: int = MAX_SETTINGS_BYTES) -> dict[str, Any]:
    """Read a TOML file, or a JSON object where the name ends in .json.

    Raises
    ------
    InputProblemsError
        If the text is not what its name says, with the row where reading stopped.
    OSError
        If it cannot be opened.
    """
    text = read_text(path, limit_bytes=limit_bytes)
    where = Where(file=str(path))
    try:
        if path.suffix.lower() != ".json":
            return tomllib.loads(text)
        held = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=each_name_once)
    except RecursionError as error:
        raise input_problem("is nested too deeply", "Name another file.", where) from error
    except ValueError as error:
        kind = "JSON" if path.suffix.lower() == ".json" else "TOML"
        msg = f"is not valid {kind}: {error}"
        raise input_problem(msg, "Mend the place named.", where) from error
    if not isinstance(held, dict):
        raise input_problem("holds no JSON object", "Check that this is the file you meant.", where)
    return held


def each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return a JSON object in which no name is given twice: readers disagree on which one counts.

    Raises
    ------
    ValueError
        If one is.
    """
    held = dict(pairs)
    if len(held) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        msg = f"“{twice[:40]}” is given twice in one object"
        raise ValueError(msg)
    return held


def _refuse_constant(name: str) -> float:
    msg = f"{name} is not a number"
    raise ValueError(msg)


def in_file(problems: Iterable[Problem], file: str) -> list[Problem]:
    """Return the same problems, each with the file it lies in."""
    return [replace(problem, where=replace(problem.where, file=file)) for problem in problems]


def refused(error: ValidationError, file: str) -> InputProblemsError:
    """Return every fault that validation found, in words and with its field, ready to be raised."""
    return InputProblemsError([_problem(detail, file) for detail in error.errors(include_url=False)])


def _problem(detail: ErrorDetails, file: str) -> Problem:
    kind = detail["type"]
    words = _WORDS.get(kind) or _own_words(detail["msg"], detail.get("ctx", {}))
    given = detail["input"]
    shown = f" (it says “{str(given)[:40]}”)" if isinstance(given, str | int | float) else ""
    field = ".".join(str(part + 1) if isinstance(part, int) else part for part in detail["loc"])
    return Problem(
        what=f"the field {words}{'' if kind in UNKNOWN_FIELD else shown}",
        cure=_CURES.get(kind, "Correct it."),
        where=Where(file=file, field=field),
    )


def _own_words(message: str, context: Mapping[str, Any]) -> str:
    bounds = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
    for name, words in bounds.items():
        if name in context:
            return f"must be {words} {context[name]}"
    return message.removeprefix("Value error, ").removeprefix("Input ").removeprefix("should").strip()
