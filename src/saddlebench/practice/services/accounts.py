"""The practice and who works in it."""

import uuid as uuids

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.catalogue import Field, Kind, read_value
from saddlebench.practice.enums import Action, Role, Subject, Vocabulary
from saddlebench.practice.models import AuditRow, Membership, Practice, User
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed

_ZONE = Field(name="zone", words="Time zone", kind=Kind.ZONE, required=True)
_NAME = Field(name="label", words="Name", required=True)


def actor_for(user: User | None, practice: Practice | None = None) -> Actor | None:
    """Return whom a signed-in person acts as; without a practice their oldest standing membership's."""
    if user is None or not user.is_active:
        return None
    standing = Membership.objects.filter(user=user, ended_at=None).order_by("made_at", "id")
    membership = (standing.filter(practice=practice) if practice else standing).first()
    if membership is None:
        return None
    return Actor(
        user_id=user.pk,
        practice_id=membership.practice_id,
        role=Role(membership.role),
        label=user.label,
    )


def is_first_start() -> bool:
    """Tell whether there is no practice yet."""
    return not Practice.objects.exists()


def found_practice(
    practice_label: str, label: str, email: str, password: str, *, zone: str = "UTC"
) -> tuple[Practice, User]:
    """Make a practice and its owner's account: what the first start asks for.

    Raises
    ------
    InputProblemsError
        With every problem of what was given.
    """
    problems: list[Problem] = []
    for field, value in ((_NAME, practice_label), (_NAME, label), (_ZONE, zone)):
        problems += _problems_of(field, value)
    problems += _account_problems(label, email, password)
    if problems:
        raise InputProblemsError(problems)
    now = timezone.now()
    with transaction.atomic():
        user = User.objects.create_user(email, label, password)
        practice = Practice.objects.create(label=practice_label.strip(), zone=zone, made_at=now)
        Membership.objects.create(practice=practice, user=user, role=Role.OWNER.value, made_at=now)
        AuditRow.objects.create(
            practice=practice,
            made_at=now,
            made_by=user,
            action=Action.MANAGE_PRACTICE.value,
            deed="found_practice",
            subject=Subject.PRACTICE.value,
            subject_uuid=practice.uuid,
        )
    return practice, user


def _problems_of(field: Field, value: str) -> tuple[Problem, ...]:
    try:
        read_value(field, value)
    except InputProblemsError as error:
        return error.problems
    return ()


def _account_problems(label: str, email: str, password: str) -> list[Problem]:
    problems: list[Problem] = []
    address = email.strip().casefold()
    try:
        validate_email(address)
    except ValidationError:
        problems.append(
            Problem(
                what=f"“{email}” is not an e-mail address",
                cure="Write it as name@place.example.",
                where=Where(field="E-mail"),
            )
        )
    if User.objects.filter(email=address).exists():
        problems.append(
            Problem(
                what="there is already an account with this address",
                cure="Sign in with it, or use another address.",
                where=Where(field="E-mail"),
            )
        )
    try:
        validate_password(password, User(email=address, label=label))
    except ValidationError as error:
        problems += [
            Problem(what=text.rstrip("."), cure="Choose another password.", where=Where(field="Password"))
            for text in error.messages
        ]
    return problems


def change_practice(
    actor: Actor | None, *, label: str | None = None, zone: str | None = None, vocabulary: str | None = None
) -> Practice:
    """Change the practice's name, zone or vocabulary.

    Raises
    ------
    InputProblemsError
        With every problem of what was given.
    """
    allowed = require(actor, Action.MANAGE_PRACTICE)
    problems: list[Problem] = []
    if label is not None:
        problems += _problems_of(_NAME, label)
    if zone is not None:
        problems += _problems_of(_ZONE, zone)
    if vocabulary is not None and vocabulary not in {one.value for one in Vocabulary}:
        problems.append(Problem(what=f"“{vocabulary}” is no vocabulary", cure="Choose british or american."))
    if problems:
        raise InputProblemsError(problems)
    practice = Practice.objects.get(pk=allowed.practice_id)
    with deed(actor, Action.MANAGE_PRACTICE, "change_practice", Subject.PRACTICE, practice.uuid):
        practice.label = practice.label if label is None else label.strip()
        practice.zone = practice.zone if zone is None else zone
        practice.vocabulary = practice.vocabulary if vocabulary is None else vocabulary
        practice.save(update_fields=["label", "zone", "vocabulary"])
    return practice


