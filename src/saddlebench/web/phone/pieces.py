"""Photos arriving in pieces: cut off anywhere, they go on where they were, and count once."""

import hashlib
import time
import uuid as uuids
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpResponse, JsonResponse

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.photos import shot_list
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.spoken import spoken, told
from saddlebench.web.phone.photos import Described, draw_marks, is_kept, keep_photo, marks_of
from saddlebench.web.phone.syncing import sent_object

LARGEST_BYTES = 64 << 20
LARGEST_PIECE = 2 << 20
_KEPT_S = 60 * 24 * 3600


def _folder(request: PageRequest) -> Path:
    return Path(settings.SADDLEBENCH_HOME) / "phone-pieces" / str(request.standing.practice_uuid)


def _path(request: PageRequest, uuid: uuids.UUID) -> Path:
    return _folder(request) / f"{uuid}.part"


def _told(request: PageRequest, uuid: uuids.UUID, status: int = 200) -> HttpResponse:
    path = _path(request, uuid)
    have = path.stat().st_size if path.is_file() else 0
    return JsonResponse({"have": have, "kept": is_kept(request.actor, uuid)}, status=status)


@signed_in(Action.ENTER_VISIT)
def state(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Say how much of a photo is here."""
    return _told(request, uuid)


@signed_in(Action.ENTER_VISIT, DEED)
@spoken
def piece(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Add a piece; one that does not go on where the last ended is left, and where to go on is told."""
    given = request.GET.get("from", "")
    begins = int(given) if given.isascii() and given.isdigit() and len(given) < 12 else -1
    content = request.body
    path = _path(request, uuid)
    have = path.stat().st_size if path.is_file() else 0
    if begins != have or is_kept(request.actor, uuid):
        return _told(request, uuid)
    if not content or len(content) > LARGEST_PIECE or have + len(content) > LARGEST_BYTES:
        said = f"A photo of more than {LARGEST_BYTES >> 20} MB is not taken. It stays on the phone."
        return JsonResponse({"said": told(said)}, status=413)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    _forget_old(path.parent)
    with path.open("ab") as file:
        file.write(content)
    return _told(request, uuid)


def _forget_old(folder: Path) -> None:
    """Take out what was begun long ago and never went on: the phone has it still, or it was read in."""
    oldest = time.time() - _KEPT_S
    for path in folder.glob("*.part"):
        if path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)


@signed_in(Action.ENTER_VISIT, DEED)
@spoken
def whole(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Keep a photo whose pieces are all here, if they are what the phone has."""
    sent, path = sent_object(request) or {}, _path(request, uuid)
    try:
        described = _described(request, uuid, sent)
        if is_kept(request.actor, uuid):
            # It may have been cut off between the photo and what was drawn on it.
            draw_marks(request.actor, described)
            return _told(request, uuid)
    except SaddlebenchError as error:
        return JsonResponse({"said": told(str(error))}, status=422)
    content = path.read_bytes() if path.is_file() else b""
    if hashlib.sha256(content).hexdigest() != sent.get("sha256"):
        path.unlink(missing_ok=True)
        return _told(request, uuid, 409)
    try:
        keep_photo(request.actor, content, described, ZoneInfo(request.standing.zone))
    except NotFoundError:
        said = "The visit that this photo belongs to is not here yet, or was withdrawn."
        return JsonResponse({"said": told(said), "waits": True}, status=404)
    except SaddlebenchError as error:
        path.unlink(missing_ok=True)
        return JsonResponse({"said": told(str(error))}, status=422)
    path.unlink(missing_ok=True)
    return _told(request, uuid)


def _described(request: PageRequest, uuid: uuids.UUID, sent: Mapping[str, Any]) -> Described:
    shots = {one.name for one in shot_list(request.actor)}
    shot = str(sent.get("shot") or "")
    return Described(
        uuid=uuid,
        visit=key_of(str(sent.get("visit") or "")),
        shot=shot if shot in shots else "",
        label=str(sent.get("label") or "")[:200],
        drawn=marks_of(sent.get("drawn")),
    )
