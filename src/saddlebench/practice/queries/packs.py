"""Packs sent and taken, and keys that are known."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import (
    Back,
    Choice,
    Comparison,
    Horse,
    PackLink,
    Partner,
    Photo,
    Plan,
    PracticeKey,
    Saddle,
    SentPack,
    Study,
    TakenPack,
    TakenRecord,
    Visit,
    WorkOrder,
)
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError

_MOST = 200
_MODELS: dict[Subject, type[Withdrawable] | type[Comparison]] = {
    Subject.HORSE: Horse,
    Subject.SADDLE: Saddle,
    Subject.BACK: Back,
    Subject.STUDY: Study,
    Subject.PLAN: Plan,
    Subject.ORDER: WorkOrder,
    Subject.VISIT: Visit,
    Subject.COMPARISON: Comparison,
    Subject.CHOICE: Choice,
    Subject.PHOTO: Photo,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartnerShown:
    """Another practice's key."""

    uuid: uuids.UUID
    label: str
    line: str
    fingerprint: str
    trusted_at: datetime
    trusted_by: str
    ended_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRow:
    """A link to a pack; nobody can read its secret any more."""

    uuid: uuids.UUID
    made_at: datetime
    by: str
    expires_at: datetime
    ended_at: datetime | None
    most_uses: int
    uses: int
    used_at: datetime | None

    @property
    def stands(self) -> bool:
        """Whether a pack can still be fetched by it."""
        return self.ended_at is None and self.expires_at > timezone.now() and self.uses < self.most_uses


@dataclass(frozen=True, slots=True, kw_only=True)
class SentShown:
    """A pack that was made."""

    uuid: uuids.UUID
    label: str
    recipient: str
    """Empty where everybody may read it."""
    made_at: datetime
    by: str
    sha256: str
    size_bytes: int
    is_sealed: bool
    holds: dict[str, Any]
    answers: uuids.UUID | None
    deleted_at: datetime | None
    links: tuple[LinkRow, ...] = ()
    answered_by: tuple[Linked, ...] = ()
    """Packs taken that answer it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenShown:
    """A pack that was taken, and the records that came with it."""

    uuid: uuids.UUID
    pack_uuid: uuids.UUID
    sender: str
    person: str
    fingerprint: str
    sent_at: datetime
    taken_at: datetime
    by: str
    message: str
    work_done: tuple[dict[str, Any], ...]
    questions: tuple[str, ...]
    answers: uuids.UUID | None
    answers_label: str
    records: tuple[tuple[Subject, Linked], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a record came from."""

    pack: uuids.UUID
    sender: str
    fingerprint: str
    sent_at: datetime
    taken_at: datetime
    by: str
    sha256: str


def own_key_shown(actor: Actor | None) -> PracticeKey | None:
    """Return the public half of the practice's key, if it has one yet."""
    allowed = require(actor, Action.EXPORT)
    return PracticeKey.objects.filter(practice_id=allowed.practice_id, ended_at=None).first()


def partners(actor: Actor | None) -> tuple[PartnerShown, ...]:
    """Return the keys that are known; those still trusted first."""
    allowed = require(actor, Action.EXPORT)
    rows = Partner.objects.filter(practice_id=allowed.practice_id).select_related("trusted_by")
    return tuple(
        PartnerShown(
            uuid=row.uuid,
            label=row.label,
            line=row.line,
            fingerprint=row.fingerprint,
            trusted_at=row.trusted_at,
            trusted_by=row.trusted_by.label,
            ended_at=row.ended_at,
        )
        for row in sorted(rows, key=lambda one: (one.ended_at is not None, one.label.casefold()))
    )


def sent_packs(actor: Actor | None) -> tuple[SentShown, ...]:
    """Return the packs that were made, the newest first."""
    allowed = require(actor, Action.EXPORT)
    rows = SentPack.objects.filter(practice_id=allowed.practice_id).select_related("recipient", "made_by")
    return tuple(_sent(row) for row in rows.order_by("-made_at", "-id")[:_MOST])


def _sent(row: SentPack, **more: Any) -> SentShown:
    return SentShown(
        uuid=row.uuid,
        label=row.label,
        recipient=row.recipient.label if row.recipient else "",
        made_at=row.made_at,
        by=row.made_by.label,
        sha256=row.sha256,
        size_bytes=row.size_bytes,
        is_sealed=row.is_sealed,
        holds=row.holds,
        answers=row.answers,
        deleted_at=row.deleted_at,
        **more,
    )


