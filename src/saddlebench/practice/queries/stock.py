"""The stock as it stands: rows for a list, one saddle's history, candidates for a shortlist, a table out."""

import datetime as dt
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from django.db.models import OuterRef, QuerySet, Subquery

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.stock import StockItem, Whereabouts, stock_table
from saddlebench.practice.enums import Action, Holding
from saddlebench.practice.models import Client, Saddle, StockState
from saddlebench.practice.queries.pages import holding_terms
from saddlebench.practice.rules import Actor, may, require
from saddlebench.practice.services.deeds import NotFoundError, own
from saddlebench.practice.services.finding import folded

if TYPE_CHECKING:
    from saddlebench.engine.choose import Candidate

_MOST_NAMES = 300
_LOOKED_IN = ("label", "maker", "serial", "family", "colour", "where_kept")


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow:
    """One saddle in stock as it stands."""

    uuid: uuids.UUID
    label: str
    is_measured: bool
    state_number: int
    """To be given back when it is changed; 0: nothing was said of it yet."""
    item: StockItem
    reserved_for: uuids.UUID | None = None
    on_trial_with: uuids.UUID | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPast:
    """How a saddle stood from a moment on."""

    since: dt.datetime
    by: str
    item: StockItem


def stock_rows(
    actor: Actor | None, text: str = "", *, where: Whereabouts | None = None, only_free: bool = False
) -> tuple[StockRow, ...]:
    """Return the saddles in stock by name; people are named to those who may see people."""
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    saddles = _in_stock(allowed)
    states = _states(list(holding_terms(saddles, _LOOKED_IN, text)))
    rows = [_row(saddle, state, people=people) for saddle, state in states]
    return tuple(
        row
        for row in rows
        if (where is None or row.item.where is where) and (row.item.is_free or not only_free)
    )


def stock_history(actor: Actor | None, saddle_uuid: uuids.UUID) -> tuple[StockPast, ...]:
    """Return how a saddle stood, the latest first.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    saddle = own(Saddle, allowed, saddle_uuid)
    states = saddle.stock_states.select_related("made_by", "reserved_for", "on_trial_with")
    return tuple(
        StockPast(since=state.made_at, by=str(state.made_by), item=_item(saddle, state, people=people))
        for state in states.order_by("-number")
    )


def overdue_trials(actor: Actor | None, today: dt.date) -> tuple[StockRow, ...]:
    """Return the saddles that should be back from a trial by now, those longest overdue first."""
    return tuple(one.row for one in trial_ends(actor, today - dt.timedelta(days=1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialEnd:
    """A saddle on trial, and when it is to be back."""

    row: StockRow
    until: dt.date
    since: dt.datetime
    is_named: bool
    """Whether the reader may know who tries it."""


def trial_ends(actor: Actor | None, last: dt.date) -> tuple[TrialEnd, ...]:
    """Return the saddles that are to be back from a trial by a day, late ones included, in their order."""
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    newest = StockState.objects.filter(saddle=OuterRef("saddle")).order_by("-number").values("pk")[:1]
    rows = StockState.objects.filter(
        saddle__in=_in_stock(allowed).order_by(),
        where=Whereabouts.ON_TRIAL.value,
        on_trial_until__lte=last,
        pk=Subquery(newest),
    ).select_related("saddle", "reserved_for", "on_trial_with")
    ends = []
    for state in rows.order_by("on_trial_until", "saddle__label"):
        row = _row(state.saddle, state, people=people)
        if state.on_trial_until:
            ends.append(TrialEnd(row=row, until=state.on_trial_until, since=state.made_at, is_named=people))
    return tuple(ends)


def stock_row(actor: Actor | None, saddle_uuid: uuids.UUID) -> StockRow:
    """Return one saddle in stock as it stands.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle, or it is not in stock.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    people = may(allowed, Action.SEE_PEOPLE, allowed.practice_id)
    saddle = own(Saddle, allowed, saddle_uuid)
    if saddle.holding != Holding.STOCK.value:
        raise NotFoundError("saddle in stock", saddle_uuid)
    return _row(*_states([saddle])[0], people=people)


def stock_candidates(
    actor: Actor | None, *, only_free: bool = True, discipline: str = ""
) -> "tuple[Candidate, ...]":
    """Return the measured saddles in stock as candidates of a shortlist; their keys are their uuids.

    Parameters
    ----------
    only_free : leave out what is on trial, out or reserved
    discipline : leave out what is for another discipline, if one is named
    """
    allowed = require(actor, Action.SEE_SADDLES)
    saddles = list(_in_stock(allowed).exclude(current=None).select_related("current"))
    candidates = []
    for saddle, state in _states(saddles):
        item = _item(saddle, state, people=False)
        is_free = item.is_free and not (state and state.reserved_for_id)
        if saddle.current is None or (only_free and not is_free):
            continue
        if discipline.casefold() in item.discipline.casefold():
            candidates.append(_candidate(saddle, item))
    return tuple(candidates)


