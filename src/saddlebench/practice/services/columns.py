"""Which fields each kind of record has, what it may be linked to, and how values meet columns."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time
from typing import Any

from django.db import models

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import (
    CLIENT_FIELDS,
    HORSE_FIELDS,
    SADDLE_FIELDS,
    VISIT_FIELDS,
    VISIT_HEAD_FIELDS,
    VISIT_SADDLE_FIELDS,
    YARD_FIELDS,
    Field,
    Kind,
    Value,
)
from saddlebench.practice.enums import Action, Holding, Subject
from saddlebench.practice.models import Client, Horse, Saddle, Visit, Yard
from saddlebench.practice.models.base import Kept
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.deeds import NotFoundError, own


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What a kind of record is made of."""

    model: type[Kept]
    action: Action
    columns: Mapping[str, Field]
    answers: Mapping[str, Field] = field(default_factory=dict)
    links: Mapping[str, type[Kept]] = field(default_factory=dict)

    @property
    def fields(self) -> dict[str, Field]:
        """Columns and answers together."""
        return {**self.columns, **self.answers}


SHAPES: dict[Subject, Shape] = {
    Subject.CLIENT: Shape(model=Client, action=Action.EDIT_PEOPLE, columns=CLIENT_FIELDS),
    Subject.YARD: Shape(model=Yard, action=Action.EDIT_PEOPLE, columns=YARD_FIELDS),
    Subject.HORSE: Shape(
        model=Horse,
        action=Action.EDIT_HORSES,
        columns=HORSE_FIELDS,
        links={"client": Client, "yard": Yard},
    ),
    Subject.SADDLE: Shape(
        model=Saddle, action=Action.EDIT_SADDLES, columns=SADDLE_FIELDS, links={"client": Client}
    ),
    Subject.VISIT: Shape(
        model=Visit,
        action=Action.ENTER_VISIT,
        columns=VISIT_HEAD_FIELDS,
        answers=VISIT_FIELDS,
        links={"horse": Horse, "yard": Yard},
    ),
    Subject.VISIT_SADDLE: Shape(
        model=Visit, action=Action.ENTER_VISIT, columns={}, answers=VISIT_SADDLE_FIELDS
    ),
}


def column_value(row: models.Model, name: str) -> Value:
    """Return what a column holds, as an entry states it."""
    held = getattr(row, name)
    if held is None or held == "":
        return None
    if isinstance(held, time):
        return held.isoformat("minutes")
    return held.isoformat() if isinstance(held, date) else held


def put_column(row: models.Model, described: Field, value: Value) -> None:
    """Set a column from an entry's value."""
    held: Any = value
    if value is None:
        held = None if row._meta.get_field(described.name).null else ""  # noqa: SLF001
    elif described.kind is Kind.DATE:
        held = date.fromisoformat(str(value))
    elif described.kind is Kind.TIME:
        held = time.fromisoformat(str(value))
    setattr(row, described.name, held)


def linked(shape: Shape, actor: Actor, name: str, value: Value) -> Kept | None:
    """Return the record that a link names, of the same practice.

    Raises
    ------
    InputProblemsError
        If there is none.
    """
    if value is None or value == "":
        return None
    try:
        return own(shape.links[name], actor, uuids.UUID(str(value)))
    except (ValueError, NotFoundError):
        problem = Problem(
            what="is not in this practice's list", cure="Choose it again.", where=Where(field=name)
        )
        raise InputProblemsError([problem]) from None


def link_value(row: models.Model, name: str) -> Value:
    """Return the uuid that a link holds."""
    target = getattr(row, name)
    return None if target is None else str(target.uuid)


def refuse_impossible(row: models.Model) -> None:
    """Refuse a horse whose chip or life number another one has, and a client for a saddle in stock.

    Raises
    ------
    InputProblemsError
        With what stands against it.
    """
    if isinstance(row, Saddle) and row.client is not None and row.holding == Holding.STOCK:
        problem = Problem(
            what="a saddle in stock has no client",
            cure="Sell it to the client first.",
            where=Where(field="client"),
        )
        raise InputProblemsError([problem])
    if not isinstance(row, Horse):
        return
    problems = []
    for name in ("microchip", "ueln"):
        number = getattr(row, name)
        others = Horse.objects.of(row.practice_id).standing().exclude(pk=row.pk)
        # The second condition is the unique index's own: without it every horse would be read.
        other = others.filter(**{name: number}).exclude(**{name: ""}).first() if number else None
        if other:
            problems.append(
                Problem(
                    what=f"{number} is already the number of {other.label}",
                    cure="Open that horse, or read the number again.",
                    where=Where(field=HORSE_FIELDS[name].words),
                )
            )
    if problems:
        raise InputProblemsError(problems)