def sent_pack(actor: Actor | None, uuid: uuids.UUID) -> SentShown:
    """Return a pack that was made, with its links and what answered it.

    Raises
    ------
    NotFoundError
        If the practice made no such pack.
    """
    allowed = require(actor, Action.EXPORT)
    rows = SentPack.objects.filter(practice_id=allowed.practice_id, uuid=uuid)
    row = rows.select_related("recipient", "made_by").first()
    if row is None:
        raise NotFoundError("pack", uuid)
    links = PackLink.objects.filter(pack=row).select_related("made_by").order_by("-made_at", "-id")[:_MOST]
    answers = TakenPack.objects.filter(practice_id=allowed.practice_id, answers=uuid).order_by("-taken_at")
    return _sent(
        row,
        links=tuple(
            LinkRow(
                uuid=one.uuid,
                made_at=one.made_at,
                by=one.made_by.label,
                expires_at=one.expires_at,
                ended_at=one.ended_at,
                most_uses=one.most_uses,
                uses=one.uses,
                used_at=one.used_at,
            )
            for one in links
        ),
        answered_by=tuple(
            Linked(uuid=one.uuid, label=one.sender_label, day=one.sent_at.date()) for one in answers[:_MOST]
        ),
    )


def taken_packs(actor: Actor | None) -> tuple[TakenShown, ...]:
    """Return the packs that were taken, the newest first."""
    allowed = require(actor, Action.EXPORT)
    rows = TakenPack.objects.filter(practice_id=allowed.practice_id).select_related("partner", "taken_by")
    return tuple(_taken(row) for row in rows.order_by("-taken_at", "-id")[:_MOST])


def _taken(
    row: TakenPack, *, answers_label: str = "", records: tuple[tuple[Subject, Linked], ...] = ()
) -> TakenShown:
    return TakenShown(
        uuid=row.uuid,
        pack_uuid=row.pack_uuid,
        sender=row.partner.label if row.partner else row.sender_label,
        person=row.sender_person,
        fingerprint=row.fingerprint,
        sent_at=row.sent_at,
        taken_at=row.taken_at,
        by=row.taken_by.label,
        message=row.message,
        work_done=tuple(row.work_done),
        questions=tuple(row.questions),
        answers=row.answers,
        answers_label=answers_label,
        records=records,
    )


def taken_pack(actor: Actor | None, uuid: uuids.UUID) -> TakenShown:
    """Return a pack that was taken, with the records that came with it.

    Raises
    ------
    NotFoundError
        If the practice took no such pack.
    """
    allowed = require(actor, Action.EXPORT)
    rows = TakenPack.objects.filter(practice_id=allowed.practice_id, uuid=uuid)
    row = rows.select_related("partner", "taken_by").first()
    if row is None:
        raise NotFoundError("pack", uuid)
    answered = (
        SentPack.objects.filter(practice_id=allowed.practice_id, uuid=row.answers) if row.answers else None
    )
    found = answered.first() if answered is not None else None
    return _taken(row, answers_label=found.label if found else "", records=_records(allowed, row))


def _records(actor: Actor, pack: TakenPack) -> tuple[tuple[Subject, Linked], ...]:
    came = TakenRecord.objects.filter(pack=pack).values_list("subject", "local_uuid")
    found: list[tuple[Subject, Linked]] = []
    for subject, model in _MODELS.items():
        names = {local for kind, local in came if kind == subject.value}
        stands = {} if subject is Subject.COMPARISON else {"withdrawn_at": None}
        rows = model._default_manager.filter(  # noqa: SLF001
            practice_id=actor.practice_id, uuid__in=names, **stands
        )
        found += [(subject, Linked(uuid=one.uuid, label=one.label)) for one in rows.order_by("label", "id")]
    return tuple(found)


def origins_of(actor: Actor | None, uuid: uuids.UUID) -> tuple[Origin, ...]:
    """Return which packs a record came with, the newest first; empty for one's own.

    Raises
    ------
    NotFoundError
        If the practice has no such record.
    """
    allowed = require(actor, Action.SEE_HORSES)
    here = {"practice_id": allowed.practice_id, "uuid": uuid}
    tables = (model._default_manager for model in _MODELS.values())  # noqa: SLF001
    if not any(table.filter(**here).exists() for table in tables):
        raise NotFoundError("record", uuid)
    rows = TakenRecord.objects.filter(practice_id=allowed.practice_id, local_uuid=uuid)
    linked = rows.select_related("pack__partner", "pack__taken_by").order_by("-pack__taken_at", "-id")
    return tuple(
        Origin(
            pack=row.pack.uuid,
            sender=row.pack.partner.label if row.pack.partner else row.pack.sender_label,
            fingerprint=row.pack.fingerprint,
            sent_at=row.pack.sent_at,
            taken_at=row.pack.taken_at,
            by=row.pack.taken_by.label,
            sha256=row.sha256,
        )
        for row in linked
    )
