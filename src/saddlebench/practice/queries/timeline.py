"""Everything that happened to one horse, in order."""

import uuid as uuids
from collections.abc import Callable
from dataclasses import dataclass

from django.db import models

from saddlebench.practice.catalogue.shots import shots_of_rows
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Advice, BackVersion, Horse, Photo, SaddleVersion, StudyVersion, Visit
from saddlebench.practice.queries.events import Event
from saddlebench.practice.queries.work_events import choice_events, order_events, plan_events
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.deeds import own


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """One horse's events, newest first."""

    horse: str
    events: tuple[Event, ...]


def timeline(actor: Actor | None, uuid: uuids.UUID) -> Timeline:
    """Return a horse's visits, advice, photos, and every version of its backs, saddles and fit checks.

    Advice names people: it is left out where the actor may not see them.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.SEE_HORSES)
    horse = own(Horse, allowed, uuid)
    # a workshop sees its own orders, and not those of another
    sources = (
        [*SOURCES, _advice, order_events] if may(allowed, Action.SEE_PEOPLE, allowed.practice_id) else SOURCES
    )
    events = [event for source in sources for event in source(horse)]
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
    words = {shot.name: shot.words for shot in shots_of_rows(horse.practice.shots)}
    return [
        Event(
            day=row.visit.date if row.visit else (row.taken_at or row.made_at).date(),
            at=row.made_at,
            subject=Subject.PHOTO,
            uuid=row.uuid,
            label=row.label,
            by=row.made_by.label,
            detail=words.get(row.shot, row.shot) or (row.saddle.label if row.saddle else ""),
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


def _advice(horse: Horse) -> list[Event]:
    rows = Advice.objects.filter(visit__horse=horse, visit__withdrawn_at=None)
    return [
        Event(
            day=row.visit.date,
            at=row.made_at,
            subject=Subject.VISIT,
            uuid=row.visit.uuid,
            label=row.said,
            by=row.made_by.label,
            words="Advice declined" if row.is_declined else "Advice given",
            detail=f"declined by {row.declined_by}" if row.declined_by else "",
        )
        for row in rows.select_related("visit", "made_by")
    ]


SOURCES: tuple[Callable[[Horse], list[Event]], ...] = (
    _visits,
    _photos,
    _backs,
    _saddles,
    _studies,
    plan_events,
    choice_events,
)
"""What a timeline is made of; a new kind of record that happens to a horse adds its events here."""