def saddle_candidate(actor: Actor | None, saddle_uuid: uuids.UUID) -> "Candidate":
    """Return one measured saddle, in stock or not, as a candidate; its key is its uuid.

    Raises
    ------
    InputProblemsError
        If it was not measured yet.
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.SEE_SADDLES)
    saddle, state = _states([own(Saddle, allowed, saddle_uuid)])[0]
    if saddle.current is None:
        raise input_problem("this saddle was not measured yet", "Measure it first.")
    return _candidate(saddle, _item(saddle, state, people=False))


def _candidate(saddle: Saddle, item: StockItem) -> "Candidate":
    # the numerical parts are loaded when they are needed, not when pages start
    from saddlebench.engine.choose import (  # noqa: PLC0415
        FLAP_NOT_RECORDED,
        SEAT_NOT_RECORDED,
        Candidate,
    )
    from saddlebench.exchange.records import SaddleDocument, parse_document  # noqa: PLC0415

    text = saddle.current.document if saddle.current else ""
    record = parse_document(SaddleDocument, text, saddle.label).record()
    return Candidate(
        key=str(saddle.uuid),
        # people know it by the name that the practice gave it
        record=replace(record, label=saddle.label),
        seat_in=SEAT_NOT_RECORDED if item.seat_in is None else item.seat_in,
        flap_mm=FLAP_NOT_RECORDED if item.flap_mm is None else item.flap_mm,
    )


def client_names(actor: Actor | None) -> tuple[str, ...]:
    """Return the clients' names, for a field that completes them; none to those who may not see people."""
    allowed = require(actor, Action.SEE_SADDLES)
    if not may(allowed, Action.SEE_PEOPLE, allowed.practice_id):
        return ()
    rows = Client.objects.of(allowed.practice_id).standing().order_by("label")
    return tuple(rows.values_list("label", flat=True)[:_MOST_NAMES])


def clients_called(actor: Actor | None, name: str) -> tuple[uuids.UUID, ...]:
    """Return the clients who are called so, case and accents aside."""
    allowed = require(actor, Action.SEE_PEOPLE)
    rows = Client.objects.of(allowed.practice_id).standing().values_list("uuid", "label")
    return tuple(uuid for uuid, label in rows if folded(label) == folded(name))


def export_stock(actor: Actor | None) -> str:
    """Return the stock as a table."""
    require(actor, Action.EXPORT)
    return stock_table([row.item for row in stock_rows(actor)])


def _in_stock(actor: Actor) -> QuerySet[Saddle]:
    standing = Saddle.objects.of(actor.practice_id).standing().filter(holding=Holding.STOCK.value)
    return standing.order_by("label", "id")


def _states(saddles: Sequence[Saddle]) -> list[tuple[Saddle, StockState | None]]:
    """Return each saddle with its last state, in one query whatever their number."""
    newest = StockState.objects.filter(saddle=OuterRef("saddle")).order_by("-number").values("pk")[:1]
    rows = StockState.objects.filter(
        saddle__practice_id__in={saddle.practice_id for saddle in saddles}, pk=Subquery(newest)
    ).select_related("reserved_for", "on_trial_with")
    last = {row.saddle_id: row for row in rows}
    return [(saddle, last.get(saddle.pk)) for saddle in saddles]


def _row(saddle: Saddle, state: StockState | None, *, people: bool) -> StockRow:
    return StockRow(
        uuid=saddle.uuid,
        label=saddle.label,
        is_measured=saddle.current_id is not None,
        state_number=0 if state is None else state.number,
        item=_item(saddle, state, people=people),
        reserved_for=state.reserved_for.uuid if state and state.reserved_for else None,
        on_trial_with=state.on_trial_with.uuid if state and state.on_trial_with else None,
    )


HIDDEN = "somebody"
"""Stands for a person's name before those who may not see people."""


def _item(saddle: Saddle, state: StockState | None, *, people: bool) -> StockItem:
    if state is None:
        return StockItem(
            number=str(saddle.pk),
            label=saddle.label,
            record_file="",
            where=Whereabouts.RACK,
            uuid=str(saddle.uuid),
            place=saddle.where_kept,
            seat_in=saddle.seat_size_in,
        )

    def name(client: object) -> str:
        return "" if client is None else str(client) if people else HIDDEN

    return StockItem(
        number=state.stock_number,
        label=saddle.label,
        record_file="",
        where=Whereabouts(state.where),
        uuid=str(saddle.uuid),
        place=state.place,
        seat_in=saddle.seat_size_in,
        flap=state.flap,
        flap_mm=state.flap_mm,
        discipline=state.discipline,
        condition=state.condition,
        price=state.price,
        currency=state.currency,
        reserved_for=name(state.reserved_for),
        on_trial_with=name(state.on_trial_with),
        on_trial_until=state.on_trial_until,
    )
