"""Deleting is withdrawing: out of every list, and back again when it was a mistake."""

import uuid as uuids

from django.utils import timezone

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import (
    Back,
    Capture,
    Choice,
    Client,
    Horse,
    Instrument,
    Photo,
    Plan,
    Recheck,
    Saddle,
    Study,
    Visit,
    WorkOrder,
    Yard,
)
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import refuse_impossible
from saddlebench.practice.services.deeds import deed, own
from saddlebench.practice.services.entering import horses_found_by
from saddlebench.practice.services.finding import refresh_found_by

WITHDRAWABLE: dict[Subject, type[Withdrawable]] = {
    Subject.CLIENT: Client,
    Subject.YARD: Yard,
    Subject.HORSE: Horse,
    Subject.SADDLE: Saddle,
    Subject.VISIT: Visit,
    Subject.PHOTO: Photo,
    Subject.BACK: Back,
    Subject.STUDY: Study,
    Subject.RECHECK: Recheck,
    Subject.CAPTURE: Capture,
    Subject.INSTRUMENT: Instrument,
    Subject.PLAN: Plan,
    Subject.ORDER: WorkOrder,
    Subject.CHOICE: Choice,
}


def withdraw(actor: Actor | None, subject: Subject, uuid: uuids.UUID) -> Withdrawable:
    """Withdraw a record: nothing of it is lost, and `put_back` undoes it."""
    allowed = require(actor, Action.WITHDRAW)
    with deed(actor, Action.WITHDRAW, "withdraw", subject, uuid):
        row = own(WITHDRAWABLE[subject], allowed, uuid, locked=True)
        row.withdrawn_at, row.withdrawn_by_id = timezone.now(), allowed.user_id
        row.save(update_fields=["withdrawn_at", "withdrawn_by"])
        refresh_found_by(horses_found_by(row))
        return row


def put_back(actor: Actor | None, subject: Subject, uuid: uuids.UUID) -> Withdrawable:
    """Put a withdrawn record back.

    Raises
    ------
    InputProblemsError
        If another horse has its number meanwhile.
    """
    allowed = require(actor, Action.WITHDRAW)
    with deed(actor, Action.WITHDRAW, "put_back", subject, uuid):
        row = own(WITHDRAWABLE[subject], allowed, uuid, locked=True, withdrawn=True)
        row.withdrawn_at, row.withdrawn_by = None, None
        refuse_impossible(row)
        row.save(update_fields=["withdrawn_at", "withdrawn_by"])
        refresh_found_by(horses_found_by(row))
        return row
