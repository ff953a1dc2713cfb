"""Photos of tracings read one after another, told how far it is; what cannot be read, and why."""

import uuid as uuids
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.http import HttpResponse

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.tracings.photo_file import read_photo
from saddlebench.exchange.tracings.sheet_read import MARKS, Asked, ReadSheet
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.long_work import Run

Refuse = Callable[[ReadSheet], None]
"""Raises what is wrong with a sheet that lies where it does not belong."""


@dataclass(slots=True)
class PhotosRead:
    """What came of each photo."""

    found: list[tuple[uuids.UUID, ReadSheet]] = field(default_factory=list)
    unread: list[tuple[uuids.UUID, str]] = field(default_factory=list)
    """Photos with too few marks, and why."""
    problems: list[Problem] = field(default_factory=list)

    def refuse_if_nothing(self) -> None:
        """Refuse photos of which none was read, and none waits for its corners."""
        if self.problems and not self.found and not self.unread:
            raise InputProblemsError(self.problems)

    @property
    def said(self) -> str:
        """What is wrong with some of them."""
        return " ".join(str(one) for one in self.problems)


def photos_read(run: Run, photos: Sequence[uuids.UUID], asked: Asked, refuse: Refuse) -> PhotosRead:
    """Read photos of trace sheets; those without marks wait for their corners."""
    read = PhotosRead()
    for done, uuid in enumerate(photos):
        name = f"photo {done + 1}"
        try:
            sheet = photo_read(run, uuid, asked, refuse, at=(done, len(photos)), words=f"reading {name}")
        except InputProblemsError as error:
            if any(one.where.field == MARKS for one in error.problems):
                read.unread.append((uuid, error.problems[0].what))
                continue
            where = Where(file=name)
            read.problems += [Problem(what=one.what, cure=one.cure, where=where) for one in error.problems]
        else:
            read.found.append((uuid, sheet))
    return read


def photo_read(
    run: Run, uuid: uuids.UUID, asked: Asked, refuse: Refuse, *, at: tuple[int, int], words: str
) -> ReadSheet:
    """Read one photo; while that lasts it is told that it does, which is where a person stops it.

    Raises
    ------
    InputProblemsError
        If it cannot be read, or is of something else.
    """

    def tell(_done: int, _of: int, _doing: str) -> None:
        run.tell(*at, words)

    tell(0, 0, "")
    sheet = read_photo(path_of(run.actor, uuid), asked, tell)
    refuse(sheet)
    return sheet


def path_of(actor: Actor, uuid: uuids.UUID) -> Path:
    """Return where a photo's bytes lie.

    Raises
    ------
    NotFoundError
        If they are gone.
    """
    shown = photo(actor, uuid)
    path = stored_path(Path(settings.SADDLEBENCH_HOME), shown.sha256, shown.media_type)
    if not path.is_file():
        raise NotFoundError("file of this photo", shown.uuid)
    return path


def file_of(actor: Actor, uuid: uuids.UUID) -> HttpResponse:
    """Give a photo's bytes."""
    return HttpResponse(path_of(actor, uuid).read_bytes(), content_type=photo(actor, uuid).media_type)
