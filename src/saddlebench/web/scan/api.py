"""Scans for other programs: given by their bytes, looked at, recorded once their unit is stated."""

import uuid as uuids
from datetime import date
from typing import Annotated, Literal

import numpy as np
from django.http import HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.exchange.scans.look import LETTERED
from saddlebench.exchange.scans.shown_skin import put_on_skin
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.services.scans import (
    ScanFacts,
    bring_scan,
    set_scan_mark,
    state_scan_axes,
    undo_scan_mark,
)
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of, body_of, gives, takes
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.scan_files import store_files
from saddlebench.web.scan.axis_words import level_named
from saddlebench.web.scan.held import HeldScan, held_scan
from saddlebench.web.scan.looking import FARTHEST_MM, stated_marks
from saddlebench.web.scan.marking import marks_shown
from saddlebench.web.scan.working import ask_look, ask_record

router = Router(tags=["scans"])
_BODY = takes("application/octet-stream", {}, "The scan, byte for byte; what it is, is seen from it.")
_PIECES = takes(
    "multipart/form-data",
    {
        "type": "object",
        "properties": {"scan": {"type": "array", "items": {"type": "string", "format": "binary"}}},
    },
    "The pieces, each a part named scan, under its own file name.",
)
LevelName = Literal["", "axis", "level ground"]
AxisName = Literal["", "+x", "-x", "+y", "-y", "+z", "-z"]
Shift = Annotated[float, Field(ge=-FARTHEST_MM, le=FARTHEST_MM)]
MarkName = Literal["WITHERS", "SHOULDER", "LOWEST", "LAST_RIB"]


class ScanLookShape(Shape):
    """What was found in a scan, in its own axes and unit. `heights_mm` says how high the withers would be."""

    uuid: uuids.UUID
    horse: uuids.UUID
    visit: uuids.UUID | None
    back: uuids.UUID | None
    """The back it became."""
    state: str
    files: list[str]
    points: int
    faces: int
    ground_seen: bool
    head_clear: bool
    like_a_horse: bool
    up: tuple[float, float, float]
    level_by: str
    """What says which way is up: axis, ground, level ground (as stated) or body."""
    ground_falls_deg: tuple[float, float]
    """Against what is level here, to the near side and to the tail."""
    head: tuple[float, float, float]
    marks: dict[str, tuple[float, float, float]]
    mark_states: dict[str, str]
    heights_mm: dict[str, float]
    likely_units: list[str]
    remarks: list[str]


class ScanStated(Given):
    """What a person states of a scan: its unit or the height at the withers in mm, and its marks.

    `shifts` move marks towards the tail in mm; `felt` names those that were felt for on the horse.
    """

    unit: Literal["mm", "cm", "m", "in"] | None = None
    height: Annotated[float, Field(ge=500.0, le=2200.0)] | None = None
    shifts: dict[MarkName, Shift] = Field(default_factory=dict)
    felt: list[MarkName] = Field(default_factory=list, max_length=8)


class ScanAxesGiven(Given):
    """What a person states of a scan to be looked at again; `level`: the scan's own axis, or level ground."""

    up: AxisName = ""
    head: AxisName = ""
    level: LevelName = ""
    unit: Length | None = None
    """Of pieces alone."""


class ScanMarkGiven(Given):
    """Where a mark is, in the scan's own axes and unit, and whether it was felt for on the horse."""

    mark: MarkName
    at: tuple[float, float, float] | None
    felt: bool = False


@router.put(
    "scans/{uuid:uuid}", auth=ByToken(Action.RECORD_BACK), response={202: JobShape}, openapi_extra=_BODY
)
def give_scan(
    request: HttpRequest,
    uuid: uuids.UUID,
    horse: uuids.UUID,
    measured_on: date,
    visit: uuids.UUID | None = None,
    name: Annotated[str, Field(max_length=200)] = "scan",
    up: AxisName = "",
    head: AxisName = "",
    level: LevelName = "",
) -> Status[JobPage]:
    """Give a scan of a horse; the job's end is a look at it under the same uuid."""
    actor = actor_of(request)
    page = queries.horse_page(actor, horse)
    stored = store_files([(name, [body_of(request, MAX_BYTES)])])
    facts = ScanFacts(measured_on=measured_on, up=up, head=head, level_by=level_named(level))
    bring_scan(actor, uuid, page.uuid, stored, facts, visit_uuid=visit)
    ask_look(actor, uuid, uuid)
    return Status(202, job_page(actor, uuid))


@router.post(
    "scans/{uuid:uuid}/pieces",
    auth=ByToken(Action.RECORD_BACK),
    response={202: JobShape},
    openapi_extra=_PIECES,
)
def give_scan_pieces(
    request: HttpRequest,
    uuid: uuids.UUID,
    horse: uuids.UUID,
    measured_on: date,
    unit: Length,
    visit: uuids.UUID | None = None,
    up: AxisName = "",
    head: AxisName = "",
    level: LevelName = "",
) -> Status[JobPage]:
    """Give a scan in several files that each show a part of the horse; they are laid on each other."""
    actor = actor_of(request)
    page = queries.horse_page(actor, horse)
    stored = store_files([(one.name or "scan", one.chunks()) for one in request.FILES.getlist("scan")])
    facts = ScanFacts(measured_on=measured_on, up=up, head=head, level_by=level_named(level), unit=unit)
    bring_scan(actor, uuid, page.uuid, stored, facts, visit_uuid=visit)
    ask_look(actor, uuid, uuid)
    return Status(202, job_page(actor, uuid))


