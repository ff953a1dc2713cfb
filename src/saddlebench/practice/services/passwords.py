"""Passwords: changed by their owner, or set anew for a member who lost theirs."""

import uuid as uuids

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Membership, User
from saddlebench.practice.rules import Actor, NotAllowedError
from saddlebench.practice.services.deeds import NotFoundError, deed


def _refuse_weak(user: User, password: str) -> None:
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise InputProblemsError(
            [
                Problem(
                    what=text.rstrip("."), cure="Choose another password.", where=Where(field="New password")
                )
                for text in error.messages
            ]
        ) from None


def change_password(actor: Actor | None, old: str, new: str) -> User:
    """Change one's own password; the old one is asked for.

    Raises
    ------
    InputProblemsError
        If the old one is wrong, or the new one too weak.
    """
    if actor is None:
        raise NotAllowedError(Action.SEE_HORSES, None)
    user = User.objects.get(pk=actor.user_id)
    if not user.check_password(old):
        problem = Problem(
            what="this is not your password", cure="Type it again.", where=Where(field="Old password")
        )
        raise InputProblemsError([problem])
    _refuse_weak(user, new)
    user.set_password(new)
    user.save(update_fields=["password"])
    return user


def set_member_password(actor: Actor | None, member_uuid: uuids.UUID, new: str) -> None:
    """Give a member another password: they lost theirs, and there is no post office here to send a letter.

    Raises
    ------
    NotFoundError
        If the practice has no such member.
    InputProblemsError
        If the password is too weak.
    """
    with deed(actor, Action.MANAGE_MEMBERS, "set_member_password", Subject.MEMBER, member_uuid) as done:
        standing = Membership.objects.filter(practice_id=done.actor.practice_id, ended_at=None)
        member = standing.filter(uuid=member_uuid).select_related("user").first()
        if member is None:
            raise NotFoundError("member", member_uuid)
        _refuse_weak(member.user, new)
        member.user.set_password(new)
        member.user.save(update_fields=["password"])
