"""What was worked on lately."""

import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Back, Study, Visit
from saddlebench.practice.rules import Actor, require


@dataclass(frozen=True, slots=True, kw_only=True)
class RecentWork:
    """One record that was made lately, with its horse."""

    subject: Subject
    uuid: uuids.UUID
    horse: str
    horse_uuid: uuids.UUID | None
    label: str
    at: datetime
    by: str


def recent_work(actor: Actor | None, most: int = 8) -> tuple[RecentWork, ...]:
    """Return the visits, backs and fit checks made last, newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    found: list[RecentWork] = []
    for subject, model in ((Subject.VISIT, Visit), (Subject.BACK, Back), (Subject.STUDY, Study)):
        rows = model.objects.of(allowed.practice_id).standing().select_related("horse", "made_by")
        found += [
            RecentWork(
                subject=subject,
                uuid=row.uuid,
                horse=row.horse.label if row.horse else "",
                horse_uuid=row.horse.uuid if row.horse else None,
                label=row.label,
                at=row.made_at,
                by=row.made_by.label,
            )
            for row in rows.order_by("-made_at", "-id")[:most]
        ]
    return tuple(sorted(found, key=lambda one: one.at, reverse=True)[:most])
