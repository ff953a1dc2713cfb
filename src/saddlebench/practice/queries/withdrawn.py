"""What was withdrawn and can be put back; and the receipts of what was erased."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import ErasureReceipt
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.withdrawing import WITHDRAWABLE

_ABOUT_PEOPLE = (Subject.CLIENT, Subject.YARD)


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawnRow:
    """A withdrawn record."""

    subject: Subject
    uuid: uuids.UUID
    label: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptRow:
    """A receipt of an erasure."""

    uuid: uuids.UUID
    at: datetime
    by: str
    counts: dict[str, int]
    sha256: str


def withdrawn(actor: Actor | None, most: int = 100) -> tuple[WithdrawnRow, ...]:
    """Return the records withdrawn last, newest first; people only to those who may see people."""
    allowed = require(actor, Action.SEE_HORSES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    found: list[WithdrawnRow] = []
    for subject, model in WITHDRAWABLE.items():
        if subject in _ABOUT_PEOPLE and not people:
            continue
        rows = model.objects.of(allowed.practice_id).exclude(withdrawn_at=None)
        found += [
            WithdrawnRow(
                subject=subject,
                uuid=row.uuid,
                label=row.label,
                at=row.withdrawn_at,
                by=row.withdrawn_by.label if row.withdrawn_by else "",
            )
            for row in rows.select_related("withdrawn_by").order_by("-withdrawn_at", "-id")[:most]
            if row.withdrawn_at is not None
        ]
    return tuple(sorted(found, key=lambda one: one.at, reverse=True)[:most])


def receipts(actor: Actor | None) -> tuple[ReceiptRow, ...]:
    """Return the receipts of erasures, newest first."""
    allowed = require(actor, Action.ERASE)
    rows = ErasureReceipt.objects.filter(practice_id=allowed.practice_id).select_related("made_by")
    return tuple(
        ReceiptRow(uuid=row.uuid, at=row.made_at, by=row.made_by.label, counts=row.counts, sha256=row.sha256)
        for row in rows.order_by("-id")
    )
