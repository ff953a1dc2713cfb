"""Backs that are rebuilt elsewhere: the version, what is being set, and rebuilds that were measured."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Back, BackVersion, Capture, Rebuild, RebuildCheck
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, own

_MOST_LISTED = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildSource:
    """A version of a back that is rebuilt."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    measured_on: date
    number: int
    current_number: int
    sha256: str
    document: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildRow:
    """A back being set on an instrument."""

    uuid: uuids.UUID
    number: int
    instrument: str
    """Its description (JSON)."""
    made_at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """A rebuild that was measured."""

    uuid: uuids.UUID
    number: int
    measured_on: date
    instrument: str
    made_at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildPage:
    """A back being set on an instrument, with the readings as they were set so far."""

    uuid: uuids.UUID
    source: RebuildSource
    instrument: str
    tolerance_mm: float
    as_set: Mapping[str, float | bool]
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckPage:
    """A measured rebuild beside the version that it was made from."""

    uuid: uuids.UUID
    source: RebuildSource
    capture: uuids.UUID | None
    """The measuring, where it is here to be taken up again."""
    measured_on: date
    instrument: str
    tolerance_mm: float
    document: str
    sha256: str
    made_at: datetime
    made_by: str


def rebuild_source(actor: Actor | None, uuid: uuids.UUID, number: int | None = None) -> RebuildSource:
    """Return the version of a back that is to be rebuilt: the current one, or the one that is named.

    Raises
    ------
    NotFoundError
        If the practice has no such back, or it no such version.
    """
    allowed = require(actor, Action.SEE_HORSES)
    found = own(Back, allowed, uuid)
    return _source(found.pk, number)


def _source(back_id: int, number: int | None) -> RebuildSource:
    back = Back.objects.select_related("horse", "current").defer("current__document").get(pk=back_id)
    current = back.current.number if back.current else 0
    wanted = current if number is None else number
    version = BackVersion.objects.filter(back=back, number=wanted).first()
    if version is None:
        raise NotFoundError("version of the back", wanted)
    return RebuildSource(
        uuid=back.uuid,
        label=back.label,
        horse=Linked(uuid=back.horse.uuid, label=back.horse.label),
        measured_on=back.measured_on,
        number=version.number,
        current_number=current,
        sha256=version.sha256,
        document=version.document,
    )


def rebuilds_of(actor: Actor | None, back: uuids.UUID) -> tuple[RebuildRow, ...]:
    """Return what is being set of a back, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Rebuild.objects.of(allowed.practice_id).standing().filter(back__uuid=back)
    return tuple(
        RebuildRow(
            uuid=row.uuid,
            number=row.number,
            instrument=row.instrument,
            made_at=row.made_at,
            by=row.made_by.label,
        )
        for row in rows.select_related("made_by").order_by("-made_at", "-id")[:_MOST_LISTED]
    )


def checks_of(actor: Actor | None, back: uuids.UUID) -> tuple[CheckRow, ...]:
    """Return the rebuilds of a back that were measured, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = RebuildCheck.objects.filter(practice_id=allowed.practice_id, back__uuid=back)
    listed = rows.select_related("made_by").defer("document").order_by("-made_at", "-id")
    return tuple(
        CheckRow(
            uuid=row.uuid,
            number=row.number,
            measured_on=row.measured_on,
            instrument=row.instrument,
            made_at=row.made_at,
            by=row.made_by.label,
        )
        for row in listed[:_MOST_LISTED]
    )


def rebuild_page(actor: Actor | None, uuid: uuids.UUID) -> RebuildPage:
    """Return a back that is being set on an instrument.

    Raises
    ------
    NotFoundError
        If the practice has none.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rebuild = own(Rebuild, allowed, uuid)
    return RebuildPage(
        uuid=rebuild.uuid,
        source=_source(rebuild.back_id, rebuild.number),
        instrument=rebuild.instrument,
        tolerance_mm=rebuild.tolerance_mm,
        as_set=rebuild.as_set,
        revision=rebuild.revision,
    )


def rebuild_check_page(actor: Actor | None, uuid: uuids.UUID) -> CheckPage:
    """Return a measured rebuild.

    Raises
    ------
    NotFoundError
        If the practice has none.
    """
    allowed = require(actor, Action.SEE_HORSES)
    mine = RebuildCheck.objects.filter(practice_id=allowed.practice_id, back__withdrawn_at=None)
    check = mine.filter(uuid=uuid).select_related("made_by").first()
    if check is None:
        raise NotFoundError("check of a rebuild", uuid)
    captures = Capture.objects.of(allowed.practice_id).standing()
    is_there = check.capture_uuid is not None and captures.filter(uuid=check.capture_uuid).exists()
    return CheckPage(
        uuid=check.uuid,
        source=_source(check.back_id, check.number),
        capture=check.capture_uuid if is_there else None,
        measured_on=check.measured_on,
        instrument=check.instrument,
        tolerance_mm=check.tolerance_mm,
        document=check.document,
        sha256=check.sha256,
        made_at=check.made_at,
        made_by=check.made_by.label,
    )
