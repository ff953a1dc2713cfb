"""In which practices a signed-in person works, and as what."""

import uuid as uuids
from dataclasses import dataclass, replace

from saddlebench.practice.enums import Action, Role, Vocabulary
from saddlebench.practice.models import Membership, User
from saddlebench.practice.rules import Actor, NotAllowedError


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A person's standing in one practice, and what every page says about that practice."""

    actor: Actor
    member_uuid: uuids.UUID
    practice: str
    practice_uuid: uuids.UUID
    zone: str
    vocabulary: Vocabulary
    """What is spoken to this person: their own, or else the practice's."""
    own_vocabulary: Vocabulary | None
    practice_vocabulary: Vocabulary


def standings(user_id: int) -> tuple[Standing, ...]:
    """Return a person's standing in each practice they work in, the oldest first."""
    rows = (
        Membership.objects.filter(user_id=user_id, user__is_active=True, ended_at=None)
        .select_related("practice", "user")
        .defer("practice__logo")
        .order_by("made_at", "id")
    )
    return tuple(_standing(row) for row in rows)


def standing_of_member(member_uuid: str) -> Standing | None:
    """Return a standing membership by its uuid, for addresses that carry a signature instead of a sign-in."""
    rows = Membership.objects.filter(uuid=member_uuid, user__is_active=True, ended_at=None)
    row = rows.select_related("practice", "user").first()
    return None if row is None else _standing(row)


def password_mark(user_id: int) -> str:
    """Return a mark that changes when the person's password changes, and tells nothing about it."""
    return User.objects.get(pk=user_id).get_session_auth_hash()


def _standing(row: Membership) -> Standing:
    return Standing(
        actor=Actor(
            user_id=row.user_id, practice_id=row.practice_id, role=Role(row.role), label=row.user.label
        ),
        member_uuid=row.uuid,
        practice=row.practice.label,
        practice_uuid=row.practice.uuid,
        zone=row.practice.zone,
        vocabulary=Vocabulary(row.vocabulary or row.practice.vocabulary),
        own_vocabulary=Vocabulary(row.vocabulary) if row.vocabulary else None,
        practice_vocabulary=Vocabulary(row.practice.vocabulary),
    )


def owners() -> tuple[Standing, ...]:
    """Return one owner of each practice, the oldest first: for who has the data folder itself in hand."""
    rows = (
        Membership.objects.filter(role=Role.OWNER.value, user__is_active=True, ended_at=None)
        .select_related("practice", "user")
        .order_by("practice_id", "made_at", "id")
    )
    first: dict[int, Standing] = {}
    for row in rows:
        first.setdefault(row.practice_id, _standing(row))
    return tuple(first.values())


def standing_in(actor: Actor) -> Standing:
    """Return an actor's standing in the practice they act for; the role is the actor's, which may be less.

    Raises
    ------
    NotAllowedError
        If the actor is no member (any more).
    """
    found = next(
        (one for one in standings(actor.user_id) if one.actor.practice_id == actor.practice_id), None
    )
    if found is None:
        raise NotAllowedError(Action.SEE_SADDLES, actor)
    return replace(found, actor=actor)
