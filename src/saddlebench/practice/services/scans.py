"""Scans of a horse: brought, marked by people, set aside, and tied to the back that they became."""

import math
import uuid as uuids
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.units import Length
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping.scans import StoredScan
from saddlebench.practice.models import Back, Horse, SaddleScan, Scan, ScanFile, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed, own

AXES = ("+x", "-x", "+y", "-y", "+z", "-z")
STATED_LEVELS = (LevelBy.AXIS, LevelBy.LEVEL_GROUND)
"""What a person may state as level."""
MOST_PIECES = 6
"""Files of one scan."""
_MOST_MARKING = 5_000
FEWEST_COMMON = 3
"""Places that lay one piece on another by hand."""
Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanFacts:
    """What is known about a scan besides its bytes."""

    measured_on: date
    up: str = ""
    """Axis stated as up; empty: found from the ground."""
    head: str = ""
    """Axis stated as towards the head; empty: found from the shape."""
    level_by: LevelBy | None = None
    """What was stated as level, AXIS or LEVEL_GROUND; None: found."""
    unit: Length | None = None
    """Of the files; needed for several, which are laid on each other in mm."""


def bring_scan(
    actor: Actor | None,
    uuid: uuids.UUID,
    horse_uuid: uuids.UUID,
    stored: Sequence[StoredScan],
    facts: ScanFacts,
    *,
    visit_uuid: uuids.UUID | None = None,
) -> Scan:
    """Keep a scan of a horse, in one file or in pieces; brought again under one name, it is the same.

    Raises
    ------
    InputProblemsError
        If there is no file or too many, or the visit is of another horse.
    SameMomentError
        If the name is taken.
    """
    allowed = require(actor, Action.RECORD_BACK)
    there = Scan.objects.of(allowed.practice_id).filter(uuid=uuid).first()
    if there is not None:
        return there
    if not 1 <= len(stored) <= MOST_PIECES:
        what = f"{len(stored)} files were chosen"
        raise input_problem(what, f"Choose 1 to {MOST_PIECES}.", Where(field="Scan"))
    if len({one.sha256 for one in stored}) < len(stored):
        raise input_problem("one file was chosen twice", "Choose each piece once.", Where(field="Scan"))
    if len(stored) > 1 and facts.unit is None:
        cure = "Say it: pieces are laid on each other in millimetres, and a unit is never guessed."
        raise input_problem("the unit of the pieces is not stated", cure, Where(field="Unit"))
    with deed(actor, Action.RECORD_BACK, "bring_scan", Subject.HORSE, horse_uuid) as done:
        horse = own(Horse, allowed, horse_uuid)
        scan = Scan.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            label=", ".join(one.name for one in stored)[:200],
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=horse,
            visit=_visit_of(allowed, horse, visit_uuid),
            measured_on=facts.measured_on,
            up=facts.up if facts.up in AXES else "",
            head=facts.head if facts.head in AXES else "",
            level_by=_stated(facts.level_by),
            unit=facts.unit.value if facts.unit and len(stored) > 1 else "",
        )
        ScanFile.objects.bulk_create(
            ScanFile(
                scan=scan,
                order=k,
                name=one.name,
                suffix=one.suffix,
                sha256=one.sha256,
                size_bytes=one.size_bytes,
                made_at=done.audit.made_at,
                made_by_id=allowed.user_id,
            )
            for k, one in enumerate(stored)
        )
        return scan


@contextmanager
def _changed(allowed: Actor, uuid: uuids.UUID, name: str) -> Iterator[Scan]:
    horse = own(Scan, allowed, uuid, withdrawn=True).horse
    with deed(allowed, Action.RECORD_BACK, name, Subject.HORSE, horse.uuid):
        yield own(Scan, allowed, uuid, locked=True, withdrawn=True)


def _visit_of(allowed: Actor, horse: Horse, uuid: uuids.UUID | None) -> Visit | None:
    if uuid is None:
        return None
    visit = own(Visit, allowed, uuid)
    if visit.horse_id != horse.pk:
        raise input_problem(
            "the visit is of another horse",
            "Begin from the right visit, or from the horse.",
            Where(field="Visit"),
        )
    return visit


def state_scan_axes(
    actor: Actor | None,
    uuid: uuids.UUID,
    *,
    up: str,
    head: str,
    level_by: LevelBy | None = None,
    unit: Length | None = None,
) -> Scan:
    """State up, head and what is level, and of pieces their unit; the scan is to be looked at again then."""
    allowed = require(actor, Action.RECORD_BACK)
    with _changed(allowed, uuid, "state_scan_axes") as scan:
        scan.up, scan.head = (axis if axis in AXES else "" for axis in (up, head))
        scan.level_by = _stated(level_by)
        # Of a single file the unit is asked when the back is recorded.
        if unit is not None and scan.unit:
            scan.unit = unit.value
        scan.save(update_fields=["up", "head", "level_by", "unit"])
        return scan