@router.post("scans/{uuid:uuid}/looks", auth=ByToken(Action.RECORD_BACK), response={202: JobShape})
def look_again(request: HttpRequest, uuid: uuids.UUID, body: ScanAxesGiven) -> Status[JobPage]:
    """Have a scan looked at again, with up, head and level as stated; its files are not sent again."""
    actor = actor_of(request)
    state_scan_axes(actor, uuid, up=body.up, head=body.head, level_by=level_named(body.level), unit=body.unit)
    key = uuids.uuid4()
    ask_look(actor, uuid, key)
    return Status(202, job_page(actor, key))


@router.get("scans/{uuid:uuid}", auth=ByToken(Action.RECORD_BACK), response=ScanLookShape)
def get_scan(request: HttpRequest, uuid: uuids.UUID) -> dict[str, object]:
    """Give what was found in a scan."""
    return _shape(held_scan(actor_of(request), uuid))


@router.get("scans/{uuid:uuid}/picture", auth=ByToken(Action.RECORD_BACK), openapi_extra=gives("image/png"))
def get_scan_picture(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the picture of a scan with its marks."""
    from saddlebench.exchange.drawings.scan_look import scan_picture  # noqa: PLC0415 - slow to load

    held = held_scan(actor_of(request), uuid)
    return HttpResponse(scan_picture(held.looked, held.moved), content_type="image/png")


@router.put("scans/{uuid:uuid}/marks", auth=ByToken(Action.RECORD_BACK), response=ScanLookShape)
def put_scan_mark(request: HttpRequest, uuid: uuids.UUID, body: ScanMarkGiven) -> dict[str, object]:
    """Set a mark on the scan's surface, in its own axes and unit; null: where the shape suggests it."""
    actor = actor_of(request)
    held = held_scan(actor, uuid)
    looked, at = held.looked, None
    if body.at is not None:
        x, y, z = (float(v) for v in put_on_skin(looked.skin, np.array(body.at), looked.mm_per_unit))
        at = (x, y, z)
    set_scan_mark(actor, uuid, ScanMark[body.mark], at=at, felt=body.felt and at is not None)
    return _shape(held_scan(actor, uuid))


@router.post("scans/{uuid:uuid}/marks/undo", auth=ByToken(Action.RECORD_BACK), response=ScanLookShape)
def undo_mark(request: HttpRequest, uuid: uuids.UUID) -> dict[str, object]:
    """Take back what was last done to the marks."""
    actor = actor_of(request)
    held = held_scan(actor, uuid)
    if held.page.can_undo:
        undo_scan_mark(actor, uuid)
    return _shape(held_scan(actor, uuid))


@router.post("scans/{uuid:uuid}/record", auth=ByToken(Action.RECORD_BACK), response={202: JobShape})
def record_scan(request: HttpRequest, uuid: uuids.UUID, body: ScanStated) -> Status[JobPage]:
    """Have the back recorded; it bears the uuid of the job that this answers with."""
    actor = actor_of(request)
    held = held_scan(actor, uuid)
    unit = None if body.unit is None else Length(body.unit)
    shifts = {ScanMark[mark]: by for mark, by in body.shifts.items()}
    felt = [ScanMark[mark] for mark in body.felt]
    key = ask_record(actor, held.page, stated_marks(held, unit, body.height, shifts, felt))
    return Status(202, job_page(actor, key))


def _shape(held: HeldScan) -> dict[str, object]:
    looked = held.looked
    return {
        "uuid": held.page.row.uuid,
        "horse": held.page.row.horse.uuid,
        "visit": held.page.row.visit.uuid if held.page.row.visit else None,
        "back": held.page.row.back,
        "state": held.page.row.state.value,
        "files": [one.name for one in held.page.files],
        "points": looked.n_points,
        "faces": looked.n_faces,
        "ground_seen": looked.ground is not None,
        "head_clear": looked.head_clear,
        "like_a_horse": looked.like_a_horse,
        "up": looked.up.tolist(),
        "level_by": looked.level_by.value,
        "ground_falls_deg": looked.falls_deg,
        "head": looked.forward.tolist(),
        "marks": {mark.name: held.marks[mark].tolist() for mark, _ in LETTERED if mark in held.marks},
        "mark_states": {one.key: one.kind for one in marks_shown(held)},
        "heights_mm": {unit.value: looked.height_mm(unit) for unit in Length},
        "likely_units": [unit.value for unit in looked.likely],
        "remarks": [str(one) for one in looked.remarks],
    }
