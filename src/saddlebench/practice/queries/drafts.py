"""Numbers of a saddle that were typed and not recorded yet."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Saddle, SaddleDraft
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftShown:
    """One person's unrecorded numbers of a saddle."""

    by: str
    by_uuid: uuids.UUID
    is_mine: bool
    at: datetime
    family: str
    seen: int
    texts: dict[str, str]


def saddle_drafts(actor: Actor | None, saddle_uuid: uuids.UUID) -> tuple[DraftShown, ...]:
    """Return everybody's unrecorded numbers of a saddle, one's own first, then the latest.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    saddle = own(Saddle, allowed, saddle_uuid)
    rows = SaddleDraft.objects.filter(saddle=saddle).select_related("made_by").order_by("-saved_at")
    shown = [
        DraftShown(
            by=row.made_by.label,
            by_uuid=row.made_by.uuid,
            is_mine=row.made_by_id == allowed.user_id,
            at=row.saved_at,
            family=row.family,
            seen=row.seen,
            texts=dict(row.texts),
        )
        for row in rows
    ]
    return tuple(sorted(shown, key=lambda one: not one.is_mine))
