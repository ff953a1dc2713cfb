"""A photo from a phone, kept with its visit and with what was drawn on it."""

import uuid as uuids
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from saddlebench.engine.errors import input_problem
from saddlebench.practice import queries
from saddlebench.practice.catalogue.drawn import read_drawn
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError, attach_photo
from saddlebench.practice.services.photos import draw_on_photo
from saddlebench.web.photos.keeping import keep

_MOST_MARKS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A mark drawn on the phone."""

    key: uuids.UUID
    kind: str
    points: tuple[tuple[float, float], ...]
    """Parts of the picture's width and height."""
    known_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What the phone says of a photo."""

    uuid: uuids.UUID
    visit: uuids.UUID
    shot: str = ""
    label: str = ""
    drawn: tuple[Mark, ...] = ()


def marks_of(told: object) -> tuple[Mark, ...]:
    """Return the marks that a phone sent with a photo.

    Raises
    ------
    InputProblemsError
        If something of them cannot be read, or is no mark.
    """
    if not isinstance(told, list):
        return ()
    marks = tuple(_mark(one) for one in told[:_MOST_MARKS])
    for one in marks:
        read_drawn(one.kind, list(one.points), one.known_mm, one.key)
    return marks


def _mark(told: Any) -> Mark:
    try:
        points = tuple((float(x), float(y)) for x, y in told["points"])
        known = told.get("known_mm")
        key = uuids.UUID(str(told["key"]))
        return Mark(
            key=key, kind=str(told["kind"]), points=points, known_mm=None if known is None else float(known)
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        cure = "Rub it off on the phone, and draw it again."
        raise input_problem("a mark drawn on the photo cannot be read", cure) from None


def is_kept(actor: Actor, uuid: uuids.UUID) -> bool:
    """Tell whether a photo is here."""
    try:
        photo(actor, uuid)
    except NotFoundError:
        return False
    return True


def keep_photo(actor: Actor, content: bytes, described: Described, zone: ZoneInfo) -> None:
    """Keep a photo with its visit, and what was drawn on it; the same uuid again is the same photo.

    Raises
    ------
    NotFoundError
        If the practice has no such visit: before anything is written.
    InputProblemsError
        If it is no picture or film that can be kept.
    """
    queries.visit_page(actor, described.visit)
    stored, facts = keep(content, described.shot, zone)
    attach_photo(
        actor, stored, replace(facts, label=described.label), visit=described.visit, uuid=described.uuid
    )
    draw_marks(actor, described)


def draw_marks(actor: Actor, described: Described) -> None:
    """Draw a photo's marks on it; each counts once."""
    for one in described.drawn:
        draw_on_photo(actor, described.uuid, one.kind, one.points, key=one.key, known_mm=one.known_mm)
