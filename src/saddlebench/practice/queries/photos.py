"""Photos and films: those of a visit or a horse, and one by itself."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.practice.catalogue import Value
from saddlebench.practice.catalogue.shots import Shot, shots_of_rows
from saddlebench.practice.enums import Action
from saddlebench.practice.models import Photo, Practice
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.deeds import NotFoundError

_MOST = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoShown:
    """A photo or film."""

    uuid: uuids.UUID
    shot: str
    media_type: str
    sha256: str
    original_sha256: str
    width_px: int | None
    height_px: int | None
    size_bytes: int
    day: date
    """Of its visit; else when it was taken or added."""
    taken_at: datetime | None
    made_at: datetime
    by: str
    flaws: tuple[str, ...]
    kept_anyway: tuple[str, ...]
    drawn: tuple[dict[str, Value], ...]
    note: str
    """Empty for those who may not see people: it may name them."""
    visit: uuids.UUID | None
    horse: Linked | None
    saddle: Linked | None

    @property
    def is_film(self) -> bool:
        """Whether it moves."""
        return self.media_type.startswith("video/")


def photos_of(
    actor: Actor | None,
    *,
    visit: uuids.UUID | None = None,
    horse: uuids.UUID | None = None,
    saddle: uuids.UUID | None = None,
) -> tuple[PhotoShown, ...]:
    """Return the photos of a visit, a horse or a saddle, the oldest first; the newest four hundred."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Photo.objects.of(allowed.practice_id).standing()
    if visit:
        rows = rows.filter(visit__uuid=visit)
    if horse:
        rows = rows.filter(horse__uuid=horse)
    if saddle:
        rows = rows.filter(saddle__uuid=saddle)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    found = rows.select_related("visit", "horse", "saddle", "made_by").order_by("-made_at", "-id")[:_MOST]
    return tuple(shown_photo(row, people=people) for row in reversed(found))


def photo(actor: Actor | None, uuid: uuids.UUID) -> PhotoShown:
    """Return one photo.

    Raises
    ------
    NotFoundError
        If the practice has no such photo, or it is withdrawn.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = Photo.objects.of(allowed.practice_id).standing().filter(uuid=uuid)
    row = rows.select_related("visit", "horse", "saddle", "made_by").first()
    if row is None:
        raise NotFoundError("photo", uuid)
    return shown_photo(row, people=may(allowed, Action.SEE_PEOPLE, allowed.practice_id))


def shot_list(actor: Actor | None) -> tuple[Shot, ...]:
    """Return the photos that the practice takes at a visit."""
    allowed = require(actor, Action.SEE_HORSES)
    return shots_of_rows(Practice.objects.values_list("shots", flat=True).get(pk=allowed.practice_id))


def shown_photo(row: Photo, *, people: bool) -> PhotoShown:
    """Return a photo as it is shown; its note only to those who may see people."""
    day = row.visit.date if row.visit else (row.taken_at or row.made_at).date()
    return PhotoShown(
        uuid=row.uuid,
        shot=row.shot,
        media_type=row.media_type,
        sha256=row.sha256,
        original_sha256=row.original_sha256,
        width_px=row.width_px,
        height_px=row.height_px,
        size_bytes=row.size_bytes,
        day=day,
        taken_at=row.taken_at,
        made_at=row.made_at,
        by=row.made_by.label,
        flaws=tuple(row.flaws),
        kept_anyway=tuple(row.kept_anyway),
        drawn=tuple(row.drawn),
        note=row.note if people else "",
        visit=row.visit.uuid if row.visit else None,
        horse=Linked(uuid=row.horse.uuid, label=row.horse.label) if row.horse else None,
        saddle=Linked(uuid=row.saddle.uuid, label=row.saddle.label) if row.saddle else None,
    )
