"""Measuring a back: each reading kept as it is entered, and the finished back recorded from them."""

import math
import re
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError, Where, input_problem
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document, check_document
from saddlebench.practice.enums import Action, Outcome, Subject
from saddlebench.practice.models import Back, BackVersion, Capture, Entry, Horse, Instrument, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.entering import Entered, EntryResult, OtherValue
from saddlebench.practice.services.records import Recorded, correct_back, record_back

_NAME = re.compile(r"[a-z0-9_]+(/[a-z0-9_]+)*")
_LONGEST_NAME = 80
_LONGEST_TEXT = 10_000
_MOST_AT_ONCE = 5_000
DAY_ON_CARD = "source/measured_on"
"""The entry that says on which day readings were written down, where that is not the day they were begun."""
HOUR_ON_CARD = "source/begun_at"
_HOUR = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


class CaptureFinishedError(SaddlebenchError):
    """The back was finished: its readings stand as they were recorded."""

    def __init__(self) -> None:
        super().__init__(
            "This back is finished, and its readings stand as they were recorded. To correct one, take the "
            "measuring up again; the recorded version stays."
        )


def start_capture(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    instrument: Document,
    *,
    measured_on: date,
    label: str = "",
    visit_uuid: uuids.UUID | None = None,
    rebuild_of: tuple[uuids.UUID, int] | None = None,
    uuid: uuids.UUID | None = None,
) -> Capture:
    """Start measuring a horse's back, or the rebuild of a version of it; sent again, it is the same.

    Raises
    ------
    InputProblemsError
        If the instrument's description is no document.
    """
    allowed = require(actor, Action.RECORD_BACK)
    check_document(instrument)
    chosen = uuid or uuids.uuid4()
    there = Capture.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, Action.RECORD_BACK, "start_capture", Subject.CAPTURE, chosen) as done:
        horse = own(Horse, allowed, horse_uuid)
        rebuilt, number = rebuild_of or (None, None)
        return Capture.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=label.strip()[:200] or _label(horse, measured_on),
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=horse,
            visit=own(Visit, allowed, visit_uuid) if visit_uuid else None,
            measured_on=measured_on,
            instrument=instrument.text,
            rebuild_of=own(Back, allowed, rebuilt) if rebuilt else None,
            rebuild_number=number,
        )


def enter_readings(
    actor: Actor | None, uuid: uuids.UUID, entries: Sequence[Entered]
) -> tuple[EntryResult, ...]:
    """Keep readings as they were read, and return what became of each.

    As for every entry: a key that was sent before counts once, and what somebody else changed since the
    revision that was seen is not overwritten but kept beside it.

    Raises
    ------
    CaptureFinishedError
        If the back was finished.
    InputProblemsError
        With every entry that is no reading; then nothing is kept. Also if the day is changed of a back that
        is recorded.
    """
    allowed = require(actor, Action.RECORD_BACK)
    _refuse_unreadable(entries)
    with deed(actor, Action.RECORD_BACK, "enter_readings", Subject.CAPTURE, uuid) as done:
        capture = own(Capture, allowed, uuid, locked=True)
        taking = _Taking(done, capture, entries)
        results = [taking.take(one) for one in entries]
        if taking.new and capture.finished_at is not None:
            raise CaptureFinishedError
        _move_to_day(capture, taking.new)
        Entry.objects.bulk_create(taking.new)
        capture.save(update_fields=["revision", "measured_on", "label"])
    return tuple(results)


def _move_to_day(capture: Capture, new: Sequence[Entry]) -> None:
    """Give the measuring the day that its card has, and with it the name that goes by the day."""
    days = [one.value for one in new if one.field == DAY_ON_CARD and one.outcome == Outcome.SAVED.value]
    day = date.fromisoformat(days[-1]) if days and isinstance(days[-1], str) else capture.measured_on
    if day == capture.measured_on:
        return
    if Back.objects.of(capture.practice_id).filter(uuid=capture.uuid).exists():
        what = f"the back is recorded as measured on {capture.measured_on.isoformat()}, and that stands"
        raise input_problem(what, "Begin another measuring with the right day.", Where(field=DAY_ON_CARD))
    if capture.label == _label(capture.horse, capture.measured_on):
        capture.label = _label(capture.horse, day)
    capture.measured_on = day


