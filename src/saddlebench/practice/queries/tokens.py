"""Tokens as they are listed."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from saddlebench.practice.enums import Action, Role
from saddlebench.practice.models import Token
from saddlebench.practice.rules import Actor, may, require


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenRow:
    """A token; nobody can read its secret any more."""

    uuid: uuids.UUID
    label: str
    role: Role
    by: str
    made_at: datetime
    used_on: date | None
    ended_at: datetime | None
    expires_on: date | None

    @property
    def stands(self) -> bool:
        """Whether it was not withdrawn and has not run out."""
        return self.ended_at is None and (self.expires_on is None or self.expires_on >= timezone.now().date())


def tokens(actor: Actor | None) -> tuple[TokenRow, ...]:
    """Return one's own tokens, or the practice's for those who manage members; standing first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = Token.objects.filter(practice_id=allowed.practice_id)
    if not may(allowed, Action.MANAGE_MEMBERS, allowed.practice_id):
        rows = rows.filter(user_id=allowed.user_id)
    found = sorted(
        rows.select_related("user").order_by("-made_at", "-id"), key=lambda row: row.ended_at is not None
    )
    return tuple(
        TokenRow(
            uuid=row.uuid,
            label=row.label,
            role=Role(row.role),
            by=row.user.label,
            made_at=row.made_at,
            used_on=row.used_on,
            ended_at=row.ended_at,
            expires_on=row.expires_on,
        )
        for row in found
    )
