"""Comparisons of a horse's records: what can be compared, what was, and one of them."""

import uuid as uuids
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.models import Back, Comparison, Horse, SaddleVersion, Study
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, own

_MOST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparable:
    """A back's current version, to be compared."""

    version: uuids.UUID
    back: uuids.UUID
    number: int
    label: str
    day: date
    by: str
    by_id: int
    is_repeat: bool
    """Whether another back was measured on this day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn:
    """A version of a saddle that the horse wears or wore a fit check of."""

    version: uuids.UUID
    saddle: uuids.UUID
    label: str
    number: int
    is_current: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonRow:
    """One comparison in a list."""

    uuid: uuids.UUID
    kind: ComparisonKind
    label: str
    made_at: datetime
    by: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparablePage:
    """What there is to compare of a horse, and what was compared."""

    uuid: uuids.UUID
    label: str
    rider_mass_kg: float | None
    backs: tuple[Comparable, ...]
    """The newest first."""
    saddles: tuple[Worn, ...]
    comparisons: tuple[ComparisonRow, ...]


def comparable_page(actor: Actor | None, horse_uuid: uuids.UUID) -> ComparablePage:
    """Return what there is to compare of a horse.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.SEE_HORSES)
    horse = own(Horse, allowed, horse_uuid)
    rows = list(
        Back.objects.standing()
        .filter(horse=horse)
        .exclude(current=None)
        .select_related("current", "made_by")
        .defer("current__document")
        .order_by("-measured_on", "-id")
    )
    times = Counter(row.measured_on for row in rows)
    return ComparablePage(
        uuid=horse.uuid,
        label=horse.label,
        rider_mass_kg=horse.rider_mass_kg,
        backs=tuple(
            Comparable(
                version=row.current.uuid,
                back=row.uuid,
                number=row.current.number,
                label=row.label,
                day=row.measured_on,
                by=row.made_by.label,
                by_id=row.made_by_id,
                is_repeat=times[row.measured_on] > 1,
            )
            for row in rows
            if row.current is not None
        ),
        saddles=_worn(allowed, horse),
        comparisons=comparisons_of(allowed, horse),
    )


def _worn(allowed: Actor, horse: Horse) -> tuple[Worn, ...]:
    checked = Study.objects.standing().filter(horse=horse).values("saddle")
    rows = SaddleVersion.objects.filter(saddle__practice_id=allowed.practice_id, saddle__withdrawn_at=None)
    mine = rows.filter(saddle__horses=horse) | rows.filter(saddle__in=checked)
    versions = mine.select_related("saddle").defer("document").distinct().order_by("saddle__label", "-number")
    return tuple(
        Worn(
            version=row.uuid,
            saddle=row.saddle.uuid,
            label=row.saddle.label,
            number=row.number,
            is_current=row.pk == row.saddle.current_id,
        )
        for row in versions[:_MOST]
    )


def comparisons_of(allowed: Actor, horse: Horse) -> tuple[ComparisonRow, ...]:
    """Return a horse's comparisons, the newest first."""
    rows = Comparison.objects.filter(horse=horse, practice_id=allowed.practice_id)
    shown = rows.select_related("made_by").defer("document", "made_of").order_by("-id")[:_MOST]
    return tuple(
        ComparisonRow(
            uuid=row.uuid,
            kind=ComparisonKind(row.kind),
            label=row.label,
            made_at=row.made_at,
            by=row.made_by.label,
            said=row.told.get("headline", "") or ", ".join(row.told.get("saddles", ())),
        )
        for row in shown
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedBack:
    """A version that a comparison was made of."""

    version: uuids.UUID
    back: uuids.UUID
    number: int
    label: str
    day: date
    figure: dict[str, Any] | None
    """The own figure that was in use, where one was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonPage:
    """A comparison as it was recorded."""

    uuid: uuids.UUID
    kind: ComparisonKind
    label: str
    horse: Linked
    made_at: datetime
    by: str
    backs: tuple[UsedBack, ...]
    is_on_current: bool
    """Whether every back still stands in the version that was used."""
    again: tuple[uuids.UUID, ...]
    """Its backs as they are now, to be worked out again; empty where one was withdrawn."""
    made_of: dict[str, Any]
    told: dict[str, Any]
    document: str
    sha256: str
    engine_version: str


def comparison_page(actor: Actor | None, uuid: uuids.UUID, kind: ComparisonKind) -> ComparisonPage:
    """Return a comparison of a kind.

    Raises
    ------
    NotFoundError
        If the practice has no such comparison.
    """
    allowed = require(actor, Action.SEE_HORSES)
    row = (
        Comparison.objects.filter(practice_id=allowed.practice_id, uuid=uuid, kind=kind.value)
        .filter(horse__withdrawn_at=None)
        .select_related("horse", "made_by")
        .first()
    )
    if row is None:
        raise NotFoundError("comparison", uuid)
    used = tuple(
        UsedBack(
            version=uuids.UUID(one["version"]),
            back=uuids.UUID(one["back"]),
            number=one["number"],
            label=one["label"],
            day=date.fromisoformat(one["day"]),
            figure=figure,
        )
        for one, figure in zip(row.made_of["backs"], row.made_of["figures"], strict=True)
    )
    current = dict(
        Back.objects.standing()
        .filter(uuid__in=[one.back for one in used])
        .values_list("uuid", "current__uuid")
    )
    return ComparisonPage(
        uuid=row.uuid,
        kind=kind,
        label=row.label,
        horse=Linked(uuid=row.horse.uuid, label=row.horse.label),
        made_at=row.made_at,
        by=row.made_by.label,
        backs=used,
        is_on_current=all(current.get(one.back) == one.version for one in used),
        again=tuple(current[one.back] for one in used) if all(one.back in current for one in used) else (),
        made_of=row.made_of,
        told=row.told,
        document=row.document,
        sha256=row.sha256,
        engine_version=row.engine_version,
    )
