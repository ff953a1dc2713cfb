"""A photo from a phone, kept with its visit."""

import uuid as uuids
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from saddlebench.practice import queries
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import attach_photo
from saddlebench.web.photos.keeping import keep


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What the phone says of a photo."""

    uuid: uuids.UUID
    visit: uuids.UUID
    shot: str = ""
    label: str = ""


def keep_photo(actor: Actor, content: bytes, described: Described, zone: ZoneInfo) -> None:
    """Keep a photo with its visit; the same uuid again is the same photo.

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
