"""Scans of saddles lying upside down: kept as they came, whatever is made of them."""

import uuid as uuids

from saddlebench.engine.units import Length
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping.scans import StoredScan
from saddlebench.practice.models import Saddle, SaddleScan
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own


def bring_saddle_scan(
    actor: Actor | None, uuid: uuids.UUID, saddle_uuid: uuids.UUID, stored: StoredScan, unit: Length
) -> SaddleScan:
    """Keep a scan of a saddle; brought again under one name, it is the same.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle, or the name is of another one's scan.
    SameMomentError
        If the name is taken.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    saddle = own(Saddle, allowed, saddle_uuid)
    there = SaddleScan.objects.filter(saddle__practice_id=allowed.practice_id, uuid=uuid).first()
    if there is not None:
        if there.saddle_id != saddle.pk:
            raise NotFoundError("scan of this saddle", uuid)
        return there
    with deed(actor, Action.RECORD_SADDLE, "bring_saddle_scan", Subject.SADDLE, saddle_uuid) as done:
        return SaddleScan.objects.create(
            uuid=uuid,
            saddle=saddle,
            name=stored.name,
            suffix=stored.suffix,
            sha256=stored.sha256,
            size_bytes=stored.size_bytes,
            unit=unit.value,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
        )
