"""Days on which a back was measured more than once: what fitters and instruments can be compared by."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.models import Back, Comparison
from saddlebench.practice.queries.comparisons import ComparisonRow
from saddlebench.practice.rules import Actor, require

_MOST = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """One record of a day that has others."""

    version: uuids.UUID
    back: uuids.UUID
    label: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatDay:
    """A horse on a day on which its back was measured twice at least."""

    horse: uuids.UUID
    horse_label: str
    day: date
    records: tuple[Again, ...]

    @property
    def fitters(self) -> tuple[str, ...]:
        """Who measured, each once."""
        return tuple(dict.fromkeys(one.by for one in self.records))


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatDays:
    """What there is to compare, the newest first, and what was compared."""

    days: tuple[RepeatDay, ...]
    comparisons: tuple[ComparisonRow, ...]


def repeat_days(actor: Actor | None) -> RepeatDays:
    """Return the days of the practice on which a back was measured more than once."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = (
        Back.objects.standing()
        .filter(practice_id=allowed.practice_id, horse__withdrawn_at=None)
        .exclude(current=None)
        .select_related("current", "made_by", "horse")
        .defer("current__document")
        .order_by("-measured_on", "horse__label", "horse_id", "id")
    )
    days = []
    for (day, _), held in groupby(rows, key=lambda row: (row.measured_on, row.horse_id)):
        group = list(held)
        if len(group) > 1:
            days.append(
                RepeatDay(
                    horse=group[0].horse.uuid,
                    horse_label=group[0].horse.label,
                    day=day,
                    records=tuple(
                        Again(version=one.current.uuid, back=one.uuid, label=one.label, by=one.made_by.label)
                        for one in group
                        if one.current is not None
                    ),
                )
            )
    compared = Comparison.objects.filter(
        practice_id=allowed.practice_id, kind=ComparisonKind.FITTERS.value, horse__withdrawn_at=None
    )
    return RepeatDays(
        days=tuple(days[:_MOST]),
        comparisons=tuple(
            ComparisonRow(
                uuid=row.uuid,
                kind=ComparisonKind.FITTERS,
                label=row.label,
                made_at=row.made_at,
                by=row.made_by.label,
                said=row.told["headline"],
            )
            for row in compared.select_related("made_by").defer("document", "made_of").order_by("-id")[:_MOST]
        ),
    )
