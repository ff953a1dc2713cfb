"""What was looked at and felt on a horse on a day."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.models import Answer, Horse, Visit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own


def noted_on(actor: Actor | None, horse: uuids.UUID, day: date) -> Mapping[str, Value]:
    """Return the answers about the horse of its visits on a day, by field; of two visits, the later's.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.SEE_HORSES)
    visits = Visit.objects.standing().filter(horse=own(Horse, allowed, horse), date=day)
    rows = Answer.objects.filter(visit__in=visits).order_by("visit__made_at", "id").select_related("visit")
    return {row.field: row.value for row in rows if row.subject_uuid == row.visit.uuid}
