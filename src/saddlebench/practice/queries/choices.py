"""Choices from the stock as they were recorded: shortlists, horses for one saddle, seasons."""

import json
import uuid as uuids
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from saddlebench.practice.enums import Action, ChoiceKind
from saddlebench.practice.models import Choice, Study
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.pages import page_of
from saddlebench.practice.queries.record_lists import Listed
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceRow:
    """A choice in a list."""

    uuid: uuids.UUID
    kind: ChoiceKind
    label: str
    horse: Linked | None
    saddle: Linked | None
    made_at: datetime
    made_by: str
    asked: dict[str, Any]
    sha256: str
    engine_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicePage:
    """A choice with what was found."""

    row: ChoiceRow
    found: dict[str, Any]
    studies: dict[str, uuids.UUID]
    """The latest fit check of each saddle on this horse, by the saddle's uuid."""

    @property
    def uuid(self) -> uuids.UUID:
        """Its name."""
        return self.row.uuid


def list_choices(
    actor: Actor | None,
    *,
    kind: ChoiceKind | None = None,
    horse: uuids.UUID | None = None,
    page: int = 1,
) -> Listed[ChoiceRow]:
    """Return the choices of a practice or for a horse, the newest first."""
    allowed = require(actor, Action.SEE_HORSES)
    rows = _rows(allowed)
    if kind is not None:
        rows = rows.filter(kind=kind.value)
    if horse is not None:
        rows = rows.filter(horse__uuid=horse)
    shown = page_of(rows.defer("document").order_by("-made_at", "-id"), page)
    return Listed(
        rows=tuple(_row(row) for row in shown.rows), total=shown.total, page=shown.page, pages=shown.pages
    )


def choice_page(actor: Actor | None, uuid: uuids.UUID, kind: ChoiceKind | None = None) -> ChoicePage:
    """Return a choice.

    Raises
    ------
    NotFoundError
        If the practice has no such choice, or not of this kind.
    """
    allowed = require(actor, Action.SEE_HORSES)
    row = _rows(allowed).filter(uuid=uuid).first()
    if row is None or kind not in (None, ChoiceKind(row.kind)):
        raise NotFoundError("choice", uuid)
    checked = Study.objects.standing().filter(horse_id=row.horse_id) if row.horse_id else Study.objects.none()
    pairs = checked.order_by("made_at", "id").values_list("saddle__uuid", "uuid")
    return ChoicePage(
        row=_row(row),
        found=json.loads(row.document),
        studies={str(saddle): study for saddle, study in pairs},
    )


def _rows(actor: Actor) -> Any:
    rows = Choice.objects.of(actor.practice_id).standing().filter(horse__withdrawn_at=None)
    return rows.filter(saddle__withdrawn_at=None).select_related("horse", "saddle", "made_by")


def _row(row: Choice) -> ChoiceRow:
    return ChoiceRow(
        uuid=row.uuid,
        kind=ChoiceKind(row.kind),
        label=row.label,
        horse=Linked(uuid=row.horse.uuid, label=row.horse.label) if row.horse else None,
        saddle=Linked(uuid=row.saddle.uuid, label=row.saddle.label) if row.saddle else None,
        made_at=row.made_at,
        made_by=row.made_by.label,
        asked=row.asked,
        sha256=row.sha256,
        engine_version=row.engine_version,
    )
