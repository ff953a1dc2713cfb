"""Scanned undersides for other programs: a scan is brought, what was found is read, and recorded."""

import uuid as uuids
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Router, Status

from saddlebench.engine.units import Length
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.saddles.scanned import Heading
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.web.base.interface import ByToken, Shape, actor_of, body_of, gives, takes
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.base.measured_saddle import refuse_without_panels
from saddlebench.web.underside.working import (
    ask_scan,
    found_kept,
    keep_scan,
    picture_kept,
)

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


class UndersideRecordedShape(Shape):
    """The version that a scan became."""

    saddle: uuids.UUID
    version: int
    is_current: bool


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
    name: str = "",
) -> Status[JobPage]:
    """Have the underside looked for in a scan; `name` ends as the file does (rowan.ply)."""
    actor = actor_of(request)
    page = queries.saddle_page(actor, uuid)
    refuse_without_panels(actor, uuid)
    scan = uuids.uuid5(key, "scan")
    keep_scan(actor, [body_of(request, MAX_BYTES)], name, scan)
    ask_scan(actor, uuid, page.label, scan, unit, heading, key)
    return Status(202, job_page(actor, key))


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
    response=UndersideRecordedShape,
)
def record_scan(
    request: HttpRequest, uuid: uuids.UUID, key: uuids.UUID, seen: int = 0
) -> UndersideRecordedShape:
    """Record what was found as a new version; `seen` is the version it was decided on."""
    actor = actor_of(request)
    kept = found_kept(actor, uuid, key)
    recorded = services.record_saddle(
        actor, uuid, Document(text=kept.record), why="Underside from a scan", seen=seen
    )
    return UndersideRecordedShape(
        saddle=uuid, version=recorded.version.number, is_current=recorded.is_current
    )
