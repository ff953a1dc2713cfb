"""What a pack's records are beside what is here: one by one, before anything is written."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from saddlebench.exchange.packs.document import PackDocument
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import TakenRecord
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor


class Fate(StrEnum):
    """What would become of one record of a pack."""

    NEW = "new"
    HERE = "here"
    """It is here already, the same."""
    SAME_ONE = "same_one"
    """A horse or saddle that is here already, by its number or since an earlier pack."""
    LIKE = "like"
    """One of this name is here: whether it is the same, a person says."""
    DIFFERS = "differs"
    """It is here in another version: theirs is taken as a further one only if a person says so."""
    WITHDRAWN = "withdrawn"
    """It was withdrawn here, and stays so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Differing:
    """A fact that is stated otherwise here; what is here stays."""

    name: str
    mine: Value
    theirs: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A record here that it might be."""

    uuid: uuids.UUID
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One record of a pack, and what would become of it."""

    subject: Subject
    origin: uuids.UUID
    sha256: str
    """Of its document, picture or answers; empty for what has none."""
    label: str
    fate: Fate
    local: uuids.UUID | None = None
    """The record here that it is."""
    candidates: tuple[Candidate, ...] = ()
    differing: tuple[Differing, ...] = ()
    remark: str = ""
    """What to know before it is taken."""


@dataclass(slots=True)
class Here:
    """What is here already of a pack's records, asked for once a kind."""

    actor: Actor
    taken: dict[tuple[str, str], uuids.UUID] = field(default_factory=dict)

    def load(self, document: PackDocument) -> None:
        """Ask which of the pack's records came before."""
        names = {
            *(one.uuid for one in document.horses),
            *(one.uuid for one in document.saddles),
            *(one.uuid for one in document.backs),
            *(one.uuid for one in document.studies),
            *(one.uuid for one in document.plans),
            *(one.uuid for one in document.orders),
            *(one.uuid for one in document.visits),
            *(one.uuid for one in document.changes),
            *(one.uuid for one in document.shortlists),
            *(one.uuid for one in document.sights()),
        }
        rows = TakenRecord.objects.filter(practice_id=self.actor.practice_id, origin_uuid__in=names)
        for subject, origin, local in rows.values_list("subject", "origin_uuid", "local_uuid"):
            self.taken[subject, str(origin)] = local

    def local(self, subject: Subject, name: str) -> uuids.UUID:
        """Return what a record would be called here: as it was taken, or as it came back."""
        return self.taken.get((subject.value, name), uuids.UUID(name))

    def find(
        self, model: type[Withdrawable], subject: Subject, names: Iterable[str]
    ) -> Mapping[str, Withdrawable]:
        """Return the records here by a pack's name for them, withdrawn ones included."""
        local = {name: self.local(subject, name) for name in names}
        rows = model._default_manager.filter(  # noqa: SLF001
            practice_id=self.actor.practice_id, uuid__in=local.values()
        )
        by_uuid = {row.uuid: row for row in rows}
        return {name: by_uuid[uuid] for name, uuid in local.items() if uuid in by_uuid}
