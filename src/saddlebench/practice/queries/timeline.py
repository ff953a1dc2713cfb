"""Everything that happened to one horse, in order."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime

from django.db import models

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import BackVersion, Horse, Photo, SaddleVersion, StudyVersion, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own


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
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """One horse's events, newest first."""

    horse: str
    events: tuple[Event, ...]


def timeline(actor: Actor | None, uuid: uuids.UUID) -> Timeline:
    """Return a horse's visits, photos, and every version of its backs, its saddles and its fit checks.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    horse = own(Horse, require(actor, Action.SEE_HORSES), uuid)
    events = [*_visits(horse), *_photos(horse), *_backs(horse), *_saddles(horse), *_studies(horse)]
    return Timeline(
        horse=horse.label,
        events=tuple(sorted(events, key=lambda e: (e.day, e.at, str(e.uuid)), reverse=True)),
    )


def _visits(horse: Horse) -> list[Event]:
    rows = Visit.objects.standing().filter(horse=horse).select_related("made_by")
    return [
        Event(
            day=row.date,
            at=row.made_at,
            subject=Subject.VISIT,
            uuid=row.uuid,
            label=row.label,
            by=row.made_by.label,
            detail=row.purpose,
        )
        for row in rows
    ]


def _photos(horse: Horse) -> list[Event]:
    of_saddles = models.Q(horse=None, saddle__horses=horse, saddle__withdrawn_at=None)
    rows = Photo.objects.standing().filter(models.Q(horse=horse) | of_saddles).distinct()
    return [
        Event(
            day=row.visit.date if row.visit else (row.taken_at or row.made_at).date(),
            at=row.made_at,
            subject=Subject.PHOTO,
            uuid=row.uuid,
            label=row.label,
            by=row.made_by.label,
            detail=row.shot or (row.saddle.label if row.saddle else ""),
        )
        for row in rows.select_related("made_by", "visit", "saddle")
    ]


def _backs(horse: Horse) -> list[Event]:
    rows = BackVersion.objects.filter(back__horse=horse, back__withdrawn_at=None)
    return [
        Event(
            day=row.back.measured_on if row.number == 1 else row.made_at.date(),
            at=row.made_at,
            subject=Subject.BACK,
            uuid=row.back.uuid,
            label=row.back.label,
            by=row.made_by.label,
            number=row.number,
            detail=row.why,
        )
        for row in rows.select_related("back", "made_by").defer("document")
    ]


def _saddles(horse: Horse) -> list[Event]:
    rows = SaddleVersion.objects.filter(saddle__horses=horse, saddle__withdrawn_at=None)
    return [
        Event(
            day=row.made_at.date(),
            at=row.made_at,
            subject=Subject.SADDLE,
            uuid=row.saddle.uuid,
            label=row.saddle.label,
            by=row.made_by.label,
            number=row.number,
            detail=row.why,
        )
        for row in rows.select_related("saddle", "made_by").defer("document")
    ]


def _studies(horse: Horse) -> list[Event]:
    rows = StudyVersion.objects.filter(study__horse=horse, study__withdrawn_at=None)
    return [
        Event(
            day=row.study.visit.date if row.study.visit else row.made_at.date(),
            at=row.made_at,
            subject=Subject.STUDY,
            uuid=row.study.uuid,
            label=row.study.label,
            by=row.made_by.label,
            number=row.number,
            detail=", ".join(filter(None, (_versions(row), row.why))),
        )
        for row in rows.select_related("study__visit", "made_by", "back_version", "saddle_version").defer(
            "document", "back_version__document", "saddle_version__document"
        )
    ]


def _versions(run: StudyVersion) -> str:
    return f"on back version {run.back_version.number}, saddle version {run.saddle_version.number}"