def add_member(actor: Actor | None, label: str, email: str, password: str, role: Role) -> Membership:
    """Make an account for somebody of the practice.

    Raises
    ------
    InputProblemsError
        With every problem of what was given.
    """
    allowed = require(actor, Action.MANAGE_MEMBERS)
    problems = [*_problems_of(_NAME, label), *_account_problems(label, email, password)]
    if problems:
        raise InputProblemsError(problems)
    uuid = uuids.uuid4()
    with deed(actor, Action.MANAGE_MEMBERS, "add_member", Subject.MEMBER, uuid) as done:
        user = User.objects.create_user(email, label, password)
        return Membership.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            user=user,
            role=role.value,
            made_at=done.audit.made_at,
        )


def change_role(actor: Actor | None, member_uuid: uuids.UUID, role: Role) -> Membership:
    """Give a member another role; the old membership ends, so that it stays readable who was what when.

    Raises
    ------
    InputProblemsError
        If the practice would be left without an owner.
    """
    allowed = require(actor, Action.MANAGE_MEMBERS)
    with deed(actor, Action.MANAGE_MEMBERS, "change_role", Subject.MEMBER, member_uuid) as done:
        old = _end(allowed, member_uuid, done.audit.made_at, stays_owner=role is Role.OWNER)
        return Membership.objects.create(
            practice_id=allowed.practice_id,
            user=old.user,
            role=role.value,
            vocabulary=old.vocabulary,
            made_at=done.audit.made_at,
        )


def choose_vocabulary(actor: Actor | None, vocabulary: str) -> None:
    """Choose which English is spoken to oneself; empty: the practice's.

    Raises
    ------
    InputProblemsError
        If there is no such vocabulary.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    if vocabulary not in {"", *(one.value for one in Vocabulary)}:
        msg = f"“{vocabulary}” is no vocabulary"
        raise input_problem(msg, "Choose british, american or the practice’s.")
    held = Membership.objects.filter(practice_id=allowed.practice_id, ended_at=None)
    member = held.get(user_id=allowed.user_id)
    with deed(actor, Action.SEE_SADDLES, "choose_vocabulary", Subject.MEMBER, member.uuid):
        Membership.objects.filter(pk=member.pk).update(vocabulary=vocabulary)


def end_membership(actor: Actor | None, member_uuid: uuids.UUID) -> None:
    """End a membership: what the person entered stays, with their name.

    Raises
    ------
    InputProblemsError
        If the practice would be left without an owner.
    """
    allowed = require(actor, Action.MANAGE_MEMBERS)
    with deed(actor, Action.MANAGE_MEMBERS, "end_membership", Subject.MEMBER, member_uuid) as done:
        _end(allowed, member_uuid, done.audit.made_at, stays_owner=False)


def _end(actor: Actor, uuid: uuids.UUID, now: object, *, stays_owner: bool) -> Membership:
    standing = Membership.objects.filter(practice_id=actor.practice_id, ended_at=None)
    # All owners are held, so that two owners cannot end each other at one moment.
    owners = list(standing.filter(role=Role.OWNER.value).select_for_update())
    member = standing.filter(uuid=uuid).first()
    if member is None:
        raise NotFoundError("member", uuid)
    if not stays_owner and [owner.pk for owner in owners] == [member.pk]:
        raise input_problem("a practice needs an owner", "Make somebody else an owner first.")
    Membership.objects.filter(pk=member.pk).update(ended_at=now)
    return member
