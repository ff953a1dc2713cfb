"""Taking on: clients, yards, horses and saddles, each once however often the page sends it."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from typing import TypeVar, cast

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Value, read_all
from saddlebench.practice.enums import Action, Holding, Outcome, Subject
from saddlebench.practice.models import Client, Entry, Horse, Saddle, Yard
from saddlebench.practice.models.base import Kept
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import SHAPES, linked, put_column, refuse_impossible
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.entering import horses_found_by
from saddlebench.practice.services.finding import refresh_found_by

_Row = TypeVar("_Row", bound=Kept)


def take_on_client(
    actor: Actor | None, values: Mapping[str, Value], uuid: uuids.UUID | None = None
) -> Client:
    """Take on a client; the page may choose the uuid, and sending it again returns the same client."""
    return cast("Client", _take_on(actor, Subject.CLIENT, values, uuid))


def take_on_yard(actor: Actor | None, values: Mapping[str, Value], uuid: uuids.UUID | None = None) -> Yard:
    """Take on a yard."""
    return cast("Yard", _take_on(actor, Subject.YARD, values, uuid))


def take_on_horse(actor: Actor | None, values: Mapping[str, Value], uuid: uuids.UUID | None = None) -> Horse:
    """Take on a horse; `client` and `yard` are given by uuid, and may be said later."""
    return cast("Horse", _take_on(actor, Subject.HORSE, values, uuid))


def take_on_saddle(
    actor: Actor | None,
    values: Mapping[str, Value],
    uuid: uuids.UUID | None = None,
    *,
    holding: Holding = Holding.CLIENT,
) -> Saddle:
    """Take on a saddle, a client's or one in stock.

    Raises
    ------
    InputProblemsError
        If a saddle in stock is given a client, besides problems of its fields.
    """
    if holding is Holding.STOCK and values.get("client"):
        problem = Problem(
            what="a saddle in stock has no client",
            cure="Leave the client out, or take it on as a client's.",
            where=Where(field="client"),
        )
        raise InputProblemsError([problem])
    return cast("Saddle", _take_on(actor, Subject.SADDLE, values, uuid, {"holding": holding.value}))


def _take_on(
    actor: Actor | None,
    subject: Subject,
    values: Mapping[str, Value],
    uuid: uuids.UUID | None,
    fixed: Mapping[str, str] | None = None,
) -> Kept:
    shape = SHAPES[subject]
    allowed = require(actor, shape.action)
    chosen = uuid or uuids.uuid4()
    there = shape.model.objects.of(allowed.practice_id).filter(uuid=chosen).first()
    if there is not None:
        return there
    with deed(actor, shape.action, "take_on", subject, chosen) as done:
        row = take_on_in(done, subject, chosen, values, fixed)
        refresh_found_by(horses_found_by(row))
        return row


def take_on_in(
    done: Deed,
    subject: Subject,
    uuid: uuids.UUID,
    values: Mapping[str, Value],
    fixed: Mapping[str, str] | None = None,
) -> Kept:
    """Make one record inside a deed that is under way; its search text is the caller's to refresh.

    Raises
    ------
    InputProblemsError
        With every problem of every field.
    """
    shape = SHAPES[subject]
    plain = {name: value for name, value in values.items() if name not in shape.links}
    read = read_all(shape.columns, plain, new=True)
    links = {name: linked(shape, done.actor, name, values[name]) for name in shape.links if values.get(name)}
    row = shape.model(
        uuid=uuid,
        practice_id=done.actor.practice_id,
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        **links,
        **(fixed or {}),
    )
    for name, value in read.items():
        put_column(row, shape.columns[name], value)
    refuse_impossible(row)
    row.save()
    said = {**read, **{name: str(target.uuid) for name, target in links.items() if target}}
    _first_entries(done, subject, uuid, said)
    return row


def _first_entries(done: Deed, subject: Subject, uuid: uuids.UUID, said: Mapping[str, Value]) -> None:
    Entry.objects.bulk_create(
        Entry(
            practice_id=done.actor.practice_id,
            audit=done.audit,
            made_at=done.audit.made_at,
            made_by_id=done.actor.user_id,
            subject=subject.value,
            subject_uuid=uuid,
            key=uuids.uuid4(),
            field=name,
            value=value,
            before=None,
            seen=0,
            revision=0,
            outcome=Outcome.SAVED.value,
        )
        for name, value in said.items()
        if value is not None
    )


def use_saddle_on(actor: Actor | None, saddle_uuid: uuids.UUID, horse_uuids: Iterable[uuids.UUID]) -> Saddle:
    """Say which horses a saddle is used on; those not named are no longer."""
    allowed = require(actor, Action.EDIT_HORSES)
    with deed(actor, Action.EDIT_HORSES, "use_saddle_on", Subject.SADDLE, saddle_uuid):
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        horses = [own(Horse, allowed, uuid) for uuid in horse_uuids]
        before = set(horses_found_by(saddle))
        saddle.horses.set(horses)
        refresh_found_by(before | {horse.pk for horse in horses})
        return saddle


def move_to_stock(actor: Actor | None, saddle_uuid: uuids.UUID) -> Saddle:
    """Take a client's saddle into stock: it is nobody's now, and on no horse."""
    allowed = require(actor, Action.EDIT_SADDLES)
    with deed(actor, Action.EDIT_SADDLES, "move_to_stock", Subject.SADDLE, saddle_uuid):
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        before = horses_found_by(saddle)
        saddle.client, saddle.holding = None, Holding.STOCK.value
        saddle.revision += 1
        saddle.save(update_fields=["client", "holding", "revision"])
        saddle.horses.clear()
        refresh_found_by(before)
        return saddle


def sell_from_stock(actor: Actor | None, saddle_uuid: uuids.UUID, client_uuid: uuids.UUID) -> Saddle:
    """Give a saddle in stock to a client."""
    allowed = require(actor, Action.EDIT_PEOPLE)
    with deed(actor, Action.EDIT_PEOPLE, "sell_from_stock", Subject.SADDLE, saddle_uuid):
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        saddle.client, saddle.holding = own(Client, allowed, client_uuid), Holding.CLIENT.value
        saddle.revision += 1
        saddle.save(update_fields=["client", "holding", "revision"])
        return saddle
