"""The cast of the records' tests."""

import uuid as uuids
from dataclasses import dataclass

from saddlebench.practice import services
from saddlebench.practice.enums import Role
from saddlebench.practice.models import Practice, User
from saddlebench.practice.rules import Actor

PASSWORD = "invented-pass-phrase"  # noqa: S105


@dataclass(frozen=True)
class Cast:
    """Who is who. Everyone and every animal is invented."""

    practice: Practice
    owner: Actor
    fitter: Actor
    workshop: Actor
    reader: Actor
    other_practice: Practice
    other: Actor
    """Owner of another practice: may do everything there, and nothing here."""
    users: dict[str, User]

    @property
    def everyone(self) -> dict[str, Actor | None]:
        return {
            "owner": self.owner,
            "fitter": self.fitter,
            "workshop": self.workshop,
            "reader": self.reader,
            "other": self.other,
            "nobody": None,
        }


def make_cast() -> Cast:
    practice, owner = services.found_practice(
        "Tussock Saddles (invented)", "Orla Invented", "orla@tussock.example", PASSWORD, zone="Europe/London"
    )
    actor = services.actor_for(owner)
    users = {"owner": owner}
    actors: dict[Role, Actor] = {}
    for role in (Role.FITTER, Role.WORKSHOP, Role.READER):
        member = services.add_member(
            actor, f"{role.value.title()} Invented", f"{role.value}@tussock.example", PASSWORD, role
        )
        users[role.value] = member.user
        found = services.actor_for(member.user)
        assert found is not None
        actors[role] = found
    elsewhere, stranger = services.found_practice(
        "Gorse Saddlery (invented)", "Una Stranger", "una@gorse.example", PASSWORD
    )
    other = services.actor_for(stranger)
    assert actor is not None
    assert other is not None
    return Cast(
        practice=practice,
        owner=actor,
        fitter=actors[Role.FITTER],
        workshop=actors[Role.WORKSHOP],
        reader=actors[Role.READER],
        other_practice=elsewhere,
        other=other,
        users={**users, "other": stranger},
    )


def key() -> uuids.UUID:
    return uuids.uuid4()
