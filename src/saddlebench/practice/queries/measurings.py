"""How a back that a check was made on came to be measured, so that a reading of it can be repeated."""

import uuid as uuids
from dataclasses import dataclass

from saddlebench.practice.enums import Action
from saddlebench.practice.models import BackVersion, Capture
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError


@dataclass(frozen=True, slots=True, kw_only=True)
class Measuring:
    """A back, and whether it was keyed in here reading by reading."""

    back: uuids.UUID
    horse: uuids.UUID
    is_capture: bool
    """Then its readings can be taken up again, and a section measured once more."""
    is_open: bool
    """Whether it is being measured just now."""


def measuring_of(actor: Actor | None, back_version: uuids.UUID) -> Measuring:
    """Return how a version of a back was measured.

    Raises
    ------
    NotFoundError
        If the practice has no such version.
    """
    allowed = require(actor, Action.SEE_HORSES)
    row = (
        BackVersion.objects.filter(uuid=back_version, back__practice_id=allowed.practice_id)
        .select_related("back__horse")
        .defer("document")
        .first()
    )
    if row is None:
        raise NotFoundError("version of a back record", back_version)
    capture = Capture.objects.of(allowed.practice_id).standing().filter(uuid=row.back.uuid).first()
    return Measuring(
        back=row.back.uuid,
        horse=row.back.horse.uuid,
        is_capture=capture is not None,
        is_open=capture is not None and capture.finished_at is None,
    )
