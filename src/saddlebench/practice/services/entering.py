"""Entering values, one field or several: saved as they come, never twice, and no one's work overwritten."""

import uuid as uuids
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Value, read_value
from saddlebench.practice.enums import Outcome, Subject
from saddlebench.practice.models import Answer, Client, Entry, Horse, Saddle, Visit, VisitSaddle, Yard
from saddlebench.practice.models.base import Kept, Withdrawable
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import (
    SHAPES,
    Shape,
    column_value,
    link_value,
    linked,
    put_column,
    refuse_impossible,
)
from saddlebench.practice.services.deeds import Deed, NotFoundError, deed, own
from saddlebench.practice.services.finding import refresh_found_by


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """One value as a page sends it."""

    field: str
    value: Value
    key: uuids.UUID
    """Made by the page once per entry, so that sending it again changes nothing."""
    seen: int
    """The revision that the page showed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherValue:
    """What somebody else entered meanwhile."""

    value: Value
    entered_by: str
    entered_at: datetime
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryResult:
    """What became of one entry; when held, what stands instead. Mine is kept in either case."""

    field: str
    value: Value
    outcome: Outcome
    revision: int
    entered_at: datetime
    other: OtherValue | None = None


def enter(
    actor: Actor | None, subject: Subject, uuid: uuids.UUID, entries: Sequence[Entered]
) -> tuple[EntryResult, ...]:
    """Enter values into a record, and return what became of each.

    An entry whose key was sent before returns what became of it then. An entry into a field that somebody
    else changed since the revision that was seen is held: kept, shown beside the other value, not applied.
    Entering it again with the newer revision applies it.

    Raises
    ------
    NotAllowedError, NotFoundError
        If the actor may not, or has no such record.
    InputProblemsError
        With every problem of every value; then nothing is entered.
    """
    shape = SHAPES[subject]
    allowed = require(actor, shape.action)
    _owner_row(shape, subject, allowed, uuid, locked=False)
    values = _read(shape, allowed, entries)
    known = _repeated(uuid, entries)
    fresh = [one for one in entries if one.key not in known]
    results = dict(known)
    if fresh:
        with deed(actor, shape.action, "enter", subject, uuid) as done:
            row, head = _owner_row(shape, subject, allowed, uuid, locked=True)
            # Another request with the same key may have come first while this one waited for the lock.
            results |= _repeated(uuid, fresh)
            for one in fresh:
                if one.key not in results:
                    results[one.key] = _apply(_Place(shape, subject, uuid, row, head, done), one, values)
            refresh_found_by(horses_found_by(row))
    return tuple(results[one.key] for one in entries)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where entries of one call go."""

    shape: Shape
    subject: Subject
    uuid: uuids.UUID
    row: Kept
    """The record itself; of a saddle tried at a visit, the visit."""
    head: Kept | VisitSaddle
    """What counts the revisions."""
    deed: Deed


def _owner_row(
    shape: Shape, subject: Subject, actor: Actor, uuid: uuids.UUID, *, locked: bool
) -> tuple[Kept, Kept | VisitSaddle]:
    if subject is not Subject.VISIT_SADDLE:
        row = own(shape.model, actor, uuid, locked=locked)
        return row, row
    tried = VisitSaddle.objects.filter(uuid=uuid, visit__practice_id=actor.practice_id)
    head = tried.select_related("visit").first()
    if head is None:
        raise NotFoundError("saddle tried at a visit", uuid)
    visit = own(Visit, actor, head.visit.uuid, locked=locked)
    # Read again under the visit's lock: the revision may have moved while waiting for it.
    head.refresh_from_db(fields=["revision"])
    return visit, head


def _read(shape: Shape, actor: Actor, entries: Iterable[Entered]) -> dict[uuids.UUID, Value]:
    problems: list[Problem] = []
    values: dict[uuids.UUID, Value] = {}
    fields = shape.fields
    for one in entries:
        if one.field not in fields and one.field not in shape.links:
            problems.append(_no_such_field(one.field))
            continue
        try:
            if one.field in shape.links:
                values[one.key] = _link_uuid(linked(shape, actor, one.field, one.value))
            else:
                values[one.key] = read_value(fields[one.field], one.value)
            _own_person(actor, one.field, values[one.key])
        except InputProblemsError as error:
            problems += error.problems
    if problems:
        raise InputProblemsError(problems)
    return values


