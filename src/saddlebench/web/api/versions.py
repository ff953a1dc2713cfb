"""Versions of backs, saddles and fit checks: listed, given byte for byte, compared, chosen."""

import uuid as uuids
from enum import StrEnum
from typing import Annotated

from django.http import HttpRequest, HttpResponse
from ninja import Router
from pydantic import Field

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.versions import Difference, VersionRow, document_of
from saddlebench.practice.services import NotFoundError
from saddlebench.web.api.shapes import DifferenceShape, VersionShape
from saddlebench.web.base.interface import ByToken, Given, actor_of, gives

router = Router(tags=["versions"])


class Recorded(StrEnum):
    """The kinds of record that have versions."""

    BACKS = "backs"
    SADDLES = "saddles"
    STUDIES = "studies"


SUBJECTS = {
    Recorded.BACKS: Subject.BACK,
    Recorded.SADDLES: Subject.SADDLE,
    Recorded.STUDIES: Subject.STUDY,
}
Number = Annotated[int, Field(ge=1, le=1_000_000)]


class Chosen(Given):
    """Which version is to be the current one."""

    number: Number


@router.get("{kind}/{uuid:uuid}/versions", auth=ByToken(Action.SEE_SADDLES), response=list[VersionShape])
def get_versions(request: HttpRequest, kind: Recorded, uuid: uuids.UUID) -> list[VersionRow]:
    """List all versions of a record, the newest first."""
    return list(queries.versions_of(actor_of(request), SUBJECTS[kind], uuid))


@router.get(
    "{kind}/{uuid:uuid}/versions/{int:number}",
    auth=ByToken(Action.SEE_SADDLES),
    openapi_extra=gives("application/json"),
)
def get_version(request: HttpRequest, kind: Recorded, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Give the document of a version, byte for byte as it was recorded. Its ETag is its sha256."""
    rows = queries.versions_of(actor_of(request), SUBJECTS[kind], uuid)
    return _document(request, kind, uuid, next((row for row in rows if row.number == number), None))


@router.get(
    "{kind}/{uuid:uuid}/document", auth=ByToken(Action.SEE_SADDLES), openapi_extra=gives("application/json")
)
def get_document(request: HttpRequest, kind: Recorded, uuid: uuids.UUID) -> HttpResponse:
    """Give the document of a record's current version, byte for byte as it was recorded."""
    rows = queries.versions_of(actor_of(request), SUBJECTS[kind], uuid)
    return _document(request, kind, uuid, next((row for row in rows if row.is_current), None))


def _document(request: HttpRequest, kind: Recorded, uuid: uuids.UUID, row: VersionRow | None) -> HttpResponse:
    if row is None:
        raise NotFoundError("version of this record", uuid)
    response = HttpResponse(
        document_of(actor_of(request), SUBJECTS[kind], uuid, row.number), content_type="application/json"
    )
    response["ETag"] = f'"{row.sha256}"'
    response["Saddlebench-Version"] = str(row.number)
    return response


@router.get(
    "{kind}/{uuid:uuid}/differences", auth=ByToken(Action.SEE_SADDLES), response=list[DifferenceShape]
)
def get_differences(
    request: HttpRequest, kind: Recorded, uuid: uuids.UUID, before: Number, after: Number
) -> list[Difference]:
    """Give the places where two versions of a record differ, at most the first five hundred."""
    return list(queries.differences(actor_of(request), SUBJECTS[kind], uuid, before, after))


@router.post("{kind}/{uuid:uuid}/current", auth=ByToken(Action.RECORD_SADDLE), response=list[VersionShape])
def choose_version(request: HttpRequest, kind: Recorded, uuid: uuids.UUID, body: Chosen) -> list[VersionRow]:
    """Make another version the current one. Backs and fit checks ask for more of the role than saddles."""
    actor = actor_of(request)
    services.choose_version(actor, SUBJECTS[kind], uuid, body.number)
    return list(queries.versions_of(actor, SUBJECTS[kind], uuid))
