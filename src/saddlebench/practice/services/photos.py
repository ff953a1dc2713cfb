"""Photos: what is known about each, and what it shows."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.engine.errors import input_problem
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping.files import StoredFile
from saddlebench.practice.models import Horse, Photo, Saddle, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed, own

FLAWS = ("dark", "blurred", "small", "horizon")
_LONGEST_NOTE = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What is known about a picture besides its bytes."""

    original_sha256: str
    label: str = ""
    shot: str = ""
    width_px: int | None = None
    height_px: int | None = None
    taken_at: datetime | None = None
    kept_anyway: tuple[str, ...] = ()
    note: str = ""


def attach_photo(
    actor: Actor | None,
    stored: StoredFile,
    facts: PhotoFacts,
    *,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> Photo:
    """Add a stored file to a visit, a horse or a saddle; sending it again returns the same.

    Raises
    ------
    InputProblemsError
        If it belongs to nothing, a flaw is unknown, or the note is too long.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    if not (visit or horse or saddle):
        raise input_problem("a photo belongs to a visit, a horse or a saddle", "Say to which.")
    if not set(facts.kept_anyway) <= set(FLAWS) or len(facts.note) > _LONGEST_NOTE:
        raise input_problem("the photo's note or flaws cannot be kept", "Shorten the note.")
    chosen = uuid or uuids.uuid4()
    there = Photo.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, Action.ENTER_VISIT, "attach_photo", Subject.PHOTO, chosen) as done:
        at = own(Visit, allowed, visit) if visit else None
        of = own(Horse, allowed, horse) if horse else (at.horse if at else None)
        return Photo.objects.create(
            uuid=chosen,
            practice_id=allowed.practice_id,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            visit=at,
            horse=of,
            saddle=own(Saddle, allowed, saddle) if saddle else None,
            label=facts.label.strip()[:200],
            shot=facts.shot[:48],
            media_type=stored.media_type,
            sha256=stored.sha256,
            original_sha256=facts.original_sha256,
            size_bytes=stored.size_bytes,
            width_px=facts.width_px,
            height_px=facts.height_px,
            taken_at=facts.taken_at,
            kept_anyway=list(facts.kept_anyway),
            note=facts.note.strip(),
        )
