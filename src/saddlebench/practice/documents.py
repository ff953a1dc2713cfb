"""Record documents as text: checked to be what they claim, and never touched again."""

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from saddlebench.engine.errors import InputProblemsError, Problem, input_problem
from saddlebench.practice.enums import Subject

LARGEST_BYTES = 32 << 20
_DEEPEST = 60
_NEWEST_THINKABLE = 10_000
RECORD_NAMES: dict[Subject, str] = {
    Subject.BACK: "back record",
    Subject.SADDLE: "saddle record",
    Subject.STUDY: "fit check",
    Subject.PLAN: "alteration plan",
    Subject.ORDER: "work order",
}
"""What a record file of each kind calls itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A JSON document, byte for byte as it came."""

    text: str

    @property
    def sha256(self) -> str:
        """The hash of its UTF-8 bytes."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()


def _no_constant(name: str) -> float:
    msg = f"holds {name}, which is no number"
    raise input_problem(msg, "Write the document again.")


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    content = dict(pairs)
    if len(content) != len(pairs):
        raise input_problem("names one thing twice", "Write the document again.")
    return content


def _depth(value: Any) -> int:
    deepest, level = 0, [value]
    while level and deepest <= _DEEPEST:
        deepest += 1
        level = [
            child
            for item in level
            if isinstance(item, dict | list)
            for child in (item.values() if isinstance(item, dict) else item)
        ]
    return deepest


def check_document(document: Document) -> dict[str, Any]:
    """Return a document's content.

    Raises
    ------
    InputProblemsError
        If it is no JSON object, too large or too deep, names a thing twice, or holds NaN or infinity.
    """
    if len(document.text) > LARGEST_BYTES:
        msg = f"is larger than {LARGEST_BYTES >> 20} MB"
        raise input_problem(msg, "Give the readings, not the mesh.")
    try:
        document.text.encode("utf-8")
        content = json.loads(document.text, parse_constant=_no_constant, object_pairs_hook=_no_repeats)
    except InputProblemsError:
        raise
    except (ValueError, RecursionError) as error:
        reason = f"line {error.lineno}" if isinstance(error, json.JSONDecodeError) else type(error).__name__
        msg = f"is no JSON document ({reason})"
        raise input_problem(msg, "Write the document again.") from error
    if not isinstance(content, dict) or _depth(content) > _DEEPEST:
        raise input_problem("is no record document", "Give the whole record, one JSON object.")
    return content


def check_record(document: Document, subject: Subject) -> str:
    """Return the schema that a record of this kind follows: its format and version.

    Whether its numbers make a back or a saddle is the readers' matter, at the door where it came in.

    Raises
    ------
    InputProblemsError
        If the document is none, or names another kind of record.
    """
    name = RECORD_NAMES[subject]
    try:
        content = check_document(document)
    except InputProblemsError as error:
        told = [Problem(what=f"the {name} {p.what}", cure=p.cure) for p in error.problems]
        raise InputProblemsError(told) from None
    given, version = content.get("format"), content.get("version")
    if given != f"saddlebench {name}":
        msg = f"this is no {name}"
        raise input_problem(msg, f"Give a {name}, as saddlebench writes it.")
    if type(version) is not int or not 1 <= version <= _NEWEST_THINKABLE:
        msg = f"the {name} does not say its version"
        raise input_problem(msg, "Export it again.")
    return f"{given} {version}"
