"""What was withdrawn and can be put back; and the receipts of what was erased."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from django.db.models import CharField, Value

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
    first, *others = (
        model.objects.of(allowed.practice_id)
        .exclude(withdrawn_at=None)
        .order_by()
        .annotate(withdrawn_kind=Value(subject.value, output_field=CharField()))
        .values_list("withdrawn_kind", "uuid", "label", "withdrawn_at", "withdrawn_by__label")
        for subject, model in WITHDRAWABLE.items()
        if people or subject not in _ABOUT_PEOPLE
    )
    # One query, however many kinds there are.
    rows = first.union(*others, all=True).order_by("-withdrawn_at", "uuid")[:most]
    return tuple(
        WithdrawnRow(subject=Subject(kind), uuid=uuid, label=label, at=at, by=by or "")
        for kind, uuid, label, at, by in rows
        if at is not None
    )


def receipts(actor: Actor | None) -> tuple[ReceiptRow, ...]:
    """Return the receipts of erasures, newest first."""
    allowed = require(actor, Action.ERASE)
    rows = ErasureReceipt.objects.filter(practice_id=allowed.practice_id).select_related("made_by")
    return tuple(
        ReceiptRow(uuid=row.uuid, at=row.made_at, by=row.made_by.label, counts=row.counts, sha256=row.sha256)
        for row in rows.order_by("-id")
    )
