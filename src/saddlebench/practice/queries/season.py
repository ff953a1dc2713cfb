"""The horses that a season, or one saddle, is planned for."""

import uuid as uuids
from dataclasses import dataclass

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Back, Horse
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseAsked:
    """A horse whose current back a season can be planned on; or why it cannot."""

    horse: Linked
    back_version: uuids.UUID | None
    rider_mass_kg: float | None
    why_not: str = ""


def horses_to_ask(actor: Actor | None) -> tuple[HorseAsked, ...]:
    """Return every horse with the back measured last, and whether it can be asked about."""
    allowed = require(actor, Action.SEE_HORSES)
    standing = Back.objects.of(allowed.practice_id).standing().exclude(current=None)
    rows = standing.select_related("current").defer("current__document").order_by("measured_on", "id")
    latest = {row.horse_id: row.current.uuid for row in rows if row.current}
    asked = []
    for horse in Horse.objects.of(allowed.practice_id).standing().order_by("label", "id"):
        back = latest.get(horse.pk)
        why = "no back was measured" if back is None else ""
        why = why or ("" if horse.rider_mass_kg else "the rider's weight is not known")
        asked.append(
            HorseAsked(
                horse=Linked(uuid=horse.uuid, label=horse.label),
                back_version=back,
                rider_mass_kg=horse.rider_mass_kg,
                why_not=why,
            )
        )
    return tuple(asked)
