"""Rebuilding a back elsewhere: what was set on an instrument, and the rebuild as it was measured."""

import math
import re
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from saddlebench import __version__
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.documents import Document, check_document, check_record
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Back, BackVersion, Capture, Rebuild, RebuildCheck
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own

AsSet = Mapping[str, float | bool | None]
"""By the name of a setting: true as asked, a number as typed, None where it is not set."""
USUAL_TOLERANCE_MM = 2.0
"""As the engine judges a rebuild by default."""
LEAST_TOLERANCE_MM, MOST_TOLERANCE_MM = 0.1, 20.0
_NAME = re.compile(r"[a-z0-9]+(/[a-z0-9]+){1,3}")
_MOST_SETTINGS = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """A rebuild that was measured."""

    document: Document
    """A back record of it."""
    measured_on: date
    instrument: str
    """What it was measured with."""


def start_rebuild(
    actor: Actor | None,
    back_uuid: uuids.UUID,
    number: int,
    instrument: Document,
    *,
    tolerance_mm: float,
    uuid: uuids.UUID | None = None,
) -> Rebuild:
    """Begin to set a version of a back on an instrument; sent again with the same uuid, it is the same.

    Raises
    ------
    InputProblemsError
        If the instrument's description is no document, or the tolerance is out of range.
    NotFoundError
        If the practice has no such version.
    """
    allowed = require(actor, Action.REBUILD)
    check_document(instrument)
    _check_tolerance(tolerance_mm)
    chosen = uuid or uuids.uuid4()
    there = Rebuild.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, Action.REBUILD, "start_rebuild", Subject.BACK, back_uuid) as done:
        back = _with_version(allowed, back_uuid, number)
        return Rebuild.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            label=back.label,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse_id=back.horse_id,
            back=back,
            number=number,
            instrument=instrument.text,
            tolerance_mm=tolerance_mm,
        )


def keep_as_set(actor: Actor | None, uuid: uuids.UUID, readings: AsSet) -> Rebuild:
    """Keep what was set, by the names of the settings; what is not named stays as it was.

    Raises
    ------
    InputProblemsError
        If a name or a reading is none; then nothing is kept.
    """
    allowed = require(actor, Action.REBUILD)
    wrong = [
        name for name, value in readings.items() if not _NAME.fullmatch(name) or not _readable(readings, name)
    ]
    if wrong:
        raise InputProblemsError(
            [
                Problem(what="is no reading", cure="Load the page again.", where=Where(field=name[:80]))
                for name in wrong
            ]
        )
    with deed(actor, Action.REBUILD, "keep_as_set", Subject.BACK, uuid):
        rebuild = own(Rebuild, allowed, uuid, locked=True)
        held = {**rebuild.as_set, **readings}
        rebuild.as_set = {name: value for name, value in held.items() if value is not None}
        if len(rebuild.as_set) > _MOST_SETTINGS:
            raise input_problem(f"more than {_MOST_SETTINGS} readings", "Begin another rebuild.")  # noqa: EM102
        rebuild.revision += 1
        rebuild.save(update_fields=["as_set", "revision"])
        return rebuild


def put_rebuild_away(actor: Actor | None, uuid: uuids.UUID) -> Rebuild:
    """Take a rebuild off the list; the checks of what was measured stay."""
    allowed = require(actor, Action.REBUILD)
    with deed(actor, Action.REBUILD, "put_rebuild_away", Subject.BACK, uuid) as done:
        rebuild = own(Rebuild, allowed, uuid, locked=True)
        rebuild.withdrawn_at, rebuild.withdrawn_by_id = done.audit.made_at, allowed.user_id
        rebuild.save(update_fields=["withdrawn_at", "withdrawn_by"])
        return rebuild


def record_rebuild_check(
    actor: Actor | None,
    back_uuid: uuids.UUID,
    number: int,
    rebuilt: Rebuilt,
    *,
    tolerance_mm: float,
    capture_uuid: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> RebuildCheck:
    """Record a rebuild as it was measured, beside the version that it was made from.

    Raises
    ------
    InputProblemsError
        If the document cannot be a back record, or the tolerance is out of range.
    NotFoundError
        If the practice has no such version.
    """
    allowed = require(actor, Action.REBUILD)
    check_record(rebuilt.document, Subject.BACK)
    _check_tolerance(tolerance_mm)
    chosen = uuid or uuids.uuid4()
    there = RebuildCheck.objects.filter(practice_id=allowed.practice_id, uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, Action.REBUILD, "record_rebuild_check", Subject.BACK, back_uuid) as done:
        back = _with_version(allowed, back_uuid, number)
        return RebuildCheck.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse_id=back.horse_id,
            back=back,
            number=number,
            capture_uuid=capture_uuid,
            measured_on=rebuilt.measured_on,
            instrument=rebuilt.instrument.strip()[:200],
            tolerance_mm=tolerance_mm,
            document=rebuilt.document.text,
            sha256=rebuilt.document.sha256,
            engine_version=__version__,
        )


def finish_rebuild_capture(
    actor: Actor | None,
    uuid: uuids.UUID,
    document: Document,
    instrument: str,
    *,
    tolerance_mm: float = USUAL_TOLERANCE_MM,
) -> RebuildCheck:
    """Record a measured rebuild from its readings; it never becomes one of the horse's backs.

    Raises
    ------
    InputProblemsError
        If the document cannot be a back record.
    NotFoundError
        If what is measured is no rebuild.
    """
    allowed = require(actor, Action.RECORD_BACK)
    with deed(actor, Action.RECORD_BACK, "finish_rebuild_capture", Subject.CAPTURE, uuid) as done:
        capture = own(Capture, allowed, uuid, locked=True)
        if capture.rebuild_of is None or capture.rebuild_number is None:
            raise NotFoundError("measuring of a rebuild", uuid)
        made = RebuildCheck.objects.filter(practice_id=allowed.practice_id, capture_uuid=uuid)
        last = made.order_by("-made_at", "-id").first()
        if capture.finished_at is not None and last is not None:
            return last
        check = record_rebuild_check(
            actor,
            capture.rebuild_of.uuid,
            capture.rebuild_number,
            Rebuilt(document=document, measured_on=capture.measured_on, instrument=instrument),
            tolerance_mm=tolerance_mm,
            capture_uuid=uuid,
        )
        capture.finished_at = done.audit.made_at
        capture.save(update_fields=["finished_at"])
        return check


def _with_version(actor: Actor, back_uuid: uuids.UUID, number: int) -> Back:
    back = own(Back, actor, back_uuid)
    if not BackVersion.objects.filter(back=back, number=number).exists():
        raise NotFoundError("version", number)
    return back


def _check_tolerance(tolerance_mm: float) -> None:
    if not LEAST_TOLERANCE_MM <= tolerance_mm <= MOST_TOLERANCE_MM:
        what = f"{tolerance_mm:g} mm is outside {LEAST_TOLERANCE_MM:g} to {MOST_TOLERANCE_MM:g} mm"
        raise input_problem(what, "Check number and unit.", Where(field="tolerance"))


def _readable(readings: AsSet, name: str) -> bool:
    value = readings[name]
    if value is None or value is True:
        return True
    return not isinstance(value, bool) and math.isfinite(value)