def _stated(level_by: LevelBy | None) -> str:
    return level_by.value if level_by in STATED_LEVELS else ""


def state_common_places(actor: Actor | None, uuid: uuids.UUID, common: Sequence[Sequence[Place]]) -> Scan:
    """State places that were marked on every piece, in one order; none: the shape alone lays them.

    Parameters
    ----------
    common : for each file its places, in its own axes and unit

    Raises
    ------
    InputProblemsError
        If they are not as many on each piece, or fewer than three.
    """
    allowed = require(actor, Action.RECORD_BACK)
    counts = {len(places) for places in common}
    if counts and (len(counts) > 1 or min(counts) < FEWEST_COMMON):
        cure = f"Mark the same places on every piece, at least {FEWEST_COMMON}, in one order."
        raise input_problem("the marks do not match", cure, Where(field="marks"))
    if not all(math.isfinite(x) for places in common for place in places for x in place):
        raise input_problem("this is no place on the scan", "Tap on the horse.", Where(field="marks"))
    with _changed(allowed, uuid, "state_common_places") as scan:
        if common and len(common) != scan.files.count():
            raise input_problem("a piece has no marks", "Mark every piece.", Where(field="marks"))
        scan.common = [[list(place) for place in places] for places in common]
        scan.save(update_fields=["common"])
        return scan


def set_scan_mark(
    actor: Actor | None, uuid: uuids.UUID, mark: ScanMark, *, at: Place | None, felt: bool
) -> Scan:
    """Set a mark of a scan, and say whether it was felt for on the horse.

    Parameters
    ----------
    at : in the scan's own axes and unit; None: where the shape suggests it

    Raises
    ------
    InputProblemsError
        If the place is no place.
    """
    if at is not None and not all(math.isfinite(x) for x in at):
        raise input_problem("this is no place on the scan", "Tap on the horse.", Where(field=str(mark)))
    entry = {"mark": mark.name, "at": None if at is None else list(at), "felt": felt}
    return _entered(actor, uuid, entry)


def undo_scan_mark(actor: Actor | None, uuid: uuids.UUID) -> Scan:
    """Take back what was last done to the marks; how it went stays written down."""
    return _entered(actor, uuid, {"undo": True})


def _entered(actor: Actor | None, uuid: uuids.UUID, entry: dict[str, Any]) -> Scan:
    allowed = require(actor, Action.RECORD_BACK)
    with _changed(allowed, uuid, "mark_scan") as scan:
        if len(scan.marking) >= _MOST_MARKING:
            what = f"the marks were set {_MOST_MARKING:,} times"
            raise input_problem(what, "Bring the scan again.", Where(field="marks"))
        at = timezone.now().isoformat(timespec="seconds")
        scan.marking = [*scan.marking, {**entry, "by": allowed.label, "when": at}]
        scan.revision += 1
        scan.save(update_fields=["marking", "revision"])
        return scan


def scan_became(actor: Actor | None, uuid: uuids.UUID, back_uuid: uuids.UUID) -> Scan:
    """Tie a scan to the back that was recorded from it."""
    allowed = require(actor, Action.RECORD_BACK)
    with _changed(allowed, uuid, "scan_became") as scan:
        scan.back = own(Back, allowed, back_uuid)
        scan.save(update_fields=["back"])
        return scan


def put_scan_aside(actor: Actor | None, uuid: uuids.UUID) -> Scan:
    """Take a scan off the lists of what waits; its files stay."""
    allowed = require(actor, Action.RECORD_BACK)
    with _changed(allowed, uuid, "put_scan_aside") as scan:
        scan.withdrawn_at, scan.withdrawn_by_id = timezone.now(), allowed.user_id
        scan.save(update_fields=["withdrawn_at", "withdrawn_by"])
        return scan


def take_scan_up(actor: Actor | None, uuid: uuids.UUID) -> Scan:
    """Take a scan up again that was set aside."""
    allowed = require(actor, Action.RECORD_BACK)
    with _changed(allowed, uuid, "take_scan_up") as scan:
        scan.withdrawn_at, scan.withdrawn_by_id = None, None
        scan.save(update_fields=["withdrawn_at", "withdrawn_by"])
        return scan


def has_scan_file(sha256: str, suffix: str) -> bool:
    """Return whether any scan of any practice has this file; for the program's own tidying, not for pages."""
    return any(
        table._default_manager.filter(sha256=sha256, suffix=suffix).exists()  # noqa: SLF001
        for table in (ScanFile, SaddleScan)
    )
