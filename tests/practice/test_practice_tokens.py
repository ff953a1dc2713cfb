"""Tokens for other programs: within a role, ended at any time, and never readable again."""

from datetime import timedelta

import pytest
from django.utils import timezone
from practice_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.enums import Role
from saddlebench.practice.models import Membership, Token
from saddlebench.practice.queries.tokens import tokens
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.tokens import actor_of_token, end_token, make_token


def test_a_token_acts_for_its_maker_within_its_role(cast: Cast) -> None:
    made = make_token(cast.fitter, "van laptop", Role.READER)
    actor = actor_of_token(made.secret)
    assert actor is not None
    assert (actor.user_id, actor.practice_id) == (cast.fitter.user_id, cast.fitter.practice_id)
    assert actor.role is Role.READER
    assert "van laptop" in actor.label
    assert actor_of_token(made.secret + "x") is None
    assert actor_of_token("") is None
    kept = Token.objects.get()
    assert made.secret not in str(vars(kept))
    assert kept.used_on is not None


@pytest.mark.parametrize(
    ("role", "may_make"),
    [
        (Role.OWNER, {Role.OWNER, Role.FITTER, Role.WORKSHOP, Role.READER}),
        (Role.FITTER, {Role.FITTER, Role.WORKSHOP, Role.READER}),
        (Role.WORKSHOP, {Role.WORKSHOP}),
        (Role.READER, {Role.READER}),
    ],
)
def test_nobody_makes_a_token_that_may_more_than_they_do(cast: Cast, role: Role, may_make: set[Role]) -> None:
    actor = cast.everyone[role.value]
    made = set()
    for wanted in Role:
        try:
            make_token(actor, wanted.value, wanted)
        except NotAllowedError:
            continue
        made.add(wanted)
    assert made == may_make


def test_a_token_ends_with_its_makers_membership_and_when_they_may_less(cast: Cast) -> None:
    made = make_token(cast.fitter, "laptop", Role.FITTER)
    member = Membership.objects.get(user_id=cast.fitter.user_id, ended_at=None)
    lower = services.change_role(cast.owner, member.uuid, Role.READER)
    assert actor_of_token(made.secret) is None
    services.change_role(cast.owner, lower.uuid, Role.FITTER)
    assert actor_of_token(made.secret) is not None
    last = Membership.objects.get(user_id=cast.fitter.user_id, ended_at=None)
    services.end_membership(cast.owner, last.uuid)
    assert actor_of_token(made.secret) is None


def test_tokens_are_listed_and_ended_by_their_maker_and_the_owner(cast: Cast) -> None:
    made = [make_token(cast.fitter, name, Role.READER) for name in ("one", "two")]
    assert {row.label for row in tokens(cast.owner)} == {"one", "two"}
    assert tokens(cast.reader) == ()
    for who in (cast.reader, cast.other):
        with pytest.raises(NotFoundError):
            end_token(who, made[0].token.uuid)
    end_token(cast.owner, made[0].token.uuid)
    end_token(cast.fitter, made[1].token.uuid)
    assert [actor_of_token(one.secret) for one in made] == [None, None]
    assert all(row.ended_at for row in tokens(cast.fitter))


def test_a_token_is_good_for_its_last_day_and_not_the_next(cast: Cast) -> None:
    today = timezone.now().date()
    made = make_token(cast.fitter, "for today", Role.READER, expires_on=today)
    assert actor_of_token(made.secret) is not None
    assert [row.stands for row in tokens(cast.fitter)] == [True]
    Token.objects.update(expires_on=today - timedelta(days=1))
    assert actor_of_token(made.secret) is None
    assert [row.stands for row in tokens(cast.fitter)] == [False]
    with pytest.raises(InputProblemsError, match="run out before"):
        make_token(cast.fitter, "late", Role.READER, expires_on=today - timedelta(days=1))


@pytest.mark.parametrize("name", ["", "   ", "x" * 201])
def test_a_token_has_a_name(cast: Cast, name: str) -> None:
    with pytest.raises(InputProblemsError, match="needs a name"):
        make_token(cast.fitter, name, Role.READER)
