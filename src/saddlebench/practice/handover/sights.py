"""Photos and films as a pack holds them: without place, time, names and device."""

import hashlib
from collections.abc import Callable
from datetime import UTC, date
from pathlib import Path

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import FilmPart, PhotoPart
from saddlebench.exchange.packs.films import bare_film
from saddlebench.exchange.packs.photos import bare_picture
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.models import Photo
from saddlebench.practice.models.base import Withdrawable

Named = Callable[[Withdrawable], str]
"""Gives a record's name in packs."""
_SUFFIXES = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "video/mp4": ".mp4",
    "video/quicktime": ".mov",
    "video/webm": ".webm",
}


def _stored(photo: Photo, home: Path, words: str) -> bytes:
    path = stored_path(home, photo.sha256, photo.media_type)
    if not path.is_file():
        cure = "Leave it out, or bring the files back from a backup."
        raise input_problem(f"the file of {words} is gone", cure)  # noqa: EM102
    return path.read_bytes()


def _day(photo: Photo) -> date:
    return photo.visit.date if photo.visit else (photo.taken_at or photo.made_at).date()


def photo_part(photo: Photo, number: int, named: Named, home: Path) -> tuple[PhotoPart, bytes]:
    """Return a photo's part of a pack, and its bytes.

    Raises
    ------
    InputProblemsError
        If its file is gone, or no picture that packs hold.
    """
    words = photo.label or photo.shot or f"photo {number}"
    bare = bare_picture(_stored(photo, home, f"photo {number}"), words)
    part = PhotoPart(
        uuid=named(photo),
        file=f"photos/{number:03d}{_SUFFIXES[bare.media_type]}",
        sha256=hashlib.sha256(bare.content).hexdigest(),
        media_type=bare.media_type,
        horse=named(photo.horse) if photo.horse else None,
        saddle=named(photo.saddle) if photo.saddle else None,
        shot=photo.shot,
        label=photo.label,
        day=_day(photo),
        taken_at=photo.taken_at.astimezone(UTC).isoformat() if photo.taken_at else None,
    )
    return part, bare.content


def film_part(photo: Photo, number: int, named: Named, home: Path) -> tuple[FilmPart, bytes]:
    """Return a film's part of a pack, and its bytes.

    Raises
    ------
    InputProblemsError
        If its file is gone, or no film that packs hold.
    """
    words = photo.label or photo.shot or f"film {number}"
    content = bare_film(_stored(photo, home, f"film {number}"), words, photo.media_type)
    part = FilmPart(
        uuid=named(photo),
        file=f"films/{number:03d}{_SUFFIXES[photo.media_type]}",
        sha256=hashlib.sha256(content).hexdigest(),
        media_type=photo.media_type,  # type: ignore[arg-type]
        horse=named(photo.horse) if photo.horse else None,
        saddle=named(photo.saddle) if photo.saddle else None,
        shot=photo.shot,
        label=photo.label,
        day=_day(photo),
    )
    return part, content
