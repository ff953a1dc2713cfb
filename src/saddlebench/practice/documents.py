"""Record documents as text: checked to be what they claim, and never touched again."""

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from saddlebench.engine.errors import InputProblemsError, input_problem

LARGEST_BYTES = 32 << 20
_DEEPEST = 60
_LONGEST_SCHEMA_ID = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A JSON document, byte for byte as it came, and which schema it follows."""

    text: str
    schema_id: str

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
    if not document.schema_id or len(document.schema_id) > _LONGEST_SCHEMA_ID:
        raise input_problem("does not say which schema it follows", "Give its schema's id.")
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
