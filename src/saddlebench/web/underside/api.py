"""Scanned undersides for other programs: a scan is brought and kept, what was found is read, and recorded."""

import uuid as uuids
from datetime import datetime
from typing import Annotated, Any

from django.http import FileResponse, HttpRequest, HttpResponse
from ninja import Router, Status
from pydantic import Field

from saddlebench.engine.units import Length
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.saddles.scanned import Heading
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.practice import queries
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.saddle_scans import SaddleScanKept, saddle_scan, saddle_scans_of
from saddlebench.practice.services.saddle_scans import bring_saddle_scan
from saddlebench.web.base.interface import ByToken, Given, Shape, actor_of, body_of, gives, takes
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.measured_saddle import (
    UndersideVersionShape,
    refuse_without_panels,
    underside_recorded,
)
from saddlebench.web.base.scan_files import kept_file, store_files
from saddlebench.web.underside.working import ask_scan, found_kept, picture_kept

router = Router(tags=["saddle scans"])


class FoundUndersideShape(Shape):
    """What was found in a scan of a saddle; nothing of it is recorded yet."""

    heading: str
    heading_is_sure: bool
    unit: str
    measures: dict[str, Any]
    sentences: list[str]
    remarks: list[str]
    caution: str


class KeptSaddleScanShape(Shape):
    """A scan of a saddle, kept as it came. `unit` is what was stated then."""

    uuid: uuids.UUID
    name: str
    unit: str
    size_bytes: int
    sha256: str
    made_at: datetime
    made_by: str


class LookAgain(Given):
    """A kept scan, its unit, and which end is the pommel; `uuid` names the look from then on."""

    uuid: uuids.UUID
    unit: Length
    heading: Heading = Heading.FROM_SHAPE


@router.post(
    "saddles/{uuid:uuid}/scans/{uuid:key}",
    auth=ByToken(Action.RECORD_SADDLE),
    response={202: JobShape},
    openapi_extra=takes(
        "application/octet-stream", {"type": "string", "format": "binary"}, "The scan's file"
    ),
)
def bring_scan(
    request: HttpRequest,
    uuid: uuids.UUID,
    key: uuids.UUID,
    unit: Length,
    heading: Heading = Heading.FROM_SHAPE,
    name: Annotated[str, Field(max_length=200)] = "scan",
) -> Status[JobPage]:
    """Have the underside looked for in a scan; `name` ends as the file does (rowan.ply)."""
    actor = actor_of(request)
    page = queries.saddle_page(actor, uuid)
    refuse_without_panels(actor, uuid)
    (stored,) = store_files([(name, [body_of(request, MAX_BYTES)])])
    scan = bring_saddle_scan(actor, uuids.uuid5(key, "scan"), uuid, stored, unit)
    ask_scan(actor, uuid, page.label, scan.uuid, unit, heading, key)
    return Status(202, job_page(actor, key))


@router.get(
    "saddles/{uuid:uuid}/scans",
    auth=ByToken(Action.RECORD_SADDLE),
    response=list[KeptSaddleScanShape],
)
def list_saddle_scans(request: HttpRequest, uuid: uuids.UUID) -> list[SaddleScanKept]:
    """Give the scans that were brought of a saddle, the newest first."""
    actor = actor_of(request)
    return list(saddle_scans_of(actor, queries.saddle_page(actor, uuid).uuid))


@router.get(
    "saddles/{uuid:uuid}/scans/{uuid:key}/file",
    auth=ByToken(Action.RECORD_SADDLE),
    openapi_extra=gives("application/octet-stream"),
)
def get_saddle_scan_file(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> FileResponse:
    """Give a kept scan's file as it came; `key` is its uuid in the list."""
    kept = saddle_scan(actor_of(request), uuid, key)
    return FileResponse(kept_file(kept).open("rb"), as_attachment=True, filename=kept.name)


@router.post(
    "saddles/{uuid:uuid}/scans/{uuid:key}/looks",
    auth=ByToken(Action.RECORD_SADDLE),
    response={202: JobShape},
)
def look_at_scan_again(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, body: LookAgain
) -> Status[JobPage]:
    """Have the underside looked for in a kept scan; what is found is under the look's uuid."""
    actor = actor_of(request)
    kept = saddle_scan(actor, uuid, key)
    page = queries.saddle_page(actor, uuid)
    refuse_without_panels(actor, uuid)
    ask_scan(actor, uuid, page.label, kept.uuid, body.unit, body.heading, body.uuid)
    return Status(202, job_page(actor, body.uuid))


@router.get(
    "saddles/{uuid:uuid}/scans/{uuid:key}",
    auth=ByToken(Action.RECORD_SADDLE),
    response=FoundUndersideShape,
)
def get_scan_found(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> FoundUndersideShape:
    """Give what was found in a scan."""
    kept = found_kept(actor_of(request), uuid, key)
    return FoundUndersideShape(
        heading=kept.heading.value,
        heading_is_sure=kept.heading_is_sure,
        unit=kept.unit.value,
        measures=kept.measures,
        sentences=list(kept.sentences),
        remarks=list(kept.remarks),
        caution=SCREENING_NOTE,
    )


@router.get(
    "saddles/{uuid:uuid}/scans/{uuid:key}/picture",
    auth=ByToken(Action.RECORD_SADDLE),
    openapi_extra=gives("image/svg+xml"),
)
def get_scan_picture(request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID) -> HttpResponse:
    """Give the picture of what was found."""
    return HttpResponse(picture_kept(actor_of(request), uuid, key), content_type="image/svg+xml")


@router.post(
    "saddles/{uuid:uuid}/scans/{uuid:key}/record",
    auth=ByToken(Action.RECORD_SADDLE),
    response=UndersideVersionShape,
)
def record_scan(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, seen: int = 0
) -> UndersideVersionShape:
    """Record what was found as a new version; `seen` is the version it was decided on."""
    actor = actor_of(request)
    kept = found_kept(actor, uuid, key)
    return underside_recorded(actor, uuid, kept.record, why=kept.why, seen=seen)
