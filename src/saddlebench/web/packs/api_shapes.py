"""What goes in and out at the addresses of handing over: a promise, written out by hand."""

import uuid as uuids
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import Field

from saddlebench.practice.enums import Subject
from saddlebench.web.base.interface import Given, LinkShape, Shape

_MOST = 500
Uuids = Annotated[tuple[uuids.UUID, ...], Field(max_length=_MOST)]
Lines = Annotated[tuple[Annotated[str, Field(min_length=1, max_length=2000)], ...], Field(max_length=100)]


class KeyShape(Shape):
    """The practice's own key: what others may know of it."""

    line: str
    fingerprint: str


class PartnerShape(Shape):
    """Another practice's key."""

    uuid: uuids.UUID
    label: str
    line: str
    fingerprint: str
    trusted_at: datetime
    trusted_by: str
    ended_at: datetime | None


class Trusted(Given):
    """A key to trust; the fingerprint as its owner said it, by another way than the line came."""

    label: Annotated[str, Field(min_length=1, max_length=200)]
    line: Annotated[str, Field(max_length=1000)]
    fingerprint: Annotated[str, Field(max_length=100)]


class PackLinkShape(Shape):
    """A link to a pack."""

    uuid: uuids.UUID
    made_at: datetime
    by: str
    expires_at: datetime
    ended_at: datetime | None
    most_uses: int
    uses: int
    used_at: datetime | None
    stands: bool


class SentPackShape(Shape):
    """A pack that was made."""

    uuid: uuids.UUID
    label: str
    recipient: str
    made_at: datetime
    by: str
    sha256: str
    size_bytes: int
    is_sealed: bool
    holds: dict[str, Any]
    answers: uuids.UUID | None
    deleted_at: datetime | None
    links: list[PackLinkShape]
    answered_by: list[LinkShape]


class WorkGiven(Given):
    """Something that was done."""

    on: date
    words: Annotated[str, Field(min_length=1, max_length=2000)]
    saddle: uuids.UUID | None = None


class NewPack(Given):
    """A pack to make. Sent again with the same uuid, it is the same pack."""

    uuid: uuids.UUID | None = None
    horses: Uuids = ()
    saddles: Uuids = ()
    backs: Uuids = ()
    studies: Uuids = ()
    plans: Uuids = ()
    orders: Uuids = ()
    visits: Uuids = ()
    changes: Uuids = ()
    shortlists: Uuids = ()
    photos: Uuids = ()
    message: Annotated[str, Field(max_length=10_000)] = ""
    work_done: Annotated[tuple[WorkGiven, ...], Field(max_length=_MOST)] = ()
    questions: Lines = ()
    answers: uuids.UUID | None = None
    names_people: bool = False
    recipient: uuids.UUID | None = None
    drawings: bool = True
    reports: bool = True
    kit: bool = False
    instrument: Annotated[str, Field(max_length=80)] = ""
    """A shipped instrument's name, or the uuid of one's own: settings for it go with the kit."""
    language: Literal["en", "de"] = "en"
    lengths: Literal["mm", "in"] = "mm"
    """Of drawings, reports and the kit's papers: their reader's."""


class Decided(Given):
    """What was decided before a pack is taken. `same` is `<uuid in the pack>:<uuid here>`, or `…:another`."""

    trust: bool = False
    trust_changed: bool = False
    same: Annotated[tuple[Annotated[str, Field(max_length=80)], ...], Field(max_length=_MOST)] = ()
    further: Uuids = ()


class NewLink(Given):
    """How long a link is good for, and how often."""

    days: Annotated[int, Field(ge=1, le=90)] = 7
    most_uses: Annotated[int, Field(ge=1, le=100)] = 3


class MadeLinkShape(Shape):
    """A link that was made; its address is told this once."""

    uuid: uuids.UUID
    address: str
    expires_at: datetime


class DifferingShape(Shape):
    """A fact that is stated otherwise here; what is here stays."""

    name: str
    mine: str
    theirs: str


class CandidateShape(Shape):
    """A record here that one of a pack might be."""

    uuid: uuids.UUID
    label: str


class PackItemShape(Shape):
    """One record of a pack, and what would become of it, or became."""

    subject: Subject
    origin: uuids.UUID
    label: str
    fate: str
    local: uuids.UUID | None
    candidates: list[CandidateShape]
    remark: str
    differing: list[DifferingShape]


class PackCheckShape(Shape):
    """What a pack is, and what taking it would change."""

    uuid: uuids.UUID
    sender: str
    made_at: str
    key: str
    fingerprint: str
    was_sealed: bool
    answers: uuids.UUID | None
    message: str
    work_done: list[str]
    questions: list[str]
    taken_before: bool
    remarks: list[str]
    items: list[PackItemShape]


class TakenRecordShape(Shape):
    """A record that came with a pack."""

    subject: Subject
    uuid: uuids.UUID
    label: str


class TakenPackShape(Shape):
    """A pack that was taken."""

    uuid: uuids.UUID
    pack_uuid: uuids.UUID
    sender: str
    person: str
    fingerprint: str
    sent_at: datetime
    taken_at: datetime
    by: str
    message: str
    work_done: list[dict[str, Any]]
    questions: list[str]
    answers: uuids.UUID | None
    records: list[TakenRecordShape]


class OriginShape(Shape):
    """Where a record came from."""

    pack: uuids.UUID
    sender: str
    fingerprint: str
    sent_at: datetime
    taken_at: datetime
    by: str
    sha256: str