def _label(horse: Horse, day: date) -> str:
    return f"{horse.label}, {day.isoformat()}"[:200]


@dataclass(slots=True)
class _Taking:
    """Entries of one call, with what stood before them."""

    done: Deed
    capture: Capture
    entries: Sequence[Entered]
    new: list[Entry] = field(default_factory=list)
    known: dict[uuids.UUID, Entry] = field(init=False)
    last: dict[str, Entry] = field(init=False)

    def __post_init__(self) -> None:
        mine = Entry.objects.filter(subject_uuid=self.capture.uuid).select_related("made_by")
        self.known = {entry.key: entry for entry in mine.filter(key__in=[one.key for one in self.entries])}
        named = {one.field for one in self.entries}
        saved = mine.filter(outcome=Outcome.SAVED.value, field__in=named).order_by("revision")
        self.last = {entry.field: entry for entry in saved}

    def take(self, one: Entered) -> EntryResult:
        """Add one entry to those that are written, unless it is there, and return what became of it."""
        there = self.known.get(one.key)
        if there is not None:
            return self._result(there)
        last = self.last.get(one.field)
        before = last.value if last else None
        if one.value == before and type(one.value) is type(before):
            outcome = Outcome.SAME
        elif last is not None and last.pk and last.revision > one.seen:
            outcome = Outcome.HELD
        else:
            outcome = Outcome.SAVED
            self.capture.revision += 1
        entry = Entry(
            practice_id=self.done.actor.practice_id,
            audit=self.done.audit,
            made_at=self.done.audit.made_at,
            made_by_id=self.done.actor.user_id,
            subject=Subject.CAPTURE.value,
            subject_uuid=self.capture.uuid,
            key=one.key,
            field=one.field,
            value=one.value,
            before=before,
            seen=one.seen,
            revision=self.capture.revision,
            outcome=outcome.value,
        )
        self.new.append(entry)
        self.known[one.key] = entry
        if outcome is Outcome.SAVED:
            self.last[one.field] = entry
        return self._result(entry)

    def _result(self, entry: Entry) -> EntryResult:
        held = entry.outcome == Outcome.HELD.value
        return EntryResult(
            field=entry.field,
            value=entry.value,
            outcome=Outcome(entry.outcome),
            revision=entry.revision,
            entered_at=entry.made_at,
            other=self._other(entry.field) if held else None,
        )

    def _other(self, name: str) -> OtherValue | None:
        last = self.last.get(name)
        if last is None:
            return None
        return OtherValue(
            value=last.value, entered_by=last.made_by.label, entered_at=last.made_at, revision=last.revision
        )


def _refuse_unreadable(entries: Sequence[Entered]) -> None:
    if len(entries) > _MOST_AT_ONCE:
        msg = f"{len(entries)} readings at once are more than the {_MOST_AT_ONCE} that are taken"
        raise input_problem(msg, "Send fewer at a time.")
    problems = [
        Problem(what="is no reading", cure="Load the page again.", where=Where(field=one.field[:80]))
        for one in entries
        if len(one.field) > _LONGEST_NAME or not _NAME.fullmatch(one.field) or not _is_plain(one.value)
    ]
    problems += [
        Problem(what="is no day", cure="Write year-month-day.", where=Where(field=one.field))
        for one in entries
        if one.field == DAY_ON_CARD and one.value is not None and not _is_day(one.value)
    ]
    problems += [
        Problem(what="is no time of day", cure="Write hours:minutes, as 14:30.", where=Where(field=one.field))
        for one in entries
        if one.field == HOUR_ON_CARD
        and one.value is not None
        and not (isinstance(one.value, str) and _HOUR.fullmatch(one.value))
    ]
    if problems:
        raise InputProblemsError(problems)


def _is_day(value: Value) -> bool:
    try:
        return isinstance(value, str) and date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def _is_plain(value: Value) -> bool:
    if isinstance(value, bool) or value is None:
        return True
    if isinstance(value, str):
        return len(value) <= _LONGEST_TEXT and all(one.isprintable() or one in "\r\n\t" for one in value)
    return isinstance(value, int | float) and math.isfinite(value)


