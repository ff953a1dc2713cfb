"""What a field is."""

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

# JSON's own kinds, so that an entry can be kept and shown as it was made.
Value: TypeAlias = "str | float | int | bool | list[Value] | dict[str, Value] | None"


class Kind(StrEnum):
    """How a field's value is read."""

    TEXT = "text"
    LONG_TEXT = "long_text"
    YES_NO = "yes_no"
    CHOICE = "choice"
    CHOICES = "choices"
    LIST = "list"
    NUMBER = "number"
    WHOLE = "whole"
    DATE = "date"
    TIME = "time"
    ZONE = "zone"
    PERSON = "person"
    MARKS = "marks"
    MICROCHIP = "microchip"
    UELN = "ueln"
    HEIGHT = "height"
    EMAIL = "email"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field: its name inside, its words for people, and its limits."""

    name: str
    words: str
    kind: Kind = Kind.TEXT
    section: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    required: bool = False
    max_length: int = 200


def by_name(*groups: tuple[Field, ...]) -> dict[str, Field]:
    """Return the fields of several groups by name.

    Raises
    ------
    ValueError
        If two fields share a name.
    """
    fields = [field for group in groups for field in group]
    named = {field.name: field for field in fields}
    if len(named) != len(fields):
        twice = sorted({f.name for f in fields if sum(f.name == g.name for g in fields) > 1})
        raise ValueError(f"fields named twice: {', '.join(twice)}")  # noqa: EM102
    return named
