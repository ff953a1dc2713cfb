"""Fields of the records' catalogue as they are shown and read back: one way for every form."""

import uuid as uuids
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.http import QueryDict

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.catalogue import Field, Kind, Value, read_value
from saddlebench.practice.enums import BreedType, Family, Purpose, VisitState, Work
from saddlebench.practice.phrases import choice_words, words_of
from saddlebench.practice.services import Entered
from saddlebench.web.base.spoken import as_said, problem_told, told

_ENUM_WORDS = {
    "breed_type": BreedType,
    "work": Work,
    "family": Family,
    "purpose": Purpose,
    "state": VisitState,
}
WIDGETS: dict[Kind, str] = {
    Kind.LONG_TEXT: "long",
    Kind.LIST: "long",
    Kind.YES_NO: "yes_no",
    Kind.CHOICE: "choice",
    Kind.CHOICES: "choices",
    Kind.NUMBER: "decimal",
    Kind.WHOLE: "whole",
    Kind.MICROCHIP: "whole",
    Kind.DATE: "date",
    Kind.TIME: "time",
    Kind.EMAIL: "email",
}
HINTS: dict[Kind, str] = {
    Kind.HEIGHT: "Centimetres (157 or 157,5) or hands (15.2 hh).",
    Kind.MICROCHIP: "15 digits.",
    Kind.UELN: "15 letters and digits.",
    Kind.LIST: "One a line.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One choice of a field."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherShown:
    """A value that somebody else entered meanwhile."""

    text: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldShown:
    """A field as `components/field.html` shows it."""

    name: str
    words: str
    widget: str
    text: str
    """What stands in the field, as typed or as kept."""
    was: str
    """What was kept when the page was made: an unchanged field is not entered again."""
    unit: str = ""
    hint: str = ""
    required: bool = False
    max_length: int = 200
    options: tuple[Option, ...] = ()
    seen: int = 0
    """The revision that the page shows."""
    key: str = ""
    problems: tuple[Problem, ...] = ()
    other: OtherShown | None = None
    save_to: str = ""
    """Address that takes this field alone as soon as it is left; empty: saved with its form."""
    saved_at: datetime | None = None


def text_of(value: Value) -> str:
    """Return a value as it stands in a field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list):
        return "\n".join(text_of(one) for one in value)
    if isinstance(value, dict):
        return str(value.get("label") or "")
    return str(value)


def words_of_choice(name: str, choice: str) -> str:
    """Return the words of a choice of a field."""
    listed = _ENUM_WORDS.get(name)
    if listed and choice in {one.value for one in listed}:
        return as_said(words_of(listed(choice)))
    return as_said(choice_words(choice))


def words_of_value(described: Field, value: Value) -> str:
    """Return a value as it is read on a page, with its unit; empty where there is none."""
    if value is None or value == "":
        return ""
    if described.kind is Kind.CHOICE:
        return words_of_choice(described.name, str(value))
    if described.kind is Kind.CHOICES and isinstance(value, list):
        return ", ".join(words_of_choice(described.name, str(one)) for one in value)
    unit = f"\N{NO-BREAK SPACE}{described.unit}" if described.unit else ""
    return f"{text_of(value)}{unit}"


def show_field(
    described: Field,
    value: Value,
    *,
    seen: int = 0,
    typed: str | None = None,
    problems: Iterable[Problem] = (),
    other: OtherShown | None = None,
    save_to: str = "",
    saved_at: datetime | None = None,
) -> FieldShown:
    """Return a field as it is shown; `typed` stands in it where it could not be kept."""
    was = text_of(value)
    text = was if typed is None else typed
    chosen = set(text.split("\n")) if described.kind is Kind.CHOICES else {text}
    mine = tuple(p for p in problems if p.where.field in {described.words, described.name})
    return FieldShown(
        name=described.name,
        words=said(described.words),
        widget=WIDGETS.get(described.kind, "text"),
        text=text,
        was=was,
        unit="" if described.kind is Kind.HEIGHT else described.unit,
        hint=told(HINTS.get(described.kind, "")),
        required=described.required,
        max_length=described.max_length,
        options=tuple(
            Option(value=one, words=words_of_choice(described.name, one), chosen=one in chosen)
            for one in described.choices
        ),
        seen=seen,
        key=str(uuids.uuid4()),
        problems=mine,
        other=other,
        save_to=save_to,
        saved_at=saved_at,
    )


def show_fields(
    fields: Mapping[str, Field],
    values: Mapping[str, Value],
    *,
    seen: int = 0,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    others: Mapping[str, OtherShown] | None = None,
) -> list[FieldShown]:
    """Return a form's fields in the catalogue's order; those that the reader may not see are left out."""
    return [
        show_field(
            one,
            values.get(name),
            seen=seen,
            typed=None if typed is None else typed.get(name),
            problems=problems,
            other=(others or {}).get(name),
        )
        for name, one in fields.items()
        if not values or name in values
    ]


def typed_text(posted: QueryDict, name: str) -> str | None:
    """Return what was typed into a field; None where the form did not have it."""
    if name not in posted and f"{name}.shown" not in posted:
        return None
    return "\n".join(posted.getlist(name))


def typed_texts(posted: QueryDict, fields: Iterable[str]) -> dict[str, str]:
    """Return what was typed into each field that the form had."""
    found = {name: typed_text(posted, name) for name in fields}
    return {name: text for name, text in found.items() if text is not None}


def value_of(described: Field, text: str) -> Value:
    """Return typed text as the catalogue's readers take it."""
    if described.kind in {Kind.CHOICES, Kind.LIST}:
        parts: list[Value] = [part for part in text.replace("\r", "").split("\n") if part.strip()]
        return parts or None
    return text.replace("\r\n", "\n") if described.kind is Kind.LONG_TEXT else text


def read_form(posted: QueryDict, fields: Mapping[str, Field]) -> tuple[dict[str, Value], list[Problem]]:
    """Return what a whole form says, by field, and everything in it that cannot be read."""
    problems: list[Problem] = []
    values: dict[str, Value] = {}
    for name, one in fields.items():
        try:
            values[name] = read_value(one, value_of(one, typed_text(posted, name) or ""))
        except InputProblemsError as error:
            problems += error.problems
    return values, problems


def entries_of_form(posted: QueryDict, fields: Mapping[str, Field]) -> list[Entered]:
    """Return the entries for those fields that were changed since the page was made.

    Each field brings along `<name>.was`, `<name>.seen` and `<name>.key`; see `components/field.html`.
    """
    entries = []
    for name, text in typed_texts(posted, fields).items():
        if text.replace("\r\n", "\n") == posted.get(f"{name}.was", "").replace("\r\n", "\n"):
            continue
        entries.append(
            Entered(
                field=name,
                value=value_of(fields[name], text),
                key=key_of(posted.get(f"{name}.key", "")),
                seen=whole_of(posted.get(f"{name}.seen", "")),
            )
        )
    return entries


def key_of(text: str) -> uuids.UUID:
    """Return the key that a page made for an entry; a new one where it is none."""
    try:
        return uuids.UUID(text)
    except ValueError:
        return uuids.uuid4()


def whole_of(text: str, default: int = 0) -> int:
    """Return a whole number that a page sent back; the default where it is none, or absurd."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else default


@dataclass(frozen=True, slots=True, kw_only=True)
class FactShown:
    """One line of a record's page."""

    words: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormShown:
    """A form: its fields, the problems that belong to none of them, and the key it is sent under."""

    fields: list[FieldShown]
    problems: tuple[Problem, ...] = ()
    uuid: str = field(default_factory=lambda: str(uuids.uuid4()))


def facts(fields: Mapping[str, Field], values: Mapping[str, Value]) -> list[FactShown]:
    """Return a record's filled fields as they are read."""
    shown = [
        FactShown(words=said(one.words), text=words_of_value(one, values.get(name)))
        for name, one in fields.items()
    ]
    return [fact for fact in shown if fact.text]


def homeless(problems: Iterable[Problem], fields: Iterable[FieldShown]) -> tuple[Problem, ...]:
    """Return the problems that no field of the form shows."""
    placed = {problem for one in fields for problem in one.problems}
    return tuple(problem_told(problem) for problem in problems if problem not in placed)
