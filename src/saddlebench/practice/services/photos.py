"""Photos: what is known about each, what it shows, and what is drawn on it."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from saddlebench.engine.errors import input_problem
from saddlebench.practice.catalogue import Value
from saddlebench.practice.catalogue.drawn import MOST_DRAWN, ONLY_ONE, read_drawn
from saddlebench.practice.catalogue.shots import Shot, read_shots, shots_of_rows
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping.files import StoredFile
from saddlebench.practice.models import Horse, Photo, Practice, Saddle, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed, own

FLAWS = ("dark", "blurred", "small", "horizon")
_LONGEST_NOTE = 10_000
_LONGEST_SHOT = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What is known about a picture besides its bytes."""

    original_sha256: str
    label: str = ""
    shot: str = ""
    width_px: int | None = None
    height_px: int | None = None
    taken_at: datetime | None = None
    flaws: tuple[str, ...] = ()
    """What the check found; the picture is kept all the same, and somebody decides."""
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
    # A saddle on the bench is photographed by those who work on it.
    action = Action.EDIT_SADDLES if saddle and not (visit or horse) else Action.ENTER_VISIT
    allowed = require(actor, action)
    if not (visit or horse or saddle):
        raise input_problem("a photo belongs to a visit, a horse or a saddle", "Say to which.")
    if not {*facts.kept_anyway, *facts.flaws} <= set(FLAWS) or len(facts.note) > _LONGEST_NOTE:
        raise input_problem("the photo's note or flaws cannot be kept", "Shorten the note.")
    chosen = uuid or uuids.uuid4()
    there = Photo.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, action, "attach_photo", Subject.PHOTO, chosen) as done:
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
            shot=facts.shot[:_LONGEST_SHOT],
            media_type=stored.media_type,
            sha256=stored.sha256,
            original_sha256=facts.original_sha256,
            size_bytes=stored.size_bytes,
            width_px=facts.width_px,
            height_px=facts.height_px,
            taken_at=facts.taken_at,
            flaws=list(facts.flaws),
            kept_anyway=list(facts.kept_anyway),
            note=facts.note.strip(),
        )


def keep_photo_anyway(actor: Actor | None, uuid: uuids.UUID) -> Photo:
    """Decide that a photo is kept with what the check found in it."""
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "keep_photo_anyway", Subject.PHOTO, uuid):
        photo = own(Photo, allowed, uuid, locked=True)
        photo.kept_anyway = sorted({*photo.kept_anyway, *photo.flaws}, key=FLAWS.index)
        photo.flaws = []
        photo.save(update_fields=["flaws", "kept_anyway"])
        return photo


def describe_photo(actor: Actor | None, uuid: uuids.UUID, *, shot: str, note: str, seen: str) -> Photo:
    """Set a photo's shot and note; if somebody else changed the note that was seen, both stay in it.

    Raises
    ------
    InputProblemsError
        If the note is too long.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "describe_photo", Subject.PHOTO, uuid):
        photo = own(Photo, allowed, uuid, locked=True)
        mine, theirs = note.replace("\r\n", "\n").strip(), photo.note
        if theirs not in {seen.replace("\r\n", "\n").strip(), mine}:
            mine = f"{theirs}\n{mine}".strip()
        if len(mine) > _LONGEST_NOTE:
            msg = f"the note has more than {_LONGEST_NOTE} characters"
            raise input_problem(msg, "Shorten it.")
        photo.note, photo.shot = mine, shot[:_LONGEST_SHOT]
        photo.save(update_fields=["note", "shot"])
        return photo


def draw_on_photo(
    actor: Actor | None,
    uuid: uuids.UUID,
    kind: str,
    points: Sequence[tuple[float, float]],
    *,
    key: uuids.UUID,
    known_mm: Value = None,
) -> Photo:
    """Add a mark to a photo, beside what others draw at the same time; the same key twice is one mark.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the mark.
    """
    allowed = require(actor, Action.ENTER_VISIT)
    mark = read_drawn(kind, list(points), known_mm, key)
    with deed(actor, Action.ENTER_VISIT, "draw_on_photo", Subject.PHOTO, uuid):
        photo = own(Photo, allowed, uuid, locked=True)
        others = [one for one in photo.drawn if one["key"] != str(key)]
        if len(others) >= MOST_DRAWN:
            msg = f"a photo takes {MOST_DRAWN} marks"
            raise input_problem(msg, "Take some off first.")
        if kind in ONLY_ONE:
            others = [one for one in others if one["kind"] != kind]
        photo.drawn = [*others, mark]
        photo.save(update_fields=["drawn"])
        return photo


def rub_off_photo(actor: Actor | None, uuid: uuids.UUID, key: uuids.UUID) -> Photo:
    """Take a mark off a photo; one that is off already stays off."""
    allowed = require(actor, Action.ENTER_VISIT)
    with deed(actor, Action.ENTER_VISIT, "rub_off_photo", Subject.PHOTO, uuid):
        photo = own(Photo, allowed, uuid, locked=True)
        photo.drawn = [one for one in photo.drawn if one["key"] != str(key)]
        photo.save(update_fields=["drawn"])
        return photo


def set_shots(actor: Actor | None, text: str) -> tuple[Shot, ...]:
    """Set which photos the practice takes at a visit, one a line; an empty list is the usual one.

    Raises
    ------
    InputProblemsError
        With every line that cannot be kept.
    """
    allowed = require(actor, Action.MANAGE_PRACTICE)
    practice = Practice.objects.get(pk=allowed.practice_id)
    shots = read_shots(text, shots_of_rows(practice.shots))
    with deed(actor, Action.MANAGE_PRACTICE, "set_shots", Subject.PRACTICE, practice.uuid):
        practice.shots = [{"name": shot.name, "words": shot.words} for shot in shots]
        practice.save(update_fields=["shots"])
        return shots_of_rows(practice.shots)
