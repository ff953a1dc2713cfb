"""Backs being measured, backs as recorded, and instruments."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Outcome
from saddlebench.practice.models import Back, Capture, Entry, Instrument, Saddle
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own

_MOST = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureRow:
    """A back that is being measured."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    measured_on: date
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapturePage:
    """A back that is being measured, with every reading as it stands now."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    visit: uuids.UUID | None
    measured_on: date
    instrument: str
    """Its description (JSON)."""
    revision: int
    values: Mapping[str, Value]
    saved_at: datetime | None
    """When the last reading was saved."""
    finished_at: datetime | None
    recorded: int | None
    """The current version of the back that was recorded of it."""
    rebuild_of: uuids.UUID | None
    """The back whose rebuild is measured; None: the horse itself is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentRow:
    """An instrument of the practice's own."""

    uuid: uuids.UUID
    label: str
    document: str
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BackPage:
    """One back as recorded."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    visit: uuids.UUID | None
    measured_on: date
    number: int | None
    """Of the current version."""
    n_versions: int
    made_at: datetime | None
    made_by: str
    document: str
    capture: bool
    """Whether its readings are here to be taken up again."""


def unfinished_captures(actor: Actor | None, horse: uuids.UUID | None = None) -> tuple[CaptureRow, ...]:
    """Return the backs whose measuring is not finished, of all horses or one, newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Capture.objects.of(allowed.practice_id).standing().filter(finished_at=None)
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    return tuple(
        CaptureRow(
            uuid=row.uuid,
            label=row.label,
            horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
            measured_on=row.measured_on,
            by=row.made_by.label,
        )
        for row in rows.select_related("horse", "made_by").order_by("-made_at", "-id")[:_MOST]
    )


def capture_page(actor: Actor | None, uuid: uuids.UUID) -> CapturePage:
    """Return a back that is being measured.

    Raises
    ------
    NotFoundError
        If the practice has none.
    """
    allowed = require(actor, Action.SEE_HORSES)
    found = own(Capture, allowed, uuid)
    capture = Capture.objects.select_related("horse", "visit", "rebuild_of").get(pk=found.pk)
    saved = Entry.objects.filter(subject_uuid=uuid, outcome=Outcome.SAVED.value).order_by("revision")
    values: dict[str, Value] = {}
    saved_at = None
    for name, value, at in saved.values_list("field", "value", "made_at"):
        values[name], saved_at = value, at
    back = Back.objects.of(allowed.practice_id).filter(uuid=uuid).select_related("current")
    number = back.values_list("current__number", flat=True).first()
    return CapturePage(
        uuid=capture.uuid,
        label=capture.label,
        horse=Linked(uuid=capture.horse.uuid, label=capture.horse.label),
        visit=capture.visit.uuid if capture.visit else None,
        measured_on=capture.measured_on,
        instrument=capture.instrument,
        revision=capture.revision,
        values={name: value for name, value in values.items() if value is not None},
        saved_at=saved_at,
        finished_at=capture.finished_at,
        recorded=number,
        rebuild_of=capture.rebuild_of.uuid if capture.rebuild_of else None,
    )


def back_page(actor: Actor | None, uuid: uuids.UUID) -> BackPage:
    """Return a back as recorded.

    Raises
    ------
    NotFoundError
        If the practice has no such back.
    """
    allowed = require(actor, Action.SEE_HORSES)
    found = own(Back, allowed, uuid)
    back = Back.objects.select_related("horse", "visit", "current__made_by").get(pk=found.pk)
    current = back.current
    return BackPage(
        uuid=back.uuid,
        label=back.label,
        horse=Linked(uuid=back.horse.uuid, label=back.horse.label),
        visit=back.visit.uuid if back.visit else None,
        measured_on=back.measured_on,
        number=current.number if current else None,
        n_versions=back.versions.count(),
        made_at=current.made_at if current else None,
        made_by=current.made_by.label if current else "",
        document=current.document if current else "",
        capture=Capture.objects.of(allowed.practice_id).standing().filter(uuid=uuid).exists(),
    )


def own_instruments(actor: Actor | None) -> tuple[InstrumentRow, ...]:
    """Return the practice's own instruments by name."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Instrument.objects.of(allowed.practice_id).standing().order_by("label", "id")
    return tuple(map(_instrument, rows))


def instrument_page(actor: Actor | None, uuid: uuids.UUID) -> InstrumentRow:
    """Return one instrument of the practice's own.

    Raises
    ------
    NotFoundError
        If the practice has none.
    """
    return _instrument(own(Instrument, require(actor, Action.SEE_HORSES), uuid))


def _instrument(row: Instrument) -> InstrumentRow:
    return InstrumentRow(uuid=row.uuid, label=row.label, document=row.document, revision=row.revision)


def saddle_document(actor: Actor | None, uuid: uuids.UUID) -> str:
    """Return the current record of a saddle as it was recorded; empty where it was not measured.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    found = own(Saddle, allowed, uuid)
    mine = Saddle.objects.filter(pk=found.pk).values_list("current__document", flat=True)
    return mine.first() or ""
