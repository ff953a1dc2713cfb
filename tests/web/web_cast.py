"""The cast of the pages' tests, each with a browser of their own."""

from dataclasses import dataclass
from datetime import date
from unittest import mock

from django.test import Client

from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Purpose, RecheckReason, Role, Subject
from saddlebench.practice.rules import Actor
from saddlebench.web.base.jobs import queue_worker

PASSWORD = "invented-pass-phrase"
CHIP = "985000123456789"
ROLES = ("owner", "fitter", "workshop", "reader")
_REST = '"version": 1'
EVERYONE = (*ROLES, "other", "nobody")


@dataclass(frozen=True)
class Invented:
    """One record of each kind, of one practice."""

    uuids: dict[Subject, str]
    member: str

    def __getitem__(self, subject: Subject) -> str:
        return self.uuids[subject]


@dataclass(frozen=True)
class Cast:
    """Who is who. Everyone and every animal is invented."""

    actors: dict[str, Actor]
    users: dict[str, object]
    here: Invented
    elsewhere: Invented

    def browser(self, who: str, *, checks_forms: bool = False) -> Client:
        """Return a browser in which somebody is signed in; `nobody` is not."""
        client = Client(enforce_csrf_checks=checks_forms)
        if who != "nobody":
            client.force_login(self.users[who])
        return client


def _actor(user: object) -> Actor:
    found = services.actor_for(user)
    assert found is not None
    return found


def invented_yard(actor: Actor, member: str, *, name: str, horse: str, chip: str) -> Invented:
    client = services.take_on_client(
        actor, {"label": name, "email": "wilma@fernlea.example", "town": "Dunmoor"}
    )
    yard = services.take_on_yard(actor, {"label": f"{name}'s Livery", "postcode": "ZZ9 9ZZ"})
    taken = services.take_on_horse(
        actor,
        {
            "label": horse,
            "microchip": chip,
            "born_in": 2014,
            "client": str(client.uuid),
            "yard": str(yard.uuid),
        },
    )
    saddle = services.take_on_saddle(
        actor, {"label": f"{horse}'s brown jumping", "family": "panelled", "client": str(client.uuid)}
    )
    services.use_saddle_on(actor, saddle.uuid, [taken.uuid])
    visit = services.start_visit(actor, on=date(2026, 3, 1), purpose=Purpose.FIRST, horse=taken.uuid)
    back = services.record_back(
        actor, taken.uuid, back_document(68), measured_on=date(2026, 3, 1), visit_uuid=visit.uuid
    )
    measured = services.record_saddle(
        actor,
        saddle.uuid,
        Document(text=f'{{"format": "saddlebench saddle record", {_REST}, "channel_mm": 68}}'),
    )
    study = services.record_study(
        actor,
        Document(text=f'{{"format": "saddlebench fit check", {_REST}, "findings": []}}'),
        back_version=back.version.uuid,
        saddle_version=measured.version.uuid,
        visit_uuid=visit.uuid,
    )
    recheck = services.set_recheck(actor, taken.uuid, visit_uuid=visit.uuid, reasons=[RecheckReason.STEADY])
    return Invented(
        uuids={
            Subject.CLIENT: str(client.uuid),
            Subject.YARD: str(yard.uuid),
            Subject.HORSE: str(taken.uuid),
            Subject.SADDLE: str(saddle.uuid),
            Subject.VISIT: str(visit.uuid),
            Subject.BACK: str(back.version.back.uuid),
            Subject.STUDY: str(study.version.study.uuid),
            Subject.RECHECK: str(recheck.uuid),
        },
        member=member,
    )


def back_document(width: int) -> Document:
    return Document(text=f'{{"format": "saddlebench back record", {_REST}, "readings": [1.5, {width}]}}')


def do_waiting() -> None:
    """Do the long work that waits, here and now, within the transaction that the test undoes."""
    # Between jobs the worker drops connections as requests do: dropped, a transaction would be gone.
    with mock.patch("django_tasks_db.management.commands.db_worker.close_old_connections"):
        queue_worker().run()


def make_cast() -> Cast:
    _, owner = services.found_practice(
        "Tussock Saddles (invented)", "Orla Invented", "orla@tussock.example", PASSWORD, zone="Europe/London"
    )
    users: dict[str, object] = {"owner": owner}
    members = {}
    for role in (Role.FITTER, Role.WORKSHOP, Role.READER):
        label, email = f"{role.value.title()} Invented", f"{role.value}@tussock.example"
        member = services.add_member(_actor(owner), label, email, PASSWORD, role)
        users[role.value] = member.user
        members[role] = str(member.uuid)
    _, stranger = services.found_practice(
        "Gorse Saddlery (invented)", "Una Stranger", "una@gorse.example", PASSWORD
    )
    users["other"] = stranger
    helper = services.add_member(_actor(stranger), "Uma Helper", "uma@gorse.example", PASSWORD, Role.READER)
    actors = {who: _actor(user) for who, user in users.items()}
    return Cast(
        actors=actors,
        users=users,
        here=invented_yard(
            actors["owner"], members[Role.READER], name="Wilma Fernlea", horse="Juniper", chip=CHIP
        ),
        elsewhere=invented_yard(
            actors["other"], str(helper.uuid), name="Percy Elsewhere", horse="Thistle", chip="985000123456790"
        ),
    )
