"""One thing that happened to a horse, as its timeline shows it."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.practice.enums import Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that happened."""

    day: date
    at: datetime
    subject: Subject
    uuid: uuids.UUID
    label: str
    by: str
    number: int | None = None
    """Of a version."""
    words: str = ""
    """What happened, where the record's own kind does not say it."""
    detail: str = ""
