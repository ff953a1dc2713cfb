"""The four kinds of record that are edited by a form, and what each form shows."""

import uuid as uuids
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.http import Http404

from saddlebench.practice import queries
from saddlebench.practice.catalogue import (
    CLIENT_FIELDS,
    HORSE_FIELDS,
    SADDLE_FIELDS,
    YARD_FIELDS,
    Field,
    Value,
)
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.yards import yard_page
from saddlebench.practice.rules import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A record as its form starts from it."""

    label: str
    revision: int
    values: Mapping[str, Value]
    links: Mapping[str, Linked | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordKind:
    """A kind of record."""

    subject: Subject
    action: Action
    fields: Mapping[str, Field]
    links: tuple[str, ...]
    url: str
    """Name of the record's page."""
    read: Callable[[Actor, uuids.UUID], Standing]


def _client(actor: Actor, uuid: uuids.UUID) -> Standing:
    page = queries.client_page(actor, uuid)
    return Standing(label=page.label, revision=page.revision, values=page.values, links={})


def _yard(actor: Actor, uuid: uuids.UUID) -> Standing:
    page = yard_page(actor, uuid)
    return Standing(label=page.label, revision=page.revision, values=page.values, links={})


def _horse(actor: Actor, uuid: uuids.UUID) -> Standing:
    page = queries.horse_page(actor, uuid)
    links = {"client": page.client, "yard": page.yard}
    return Standing(label=page.label, revision=page.revision, values=page.values, links=links)


def _saddle(actor: Actor, uuid: uuids.UUID) -> Standing:
    page = queries.saddle_page(actor, uuid)
    return Standing(
        label=page.label, revision=page.revision, values=page.values, links={"client": page.client}
    )


CLIENT = RecordKind(
    subject=Subject.CLIENT,
    action=Action.EDIT_PEOPLE,
    fields=CLIENT_FIELDS,
    links=(),
    url="records:client",
    read=_client,
)
YARD = RecordKind(
    subject=Subject.YARD,
    action=Action.EDIT_PEOPLE,
    fields=YARD_FIELDS,
    links=(),
    url="records:yard",
    read=_yard,
)
HORSE = RecordKind(
    subject=Subject.HORSE,
    action=Action.EDIT_HORSES,
    fields=HORSE_FIELDS,
    links=("client", "yard"),
    url="records:horse",
    read=_horse,
)
SADDLE = RecordKind(
    subject=Subject.SADDLE,
    action=Action.EDIT_SADDLES,
    fields=SADDLE_FIELDS,
    links=("client",),
    url="records:saddle",
    read=_saddle,
)
KINDS = {kind.subject: kind for kind in (CLIENT, YARD, HORSE, SADDLE)}


def subject_of(text: str, among: Mapping[Subject, object]) -> Subject:
    """Return the subject that an address names, if it is one of those that the page knows."""
    for subject in among:
        if subject.value == text:
            return subject
    raise Http404
