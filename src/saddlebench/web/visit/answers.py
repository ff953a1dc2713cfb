"""Answers as they are shown and saved: one field with what is kept, what others entered, and when."""

import json
import uuid as uuids
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.http import QueryDict

from saddlebench.engine.errors import Problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue import VISIT_HEAD_FIELDS, Field, Kind, Value
from saddlebench.practice.catalogue.visit import PACE_WORDS, REINS
from saddlebench.practice.enums import Action
from saddlebench.practice.estimates import SCALE
from saddlebench.practice.queries.visits import AnswerShown, VisitPage
from saddlebench.practice.rules import Actor, may
from saddlebench.practice.services import Entered, EntryResult
from saddlebench.web.base.fields import (
    FieldShown,
    Option,
    key_of,
    show_field,
    text_of,
    typed_text,
    value_of,
    whole_of,
    words_of_value,
)
from saddlebench.web.visit.path import Group

_WIDGETS = {Kind.CHOICE: "segments", Kind.CHOICES: "chips", Kind.YES_NO: "segments", Kind.PERSON: "person"}
_OF_A_DIP = "Dip under 5 kg on a 50 mm disc, "
_SHORTENED = tuple(
    f", {said}"
    for said in (
        *("placed", "girthed", "rider up", "after 20 minutes"),
        *(f"{pace}, {rein} rein" for pace in PACE_WORDS.values() for rein in REINS),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherValue:
    """What somebody else entered, and how a tap takes it over."""

    text: str
    by: str
    at: datetime
    values: str
    """As the field would send it, JSON."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerField:
    """A field on a page of the visit."""

    field: FieldShown
    others: tuple[OtherValue, ...] = ()
    echo: str = ""
    """The value as it was understood, with its unit."""
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupShown:
    """Fields that stand together."""

    words: str
    name: str
    fields: tuple[AnswerField, ...]
    filled: int
    is_open: bool


def show_answer(
    described: Field,
    held: AnswerShown | None,
    *,
    value: Value = None,
    seen: int = 0,
    typed: str | None = None,
    problems: Iterable[Problem] = (),
    result: EntryResult | None = None,
    reader: str = "",
) -> AnswerField:
    """Return one field: as kept, or as typed where that was not kept."""
    kept = held.value if held else value
    field = show_field(described, kept, seen=seen, typed=typed, problems=problems)
    others = list(_others(described, held))
    if result is not None and result.other is not None:
        other = result.other
        others = [_other(described, other.value, other.entered_by, other.entered_at)]
    return AnswerField(
        field=_fitted(described, field),
        others=tuple(others),
        echo=words_of_value(described, kept) if described.kind in {Kind.NUMBER, Kind.WHOLE} else "",
        at=held.entered_at if held else None,
        by=held.entered_by if held and held.entered_by != reader else "",
    )


def _others(described: Field, held: AnswerShown | None) -> Iterable[OtherValue]:
    return (_other(described, one.value, one.by, one.at) for one in (held.held if held else ()))


def _other(described: Field, value: Value, by: str, at: datetime) -> OtherValue:
    texts = value if isinstance(value, list) and described.kind is Kind.CHOICES else [text_of(value)]
    said = words_of_value(described, value) or "nothing"
    return OtherValue(text=said, by=by, at=at, values=json.dumps(texts))


def _fitted(described: Field, field: FieldShown) -> FieldShown:
    """Return the field with the words and the widget that suit a thumb."""
    words = field.words.removeprefix(_OF_A_DIP)
    words = words[:1].upper() + words[1:]
    for said in _SHORTENED:
        words = words.removesuffix(said)
    widget, options = _WIDGETS.get(described.kind, field.widget), field.options
    if described.kind is Kind.WHOLE and (described.low, described.high) == (1, 9):
        widget = "score"
        options = tuple(
            Option(value=str(point.score), words=point.word, chosen=str(point.score) == field.text)
            for point in SCALE
        )
    elif described.kind is Kind.YES_NO:
        options = tuple(
            Option(value=value, words=words_, chosen=field.text == value)
            for value, words_ in (("yes", "Yes"), ("no", "No"))
        )
    return replace(field, words=words, widget=widget, options=options)


def group_shown(group: Group, fields: Sequence[AnswerField], *, is_open: bool) -> GroupShown:
    """Return a group with how much of it is filled."""
    filled = sum(bool(one.field.was) for one in fields)
    return GroupShown(
        words=group.words, name=group.name, fields=tuple(fields), filled=filled, is_open=is_open
    )


def may_see(page: VisitPage, name: str) -> bool:
    """Tell whether the reader may see a field."""
    return name in VISIT_HEAD_FIELDS or name in page.answers


def entry_of(actor: Actor, posted: QueryDict, described: Field) -> Entered | None:
    """Return the entry of one field that a page sends by itself; None where the form has no such field."""
    text = typed_text(posted, described.name)
    if text is None:
        return None
    return Entered(
        field=described.name,
        value=_person(actor, text) if described.kind is Kind.PERSON else value_of(described, text),
        key=key_of(posted.get(f"{described.name}.key", "")),
        seen=whole_of(posted.get(f"{described.name}.seen", "")),
    )


def entries_of(actor: Actor, posted: QueryDict, fields: Mapping[str, Field]) -> list[Entered]:
    """Return the entries for those fields of a form that were changed since the page was made."""
    entries = []
    for name, described in fields.items():
        text = typed_text(posted, name)
        was = posted.get(f"{name}.was", "").replace("\r\n", "\n")
        if text is None or text.replace("\r\n", "\n") == was:
            continue
        entry = entry_of(actor, posted, described)
        if entry is not None:
            entries.append(entry)
    return entries


def _person(actor: Actor, text: str) -> Value:
    """Return a person by name; one of the practice's people where exactly one is called so."""
    label = text.strip()
    if not label:
        return None
    found: list[uuids.UUID] = []
    if may(actor, Action.SEE_PEOPLE, actor.practice_id):
        rows = queries.find_clients(actor, label).rows
        found = [row.uuid for row in rows if row.label.casefold() == label.casefold()]
    return {"label": label, "client": str(found[0]) if len(found) == 1 else None}
