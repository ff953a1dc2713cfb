"""Backs as record documents."""

import uuid as uuids
from datetime import date

from django.http import HttpRequest
from ninja import Router, Status

from saddlebench.practice import queries, services
from saddlebench.practice.documents import LARGEST_BYTES
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.captures import BackPage
from saddlebench.practice.queries.record_lists import BackRow, Listed, list_backs
from saddlebench.web.api.documents import WRITTEN, read_document, recorded, refuse_another
from saddlebench.web.api.shapes import BackListShape, BackShape, VersionShape
from saddlebench.web.base.interface import (
    ByToken,
    PageNumber,
    Revision,
    ShortText,
    actor_of,
    body_of,
    is_there,
    takes,
)

router = Router(tags=["backs"])
_BODY = takes("application/json", {"$ref": "#/components/schemas/BackRecord"}, f"A back record. {WRITTEN}")


@router.get("backs", auth=ByToken(Action.SEE_HORSES), response=BackListShape)
def get_backs(request: HttpRequest, horse: uuids.UUID | None = None, page: PageNumber = 1) -> Listed[BackRow]:
    """List backs, those measured last first; all of them, or one horse's."""
    return list_backs(actor_of(request), horse=horse, page=page)


@router.get("backs/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=BackShape)
def get_back(request: HttpRequest, uuid: uuids.UUID) -> BackPage:
    """Give what is known of a back; its record is the document of its current version."""
    return queries.back_page(actor_of(request), uuid)


@router.put(
    "backs/{uuid:uuid}",
    auth=ByToken(Action.RECORD_BACK),
    response={200: VersionShape, 201: VersionShape},
    openapi_extra=_BODY,
)
def record_back(
    request: HttpRequest,
    uuid: uuids.UUID,
    horse: uuids.UUID,
    measured_on: date,
    label: ShortText = "",
    visit: uuids.UUID | None = None,
) -> Status[VersionShape]:
    """Record a back of a horse, under a uuid that the caller chooses."""
    actor = actor_of(request)
    document = read_document(body_of(request, LARGEST_BYTES), Subject.BACK)
    if is_there(lambda: queries.versions_of(actor, Subject.BACK, uuid)):
        return Status(200, refuse_another(actor, Subject.BACK, uuid, document))
    services.record_back(
        actor, horse, document, measured_on=measured_on, label=label, visit_uuid=visit, uuid=uuid
    )
    return Status(201, refuse_another(actor, Subject.BACK, uuid, document))


@router.post(
    "backs/{uuid:uuid}/record",
    auth=ByToken(Action.RECORD_BACK),
    response={200: VersionShape, 201: VersionShape},
    openapi_extra=_BODY,
)
def correct_back(request: HttpRequest, uuid: uuids.UUID, seen: Revision, why: ShortText) -> Status[object]:
    """Record a corrected version of a back. `seen` is the version that was corrected."""
    actor = actor_of(request)
    document = read_document(body_of(request, LARGEST_BYTES), Subject.BACK)
    return recorded(
        actor,
        Subject.BACK,
        uuid,
        document,
        lambda: services.correct_back(actor, uuid, document, why=why, seen=seen),
    )