def _no_such_field(name: str) -> Problem:
    return Problem(
        what="is not a field of this record", cure="Load the page again.", where=Where(field=name[:80])
    )


def _link_uuid(row: Kept | None) -> Value:
    return None if row is None else str(row.uuid)


def _own_person(actor: Actor, name: str, value: Value) -> None:
    client = value.get("client") if isinstance(value, dict) else None
    if client and not Client.objects.of(actor.practice_id).filter(uuid=str(client)).exists():
        problem = Problem(
            what="is not in this practice's list", cure="Choose the person again.", where=Where(field=name)
        )
        raise InputProblemsError([problem])


def _repeated(uuid: uuids.UUID, entries: Iterable[Entered]) -> dict[uuids.UUID, EntryResult]:
    sent = {one.key: one for one in entries}
    found = Entry.objects.filter(subject_uuid=uuid, key__in=list(sent))
    results: dict[uuids.UUID, EntryResult] = {}
    for entry in found:
        if entry.field != sent[entry.key].field:
            problem = Problem(
                what="the page sent one key for two fields",
                cure="Load the page again; what was saved is there.",
                where=Where(field=sent[entry.key].field),
            )
            raise InputProblemsError([problem])
        held = entry.outcome == Outcome.HELD
        results[entry.key] = EntryResult(
            field=entry.field,
            value=entry.value,
            outcome=Outcome(entry.outcome),
            revision=entry.revision,
            entered_at=entry.made_at,
            other=_last_saved(uuid, entry.field) if held else None,
        )
    return results


def _last_saved(uuid: uuids.UUID, name: str) -> OtherValue | None:
    saved = Entry.objects.filter(subject_uuid=uuid, field=name, outcome=Outcome.SAVED.value)
    last = saved.select_related("made_by").order_by("-revision").first()
    if last is None:
        return None
    return OtherValue(
        value=last.value,
        entered_by=last.made_by.label,
        entered_at=last.made_at,
        revision=last.revision,
    )


def _apply(place: _Place, one: Entered, values: dict[uuids.UUID, Value]) -> EntryResult:
    value = values[one.key]
    before = _current(place, one.field)
    other = _last_saved(place.uuid, one.field)
    if value == before:
        outcome = Outcome.SAME
    elif other is not None and other.revision > one.seen:
        outcome = Outcome.HELD
    else:
        outcome = Outcome.SAVED
        _put(place, one.field, value)
    entry = Entry.objects.create(
        practice_id=place.deed.actor.practice_id,
        audit=place.deed.audit,
        made_at=place.deed.audit.made_at,
        made_by_id=place.deed.actor.user_id,
        subject=place.subject.value,
        subject_uuid=place.uuid,
        key=one.key,
        field=one.field,
        value=value,
        before=before,
        seen=one.seen,
        revision=place.head.revision,
        outcome=outcome.value,
    )
    return EntryResult(
        field=one.field,
        value=value,
        outcome=outcome,
        revision=entry.revision,
        entered_at=entry.made_at,
        other=other if outcome is Outcome.HELD else None,
    )


def _current(place: _Place, name: str) -> Value:
    if name in place.shape.links:
        return link_value(place.row, name)
    if name in place.shape.columns:
        return column_value(place.row, name)
    answer = Answer.objects.filter(subject_uuid=place.uuid, field=name).first()
    return None if answer is None else answer.value


def _put(place: _Place, name: str, value: Value) -> None:
    head, row, actor = place.head, place.row, place.deed.actor
    head.revision += 1
    head.save(update_fields=["revision"])
    if name in place.shape.links:
        setattr(row, name, linked(place.shape, actor, name, value))
        refuse_impossible(row)
        row.save(update_fields=[name])
    elif name in place.shape.columns:
        put_column(row, place.shape.columns[name], value)
        refuse_impossible(row)
        row.save(update_fields=[name])
    else:
        Answer.objects.update_or_create(
            subject_uuid=place.uuid,
            field=name,
            defaults={
                "visit_id": row.pk,
                "value": value,
                "revision": head.revision,
                "entered_at": place.deed.audit.made_at,
                "entered_by_id": actor.user_id,
            },
        )


def horses_found_by(row: Withdrawable) -> list[int]:
    """Return the ids of the horses whose search text a record is part of."""
    if isinstance(row, Horse):
        return [row.id]
    if isinstance(row, Client | Yard):
        return list(row.horses.values_list("id", flat=True))
    return list(row.horses.values_list("id", flat=True)) if isinstance(row, Saddle) else []
