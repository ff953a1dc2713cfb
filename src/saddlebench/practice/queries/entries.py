"""Who entered what when."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Outcome
from saddlebench.practice.models import Entry
from saddlebench.practice.rules import Actor, require

_SHOWN = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryRow:
    """One entry, whatever became of it."""

    at: datetime
    by: str
    field: str
    before: Value
    value: Value
    outcome: Outcome
    revision: int


def entries_of(actor: Actor | None, subject_uuid: uuids.UUID, *, field: str = "") -> tuple[EntryRow, ...]:
    """Return the entries into a record or one of its fields, newest first."""
    allowed = require(actor, Action.SEE_ENTRIES)
    rows = Entry.objects.filter(practice_id=allowed.practice_id, subject_uuid=subject_uuid)
    if field:
        rows = rows.filter(field=field)
    return tuple(
        EntryRow(
            at=row.made_at,
            by=row.made_by.label,
            field=row.field,
            before=row.before,
            value=row.value,
            outcome=Outcome(row.outcome),
            revision=row.revision,
        )
        for row in rows.select_related("made_by").order_by("-id")[:_SHOWN]
    )
