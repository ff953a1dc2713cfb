"""Deleting is withdrawing, with undo; accounts and roles change without losing who did what."""

import pytest
from practice_cast import PASSWORD, Cast
from practice_invented import CHIP, invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Role, Subject
from saddlebench.practice.models import AuditRow, Horse, Membership, User
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.withdrawing import WITHDRAWABLE


def test_withdrawing_hides_and_putting_back_shows_again_exactly(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    before = queries.horse_page(cast.fitter, yard.horse.uuid)
    services.withdraw(cast.fitter, Subject.HORSE, yard.horse.uuid)
    with pytest.raises(NotFoundError):
        queries.horse_page(cast.fitter, yard.horse.uuid)
    assert Horse.objects.get(pk=yard.horse.pk).withdrawn_by_id == cast.fitter.user_id
    services.put_back(cast.fitter, Subject.HORSE, yard.horse.uuid)
    assert queries.horse_page(cast.fitter, yard.horse.uuid) == before
    deeds = (
        AuditRow.objects.filter(subject_uuid=yard.horse.uuid).order_by("id").values_list("deed", flat=True)
    )
    assert list(deeds) == ["take_on", "withdraw", "put_back"]


def test_everything_with_a_page_can_be_withdrawn() -> None:
    without = {Subject.PRACTICE, Subject.MEMBER, Subject.VISIT_SADDLE, Subject.COMPARISON}
    assert set(WITHDRAWABLE) == set(Subject) - without


def test_a_chip_is_free_again_and_putting_back_says_who_has_it_now(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    services.withdraw(cast.fitter, Subject.HORSE, yard.horse.uuid)
    services.take_on_horse(cast.fitter, {"label": "Sorrel", "microchip": CHIP})
    with pytest.raises(InputProblemsError, match="Sorrel"):
        services.put_back(cast.fitter, Subject.HORSE, yard.horse.uuid)


def test_a_practice_keeps_an_owner(cast: Cast) -> None:
    mine = Membership.objects.get(user_id=cast.owner.user_id)
    with pytest.raises(InputProblemsError, match="needs an owner"):
        services.end_membership(cast.owner, mine.uuid)
    with pytest.raises(InputProblemsError, match="needs an owner"):
        services.change_role(cast.owner, mine.uuid, Role.READER)
    fitter = Membership.objects.get(user_id=cast.fitter.user_id)
    services.change_role(cast.owner, fitter.uuid, Role.OWNER)
    services.end_membership(cast.owner, mine.uuid)
    assert services.actor_for(cast.users["owner"]) is None
    promoted = services.actor_for(cast.users["fitter"])
    assert promoted is not None
    assert promoted.role is Role.OWNER
    assert Membership.objects.filter(user_id=cast.fitter.user_id).count() == 2


def test_a_person_may_be_of_two_practices_and_acts_for_one_at_a_time(cast: Cast) -> None:
    user = cast.users["reader"]
    Membership.objects.create(
        practice=cast.other_practice, user=user, role=Role.FITTER.value, made_at="2026-01-01T00:00:00Z"
    )
    there = services.actor_for(user, cast.other_practice)
    here = services.actor_for(user, cast.practice)
    assert there is not None
    assert here is not None
    assert (there.role, here.role) == (Role.FITTER, Role.READER)
    services.take_on_client(there, {"label": "Somebody"})
    with pytest.raises(NotAllowedError):
        services.take_on_client(here, {"label": "Somebody"})


@pytest.mark.parametrize(
    ("label", "email", "password", "fields"),
    [
        ("", "not an address", "short", {"Name", "E-mail", "Password"}),
        ("Somebody", "orla@tussock.example", PASSWORD, {"E-mail"}),
        ("Somebody", "ORLA@Tussock.Example ", PASSWORD, {"E-mail"}),
        ("Somebody", "new@tussock.example", "1234567890123", {"Password"}),
        ("Somebody", "new@tussock.example", "password1234", {"Password"}),
    ],
)
def test_an_account_that_cannot_be_made_says_all_that_is_wrong(
    cast: Cast, label: str, email: str, password: str, fields: set[str]
) -> None:
    before = User.objects.count()
    with pytest.raises(InputProblemsError) as caught:
        services.add_member(cast.owner, label, email, password, Role.READER)
    assert {problem.where.field for problem in caught.value.problems} == fields
    assert User.objects.count() == before


def test_a_password_is_kept_as_a_hash(cast: Cast) -> None:
    user = User.objects.get(pk=cast.owner.user_id)
    assert user.check_password(PASSWORD)
    assert PASSWORD not in user.password
