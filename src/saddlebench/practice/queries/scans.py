"""Scans as pages show them: what is being done with each, and what people said of its marks."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.units import Length
from saddlebench.practice.enums import Action, JobState
from saddlebench.practice.models import Job, Scan
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError

_MOST = 50
_UNDER_WAY = (JobState.WAITING.value, JobState.RUNNING.value)
SCAN = "scan"
"""Name of the argument by which long work says which scan it is about."""
RECORDS = "records"
"""Name of the argument that says whether the work records the back (else it only looks)."""

APART = "apart"
"""Name of the argument of work that only shows pieces: it says nothing of how far the scan is."""


class ScanState(StrEnum):
    """How far a scan is; the values are the words for people."""

    LOOKED_AT = "is being looked at"
    TO_CONFIRM = "its marks are to be confirmed"
    RECORDING = "is being recorded"
    KEPT = "is recorded"
    INTERRUPTED = "was interrupted: ask for it again"
    STOPPED = "was stopped: ask for it again"
    REFUSED = "could not be used as it is"
    ASIDE = "is set aside"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanFileKept:
    """One file of a scan."""

    name: str
    suffix: str
    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSaid:
    """What a person said of a mark."""

    at: tuple[float, float, float] | None
    """In the scan's own axes and unit; None: where the shape suggests it."""
    felt: bool
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanRow:
    """A scan in a list."""

    uuid: uuids.UUID
    horse: Linked
    visit: Linked | None
    day: date
    label: str
    """Names of its files."""
    state: ScanState
    job: uuids.UUID | None
    """The work that is being done on it, or that ended without success."""
    back: uuids.UUID | None
    """The back it became."""
    made_at: datetime
    made_by: str

    @property
    def is_open(self) -> bool:
        """Whether somebody has still to do something about it, or wait."""
        return self.state not in {ScanState.KEPT, ScanState.ASIDE}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanPage:
    """One scan."""

    row: ScanRow
    up: str
    head: str
    level_by: LevelBy | None
    """As stated."""
    unit: Length | None
    """Of the files, where several were brought."""
    common: tuple[tuple[tuple[float, float, float], ...], ...]
    """For each file the places that were marked on every one; empty: none were."""
    files: tuple[ScanFileKept, ...]
    said: Mapping[ScanMark, MarkSaid]
    """What people said last of each mark, without what was taken back."""
    can_undo: bool
    times: int
    """How often the marks were touched: what is shown is of this moment."""


def scan_page(actor: Actor | None, uuid: uuids.UUID) -> ScanPage:
    """Return a scan of the actor's practice, also one that is set aside.

    Raises
    ------
    NotFoundError
        If the practice has none of that name.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = Scan.objects.of(allowed.practice_id).filter(uuid=uuid)
    scan = rows.select_related("horse", "visit", "back", "made_by").prefetch_related("files").first()
    if scan is None:
        raise NotFoundError("scan", uuid)
    said, depth = _said(scan.marking)
    return ScanPage(
        row=_rows([scan])[0],
        up=scan.up,
        head=scan.head,
        level_by=LevelBy(scan.level_by) if scan.level_by else None,
        unit=Length(scan.unit) if scan.unit else None,
        common=tuple(tuple((x, y, z) for x, y, z in places) for places in scan.common),
        files=tuple(
            ScanFileKept(name=one.name, suffix=one.suffix, sha256=one.sha256, size_bytes=one.size_bytes)
            for one in sorted(scan.files.all(), key=lambda one: one.order)
        ),
        said=said,
        can_undo=depth > 0,
        times=len(scan.marking),
    )


def scans_of(
    actor: Actor | None, *, horse: uuids.UUID | None = None, visit: uuids.UUID | None = None
) -> tuple[ScanRow, ...]:
    """Return the scans of a horse, or of a visit, the newest first, those set aside at the end."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Scan.objects.of(allowed.practice_id).select_related("horse", "visit", "back", "made_by")
    if visit is not None:
        rows = rows.filter(visit__uuid=visit)
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    found = _rows(rows.order_by("-made_at", "-id")[:_MOST])
    return tuple(sorted(found, key=lambda one: one.state is ScanState.ASIDE))


def _rows(scans: Iterable[Scan]) -> list[ScanRow]:
    listed = list(scans)
    last: dict[str, Job] = {}
    names = [str(one.uuid) for one in listed]
    for job in (
        Job.objects.filter(**{f"arguments__{SCAN}__in": names}).order_by("asked_at", "id") if names else ()
    ):
        if job.state in _UNDER_WAY or not job.arguments.get(APART):
            last[job.arguments[SCAN]] = job
    return [_row(one, last.get(str(one.uuid))) for one in listed]


def _row(scan: Scan, job: Job | None) -> ScanRow:
    state = _state(scan, job)
    is_done = state in {ScanState.KEPT, ScanState.TO_CONFIRM, ScanState.ASIDE}
    return ScanRow(
        uuid=scan.uuid,
        horse=Linked(uuid=scan.horse.uuid, label=scan.horse.label),
        visit=Linked(uuid=scan.visit.uuid, label=scan.visit.label, day=scan.visit.date)
        if scan.visit
        else None,
        day=scan.measured_on,
        label=scan.label,
        state=state,
        job=None if is_done or job is None else job.uuid,
        back=scan.back.uuid if scan.back else None,
        made_at=scan.made_at,
        made_by=scan.made_by.label,
    )


def _state(scan: Scan, job: Job | None) -> ScanState:
    if scan.withdrawn_at is not None:
        return ScanState.ASIDE
    # Work that is over long ago is forgotten; a scan of then was looked at.
    state = JobState.DONE if job is None else JobState(job.state)
    if state in {JobState.WAITING, JobState.RUNNING}:
        return ScanState.RECORDING if job and job.arguments.get(RECORDS) else ScanState.LOOKED_AT
    if scan.back_id is not None:
        return ScanState.KEPT
    ended = {
        JobState.FAILED: ScanState.REFUSED,
        JobState.INTERRUPTED: ScanState.INTERRUPTED,
        JobState.STOPPED: ScanState.STOPPED,
    }
    return ended.get(state, ScanState.TO_CONFIRM)


def _said(marking: list[dict[str, object]]) -> tuple[dict[ScanMark, MarkSaid], int]:
    """Return what holds of each mark, and how many entries could still be taken back."""
    standing: list[dict[str, object]] = []
    for entry in marking:
        if entry.get("undo"):
            standing = standing[:-1]
        else:
            standing.append(entry)
    said = {}
    for entry in standing:
        at = entry["at"]
        place = (float(at[0]), float(at[1]), float(at[2])) if isinstance(at, list) else None
        said[ScanMark[str(entry["mark"])]] = MarkSaid(
            at=place, felt=bool(entry["felt"]), by=str(entry.get("by", ""))
        )
    return said, len(standing)
