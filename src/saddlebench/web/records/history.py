"""A horse's timeline, who entered what when, and the versions of a record with what differed."""

import uuid as uuids
from dataclasses import dataclass

from django.http import HttpResponse
from django.utils.translation import gettext

from saddlebench.practice import queries
from saddlebench.practice.catalogue import Field
from saddlebench.practice.enums import Action, Outcome, Subject
from saddlebench.practice.queries.versions import Difference, StudyUse, VersionRow
from saddlebench.practice.rules import may
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import text_of, whole_of, words_of_value
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.records.choosing import WORDS
from saddlebench.web.records.kinds import KINDS, subject_of

_VERSIONED = {Subject.BACK: None, Subject.SADDLE: None, Subject.STUDY: None}


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def timeline(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show everything that happened to a horse."""
    page = queries.timeline(request.actor, uuid)
    return show(
        request, "records/timeline.html", f"{page.horse}: {gettext('Timeline')}", page, horse_uuid=uuid
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryShown:
    """One entry, in words."""

    row: queries.EntryRow
    field: str
    before: str
    value: str
    was_held: bool


@signed_in(Action.SEE_ENTRIES)
def entries(request: PageRequest, subject: str, uuid: uuids.UUID) -> HttpResponse:
    """Show who entered what when."""
    kind = KINDS[subject_of(subject, KINDS)]
    standing = kind.read(request.actor, uuid)
    rows = [_entry(row, kind.fields.get(row.field)) for row in queries.entries_of(request.actor, uuid)]
    title = f"{standing.label}: who entered what"
    return show(request, "records/entries.html", title, rows, label=standing.label, url=kind.url, uuid=uuid)


def _entry(row: queries.EntryRow, described: Field | None) -> EntryShown:
    words = described.words if described else WORDS.get(row.field, row.field)
    texts = [
        words_of_value(described, value) if described else ("(one of the list)" if value else "")
        for value in (row.before, row.value)
    ]
    held = row.outcome is Outcome.HELD
    return EntryShown(row=row, field=words, before=texts[0], value=texts[1], was_held=held)


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionsPage:
    """The versions of a record, and how two of them differ."""

    subject: Subject
    uuid: uuids.UUID
    rows: tuple[VersionRow, ...]
    before: int
    after: int
    differences: tuple[Difference, ...]
    used: tuple[StudyUse, ...]


@signed_in(Action.SEE_SADDLES)
def versions(request: PageRequest, subject: str, uuid: uuids.UUID) -> HttpResponse:
    """Show the versions of a back, a saddle or a fit check, and where two differ."""
    of = subject_of(subject, _VERSIONED)
    rows = queries.versions_of(request.actor, of, uuid)
    numbers = [row.number for row in rows]
    after = whole_of(request.GET.get("after", ""), numbers[0] if numbers else 0)
    before = whole_of(request.GET.get("before", ""), numbers[1] if len(numbers) > 1 else after)
    differ = before != after and {before, after} <= set(numbers)
    sees_horses = may(request.actor, Action.SEE_HORSES, request.actor.practice_id)
    page = VersionsPage(
        subject=of,
        uuid=uuid,
        rows=rows,
        before=before,
        after=after,
        differences=queries.differences(request.actor, of, uuid, before, after) if differ else (),
        used=queries.study_use(request.actor, uuid) if of is Subject.STUDY and sees_horses else (),
    )
    shown = [
        (one.place.strip("/").replace("/", " › "), text_of(one.before), text_of(one.after))
        for one in page.differences
    ]
    return show(request, "records/versions.html", "Versions", page, shown=shown)
