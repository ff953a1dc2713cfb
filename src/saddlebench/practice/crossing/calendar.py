"""The diary as a calendar (RFC 5545), for a phone's own calendar to show."""

from datetime import UTC, date, timedelta

from icalendar import Calendar, Event

from saddlebench import __version__
from saddlebench.practice.enums import DiaryKind, Purpose, RecheckReason
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.diary import DiaryEntry, diary
from saddlebench.practice.rules import Actor


def diary_calendar(actor: Actor | None, first: date, last: date) -> bytes:
    """Return the diary from one day to another as an iCalendar file, what is overdue included."""
    shown = diary(actor, first, last)
    calendar = Calendar()
    calendar.add("prodid", f"-//saddlebench//diary {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for entry in (*shown.overdue, *shown.entries):
        calendar.add_component(_event(entry))
    # A time zone's rules are given from the year in question on: phones choke on a century of them.
    calendar.add_missing_timezones(
        first_date=first - timedelta(days=366), last_date=last + timedelta(days=366)
    )
    return bytes(calendar.to_ical())


def _event(entry: DiaryEntry) -> Event:
    event = Event()
    # A saddle may be on trial again: its next event is another one than the last only by its sequence.
    trial = "trial-" if entry.kind is DiaryKind.TRIAL else ""
    event.add("uid", f"{trial}{entry.uuid}@saddlebench")
    event.add("dtstamp", entry.made_at.astimezone(UTC))
    event.add("sequence", entry.revision)
    event.add("dtstart", entry.starts_at or entry.day)
    if entry.starts_at is None:
        # The end of a whole day is the day after (RFC 5545, 3.6.1).
        event.add("dtend", entry.day + timedelta(days=1))
    event.add("summary", ": ".join(part for part in (entry.label, _said(entry)) if part))
    if entry.place:
        event.add("location", entry.place)
    if entry.client:
        event.add("description", entry.client)
    event.add("transp", "TRANSPARENT" if entry.starts_at is None else "OPAQUE")
    return event


def _said(entry: DiaryEntry) -> str:
    match entry.kind:
        case DiaryKind.VISIT:
            return str(words_of(Purpose(entry.reason)))
        case DiaryKind.RECHECK:
            return f"{words_of(entry.kind)}: {words_of(RecheckReason(entry.reason))}"
        case DiaryKind.ORDER:
            return f"{words_of(entry.kind)} ({entry.reason}), for {entry.horse}"
        case DiaryKind.TRIAL:
            return str(words_of(entry.kind))
