"""What a trend needs besides the numbers: the present saddle's fit check, and why a horse is seen again."""

import uuid as uuids
from dataclasses import dataclass

from saddlebench.practice.enums import Action, RecheckReason
from saddlebench.practice.models import Horse, Recheck, Study
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own


@dataclass(frozen=True, slots=True, kw_only=True)
class LastCheck:
    """A horse's latest fit check."""

    label: str
    saddle: str
    document: str


def fit_check_for_trend(actor: Actor | None, horse_uuid: uuids.UUID) -> LastCheck | None:
    """Return a horse's latest fit check, which says what its saddle tolerates; None where there is none.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    horse = own(Horse, require(actor, Action.SEE_HORSES), horse_uuid)
    rows = Study.objects.standing().filter(horse=horse, saddle__withdrawn_at=None).exclude(current=None)
    row = rows.select_related("saddle", "current").order_by("-made_at", "-id").first()
    if row is None or row.current is None:
        return None
    return LastCheck(label=row.label, saddle=row.saddle.label, document=row.current.document)


def recheck_reason_of(actor: Actor | None, horse_uuid: uuids.UUID) -> RecheckReason:
    """Return why a horse is seen again, by the latest re-check that was set; else that it is steady.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    horse = own(Horse, require(actor, Action.SEE_HORSES), horse_uuid)
    rows = Recheck.objects.standing().filter(horse=horse).exclude(reason=RecheckReason.AS_AGREED.value)
    reason = rows.order_by("-id").values_list("reason", flat=True).first()
    return RecheckReason(reason) if reason else RecheckReason.STEADY