def finish_capture(
    actor: Actor | None, uuid: uuids.UUID, document: Document, *, why: str = "", seen: int = 0
) -> Recorded[BackVersion]:
    """Record the back that the readings make: the first time, or as a corrected version.

    Raises
    ------
    InputProblemsError
        If the document cannot be a back record, or a correction does not say why it was made.
    """
    allowed = require(actor, Action.RECORD_BACK)
    with deed(actor, Action.RECORD_BACK, "finish_capture", Subject.CAPTURE, uuid) as done:
        capture = own(Capture, allowed, uuid, locked=True)
        if capture.rebuild_of is not None:
            # A rebuild must never stand among what was measured of the horse.
            raise input_problem("this is a rebuild, not the horse", "Compare it with its original.")
        back = Back.objects.of(allowed.practice_id).filter(uuid=uuid).first()
        if back is not None and capture.finished_at is not None and back.current is not None:
            return Recorded(version=back.current, is_current=True, current=back.current)
        if back is None:
            recorded = record_back(
                actor,
                capture.horse.uuid,
                document,
                measured_on=capture.measured_on,
                label=capture.label,
                visit_uuid=capture.visit.uuid if capture.visit else None,
                uuid=uuid,
            )
        elif not why.strip():
            raise input_problem(
                "a correction says why it was made", "Write it in a few words.", Where(field="why")
            )
        else:
            recorded = correct_back(actor, uuid, document, why=why, seen=seen)
        capture.finished_at = done.audit.made_at
        capture.save(update_fields=["finished_at"])
        return recorded


def take_up_again(actor: Actor | None, uuid: uuids.UUID) -> Capture:
    """Open a finished measuring again, to correct or complete it; what was recorded stays."""
    allowed = require(actor, Action.RECORD_BACK)
    with deed(actor, Action.RECORD_BACK, "take_up_again", Subject.CAPTURE, uuid):
        capture = own(Capture, allowed, uuid, locked=True)
        capture.finished_at = None
        capture.save(update_fields=["finished_at"])
        return capture


def restate_instrument(actor: Actor | None, uuid: uuids.UUID, instrument: Document) -> Capture:
    """State a measuring's instrument anew, while it is going on: what is added may be read less surely.

    Raises
    ------
    CaptureFinishedError
        If the back was finished.
    InputProblemsError
        If the instrument's description is no document.
    """
    allowed = require(actor, Action.RECORD_BACK)
    check_document(instrument)
    with deed(actor, Action.RECORD_BACK, "restate_instrument", Subject.CAPTURE, uuid):
        capture = own(Capture, allowed, uuid, locked=True)
        if capture.finished_at is not None:
            raise CaptureFinishedError
        capture.instrument = instrument.text
        capture.save(update_fields=["instrument"])
        return capture


def describe_instrument(
    actor: Actor | None, label: str, document: Document, uuid: uuids.UUID | None = None
) -> Instrument:
    """Keep an instrument of the practice's own: a new one, or a better description of one that is there.

    Backs already measured hold the description that was used, and do not change.

    Raises
    ------
    InputProblemsError
        If it has no name, or the description is no document.
    """
    allowed = require(actor, Action.RECORD_BACK)
    check_document(document)
    if not label.strip():
        raise input_problem("an instrument has a name", "Write what you call it.", Where(field="name"))
    chosen = uuid or uuids.uuid4()
    with deed(actor, Action.RECORD_BACK, "describe_instrument", Subject.INSTRUMENT, chosen) as done:
        mine = Instrument.objects.of(allowed.practice_id).standing().filter(uuid=chosen)
        there = mine.select_for_update().first()
        if there is None:
            return Instrument.objects.create(
                uuid=chosen,
                practice_id=allowed.practice_id,
                label=label.strip()[:200],
                made_at=done.audit.made_at,
                made_by_id=allowed.user_id,
                document=document.text,
            )
        there.label, there.document = label.strip()[:200], document.text
        there.revision += 1
        there.save(update_fields=["label", "document", "revision"])
        return there
