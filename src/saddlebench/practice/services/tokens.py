"""Tokens for other programs: made once, shown once, kept as a digest, ended at any time."""

import hashlib
import secrets
import uuid as uuids
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.enums import Action, Role, Subject
from saddlebench.practice.models import Membership, Token
from saddlebench.practice.rules import Actor, NotAllowedError, is_within, may, require
from saddlebench.practice.services.deeds import NotFoundError, deed

PREFIX = "saddlebench_"
_SECRET_BYTES = 32
_LONGEST_LABEL = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeToken:
    """A new token with its secret, which is not known to anybody afterwards."""

    token: Token
    secret: str


def make_token(actor: Actor | None, label: str, role: Role, *, expires_on: date | None = None) -> MadeToken:
    """Make a token that acts for the actor, as a role that may no more than the actor's.

    Raises
    ------
    InputProblemsError
        If it has no name, or would be good for no day.
    NotAllowedError
        If the role may do more than the actor.
    """
    allowed = require(actor, Action.SEE_HORSES)
    if not is_within(role, allowed.role):
        raise NotAllowedError(Action.MANAGE_MEMBERS, allowed)
    name = label.strip()
    if not 1 <= len(name) <= _LONGEST_LABEL:
        raise input_problem(
            "a token needs a name",
            f"Say what it is for, in 1 to {_LONGEST_LABEL} characters.",
            Where(field="Name"),
        )
    if expires_on is not None and expires_on < timezone.now().date():
        cure = "Choose a day to come, or none."
        raise input_problem("a token cannot run out before it is made", cure, Where(field="Until"))
    uuid, secret = uuids.uuid4(), PREFIX + secrets.token_urlsafe(_SECRET_BYTES)
    with deed(actor, Action.SEE_HORSES, "make_token", Subject.MEMBER, uuid) as done:
        token = Token.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            user_id=allowed.user_id,
            label=name,
            role=role.value,
            digest=_digest(secret),
            made_at=done.audit.made_at,
            expires_on=expires_on,
        )
    return MadeToken(token=token, secret=secret)


def end_token(actor: Actor | None, uuid: uuids.UUID) -> None:
    """End a token: one's own, or anybody's of the practice for those who manage its members.

    Raises
    ------
    NotFoundError
        If the actor has no such token.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = Token.objects.filter(practice_id=allowed.practice_id, uuid=uuid)
    if not may(allowed, Action.MANAGE_MEMBERS, allowed.practice_id):
        rows = rows.filter(user_id=allowed.user_id)
    if not rows.exists():
        raise NotFoundError("token", uuid)
    with deed(actor, Action.SEE_HORSES, "end_token", Subject.MEMBER, uuid) as done:
        rows.filter(ended_at=None).update(ended_at=done.audit.made_at)


def actor_of_token(secret: str) -> Actor | None:
    """Return whom a token acts for; None if unknown, ended, run out, or its maker may do less by now."""
    if not secret.startswith(PREFIX):
        return None
    token = Token.objects.filter(digest=_digest(secret), ended_at=None, user__is_active=True)
    found = token.select_related("user").first()
    if found is None:
        return None
    today = timezone.now().date()
    if found.expires_on is not None and found.expires_on < today:
        return None
    member = Membership.objects.filter(
        practice_id=found.practice_id, user_id=found.user_id, ended_at=None
    ).first()
    role = Role(found.role)
    if member is None or not is_within(role, Role(member.role)):
        return None
    if found.used_on != today:
        Token.objects.filter(pk=found.pk).update(used_on=today)
    return Actor(
        user_id=found.user_id,
        practice_id=found.practice_id,
        role=role,
        label=f"{found.user.label}, by “{found.label}”",
    )


def _digest(secret: str) -> str:
    # The secret has 256 random bits: there is nothing to guess, so a slow hash would protect nothing.
    return hashlib.sha256(secret.encode()).hexdigest()
