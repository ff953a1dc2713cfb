"""Links by which one pack is fetched: they run out, can be ended, count their uses, and show nothing else."""

import hashlib
import secrets
import uuid as uuids
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F
from django.utils import timezone

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import PackLink, SentPack
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed

_SECRET_BYTES = 32
LONGEST_DAYS, MOST_USES = 90, 100


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeLink:
    """A new link with its secret, which is not known to anybody afterwards."""

    uuid: uuids.UUID
    secret: str
    expires_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkShown:
    """What a link shows to whoever holds it: the pack that was chosen, and not a word besides."""

    uuid: uuids.UUID
    pack: uuids.UUID
    sender: str
    made_at: datetime
    size_bytes: int
    is_sealed: bool
    holds: dict[str, object]
    """Counts and labels; empty for a closed pack, whose content is its recipient's alone."""
    expires_at: datetime
    uses_left: int


def make_link(actor: Actor | None, pack: uuids.UUID, *, days: int, most_uses: int) -> MadeLink:
    """Make a link to a pack.

    Raises
    ------
    InputProblemsError
        If it would be good for no day or no use, or for absurdly many.
    NotFoundError
        If the practice has no such pack, or its file was deleted.
    """
    allowed = require(actor, Action.EXPORT)
    if not 1 <= days <= LONGEST_DAYS:
        cure = f"Choose 1 to {LONGEST_DAYS} days."
        raise input_problem("a link cannot be good for so long", cure, Where(field="Days"))
    if not 1 <= most_uses <= MOST_USES:
        cure = f"Choose 1 to {MOST_USES} times."
        raise input_problem("a link cannot be used so often", cure, Where(field="Times"))
    row = SentPack.objects.filter(practice_id=allowed.practice_id, uuid=pack, deleted_at=None).first()
    if row is None:
        raise NotFoundError("pack", pack)
    uuid, secret = uuids.uuid4(), secrets.token_urlsafe(_SECRET_BYTES)
    with deed(actor, Action.EXPORT, "make_link", Subject.PRACTICE, uuid) as done:
        expires_at = done.audit.made_at + timedelta(days=days)
        PackLink.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            pack=row,
            digest=_digest(secret),
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            expires_at=expires_at,
            most_uses=most_uses,
        )
    return MadeLink(uuid=uuid, secret=secret, expires_at=expires_at)


def end_link(actor: Actor | None, uuid: uuids.UUID) -> uuids.UUID:
    """End a link, and return the pack that it led to; downloads under way are not resumed either.

    Raises
    ------
    NotFoundError
        If the practice has no such link.
    """
    allowed = require(actor, Action.EXPORT)
    link = PackLink.objects.filter(practice_id=allowed.practice_id, uuid=uuid).select_related("pack").first()
    if link is None:
        raise NotFoundError("link", uuid)
    with deed(actor, Action.EXPORT, "end_link", Subject.PRACTICE, uuid) as done:
        PackLink.objects.filter(pk=link.pk, ended_at=None).update(ended_at=done.audit.made_at)
    return link.pack.uuid


def link_of(secret: str) -> LinkShown | None:
    """Return what a secret leads to; None where it is none, ended, or run out."""
    row = PackLink.objects.filter(digest=_digest(secret)).select_related("pack", "practice").first()
    return None if row is None or not _stands(row) else _shown(row)


def _stands(row: PackLink) -> bool:
    return row.ended_at is None and row.pack.deleted_at is None and row.expires_at > timezone.now()


def _shown(row: PackLink) -> LinkShown:
    return LinkShown(
        uuid=row.uuid,
        pack=row.pack.uuid,
        sender=row.practice.label,
        made_at=row.pack.made_at,
        size_bytes=row.pack.size_bytes,
        is_sealed=row.pack.is_sealed,
        holds={} if row.pack.is_sealed else row.pack.holds,
        expires_at=row.expires_at,
        uses_left=max(0, row.most_uses - row.uses),
    )


def use_link(link: uuids.UUID) -> bool:
    """Count one use; False where there is none left. Two at once cannot both have the last."""
    rows = PackLink.objects.filter(uuid=link, ended_at=None, uses__lt=F("most_uses"))
    return bool(rows.update(uses=F("uses") + 1, used_at=timezone.now()))


def still_stands(link: uuids.UUID) -> LinkShown | None:
    """Return a link that a download was begun by, if it was not ended and has not run out since."""
    row = PackLink.objects.filter(uuid=link).select_related("pack", "practice").first()
    return None if row is None or not _stands(row) else _shown(row)


def _digest(secret: str) -> str:
    # The secret has 256 random bits: there is nothing to guess, so a slow hash would protect nothing.
    return hashlib.sha256(secret.encode()).hexdigest()
