"""The stock: where a saddle is, what it is for, what it costs; reserved, on trial, back again; table in."""

import datetime as dt
import uuid as uuids
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.db.models import F

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.stock import StockItem, Whereabouts, read_items
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Holding, Subject
from saddlebench.practice.models import Client, Practice, Saddle, StockState
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.finding import folded
from saddlebench.practice.services.taking_on import take_on_in

MOST_IMPORTED = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class StockFacts:
    """What is said of a saddle in stock."""

    stock_number: str
    where: Whereabouts = Whereabouts.RACK
    place: str = ""
    flap: str = ""
    flap_mm: float | None = None
    discipline: str = ""
    condition: str = ""
    price: float | None = None
    currency: str = ""
    reserved_for: uuids.UUID | None = None
    on_trial_with: uuids.UUID | None = None
    on_trial_until: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockImported:
    """What an import of a stock table did."""

    taken_on: int
    changed: int
    as_before: int


def set_stock(
    actor: Actor | None, saddle_uuid: uuids.UUID, facts: StockFacts, *, seen: int = 0
) -> StockState:
    """Say how a saddle in stock stands from now on; what was said before is kept.

    Parameters
    ----------
    actor : who says so
    saddle_uuid : the saddle
    facts : all that is said of it
    seen : number of the state that the person had before their eyes; 0 for none

    Raises
    ------
    InputProblemsError
        If it is not in stock, if the facts do not go together, or if somebody else said something meanwhile.
    """
    allowed = require(actor, Action.EDIT_SADDLES)
    with deed(actor, Action.EDIT_SADDLES, "set_stock", Subject.SADDLE, saddle_uuid) as done:
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        before = last_state(saddle)
        if (before.number if before else 0) != seen:
            what = "somebody else changed how this saddle stands meanwhile"
            raise input_problem(what, "Look at it again, then say it once more.")
        return _write(done, saddle, before, facts)


def put_on_trial(
    actor: Actor | None, saddle_uuid: uuids.UUID, client_uuid: uuids.UUID, until: dt.date
) -> StockState:
    """Give a saddle in stock on trial, until a day."""
    change = {"where": Whereabouts.ON_TRIAL, "on_trial_with": client_uuid, "on_trial_until": until}
    return _change(actor, saddle_uuid, "put_on_trial", change)


def reserve(actor: Actor | None, saddle_uuid: uuids.UUID, client_uuid: uuids.UUID | None) -> StockState:
    """Keep a saddle in stock for somebody; for nobody takes that back."""
    return _change(actor, saddle_uuid, "reserve", {"reserved_for": client_uuid})


def take_back(
    actor: Actor | None, saddle_uuid: uuids.UUID, *, where: Whereabouts = Whereabouts.RACK, place: str = ""
) -> StockState:
    """Take a saddle back from a trial, or move it between rack and van."""
    change = {"where": where, "place": place, "on_trial_with": None, "on_trial_until": None}
    return _change(actor, saddle_uuid, "take_back", change)


def _change(
    actor: Actor | None, saddle_uuid: uuids.UUID, name: str, change: Mapping[str, object]
) -> StockState:
    allowed = require(actor, Action.EDIT_SADDLES)
    with deed(actor, Action.EDIT_SADDLES, name, Subject.SADDLE, saddle_uuid) as done:
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        before = last_state(saddle)
        facts = StockFacts(stock_number=str(saddle.pk)) if before is None else facts_of(before)
        return _write(done, saddle, before, replace(facts, **change))  # type: ignore[arg-type]


def last_state(saddle: Saddle) -> StockState | None:
    """Return how a saddle stands."""
    return saddle.stock_states.select_related("reserved_for", "on_trial_with").order_by("-number").first()


def facts_of(state: StockState) -> StockFacts:
    """Return what a row says."""
    return StockFacts(
        stock_number=state.stock_number,
        where=Whereabouts(state.where),
        place=state.place,
        flap=state.flap,
        flap_mm=state.flap_mm,
        discipline=state.discipline,
        condition=state.condition,
        price=state.price,
        currency=state.currency,
        reserved_for=state.reserved_for.uuid if state.reserved_for else None,
        on_trial_with=state.on_trial_with.uuid if state.on_trial_with else None,
        on_trial_until=state.on_trial_until,
    )


def _write(done: Deed, saddle: Saddle, before: StockState | None, facts: StockFacts) -> StockState:
    problems = _problems(saddle, facts)
    if problems:
        raise InputProblemsError(problems)
    if before is not None and facts_of(before) == facts:
        return before
    people = {
        name: own(Client, done.actor, uuid) if (uuid := getattr(facts, name)) is not None else None
        for name in ("reserved_for", "on_trial_with")
    }
    plain = {name: getattr(facts, name) for name in facts.__slots__ if name not in people}
    return StockState.objects.create(
        saddle=saddle,
        number=(before.number if before else 0) + 1,
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        **people,
        **{**plain, "where": facts.where.value},
    )


def _problems(saddle: Saddle, facts: StockFacts) -> list[Problem]:
    found = []

    def add(what: str, cure: str, field: str) -> None:
        found.append(Problem(what=what, cure=cure, where=Where(field=field)))

    if saddle.holding != Holding.STOCK.value:
        add("this saddle is a client's", "Take it into stock first.", "holding")
    if not facts.stock_number.strip():
        add("the stock number is empty", "Write the number on its label.", "stock_number")
    if facts.where is Whereabouts.ON_TRIAL and facts.on_trial_with is None:
        add("is on trial, but nobody is named", "Say with whom.", "on_trial_with")
    if facts.where is not Whereabouts.ON_TRIAL and facts.on_trial_with is not None:
        add("is not on trial, but somebody is named", "Take the name out.", "on_trial_with")
    if facts.price is not None and len(facts.currency) != 3:
        add("the price has no currency", "Write its three letters, such as EUR.", "currency")
    limits = {"stock_number": 40, "place": 200, "flap": 200, "discipline": 200, "condition": 200}
    for name, most in limits.items():
        if len(getattr(facts, name)) > most:
            add(f"is longer than {most} characters", "Shorten it.", name)
    taken = StockState.objects.filter(
        saddle__practice_id=saddle.practice_id, stock_number=facts.stock_number, saddle__withdrawn_at=None
    ).exclude(saddle=saddle)
    if facts.stock_number and any(_is_last(one) for one in taken):
        add(f"another saddle has the number {facts.stock_number}", "Give it its own.", "stock_number")
    return found


def _is_last(state: StockState) -> bool:
    newer = StockState.objects.filter(saddle_id=state.saddle_id, number__gt=state.number)
    return not newer.exists() and state.saddle.holding == Holding.STOCK.value


def import_stock(actor: Actor | None, content: bytes, file: str = "stock") -> StockImported:
    """Take a stock table in: new saddles are taken on, known ones (by record or number) stand anew.

    The measured records are brought in for themselves; a column that names their files is passed over.

    Raises
    ------
    InputProblemsError
        With every problem by row and field; then nothing is taken in.
    """
    allowed = require(actor, Action.IMPORT)
    items = read_items(content, file, most_rows=MOST_IMPORTED, with_records=False)
    practice = Practice.objects.get(pk=allowed.practice_id)
    with deed(actor, Action.IMPORT, "import_stock", Subject.PRACTICE, practice.uuid) as done:
        taking = _Taking(done, file)
        for row, item in items:
            taking.one(row, item)
        if taking.problems:
            raise InputProblemsError(taking.problems)
    return StockImported(
        taken_on=taking.counts["new"], changed=taking.counts["changed"], as_before=taking.counts["same"]
    )


class _Taking:
    """One import under way."""

    def __init__(self, done: Deed, file: str) -> None:
        self.done, self.file = done, file
        self.problems: list[Problem] = []
        self.counts: Counter[str] = Counter()
        self.clients: dict[str, list[uuids.UUID]] = defaultdict(list)
        for client in Client.objects.of(done.actor.practice_id).standing():
            self.clients[folded(client.label)].append(client.uuid)
        numbered = StockState.objects.filter(
            saddle__practice_id=done.actor.practice_id,
            saddle__withdrawn_at=None,
            saddle__holding=Holding.STOCK.value,
        )
        self.by_number = dict(numbered.order_by("number").values_list("stock_number", F("saddle__uuid")))

    def one(self, row: int, item: StockItem) -> None:
        """Take one row in, or keep its problems."""
        before = len(self.problems)
        people = {
            name: self._client(getattr(item, name), row, name) for name in ("reserved_for", "on_trial_with")
        }
        if len(self.problems) > before:
            return
        facts = StockFacts(
            stock_number=item.number,
            where=item.where,
            place=item.place,
            flap=item.flap,
            flap_mm=item.flap_mm,
            discipline=item.discipline,
            condition=item.condition,
            price=item.price,
            currency=item.currency,
            on_trial_until=item.on_trial_until,
            **people,
        )
        try:
            saddle, is_new = self._saddle(item)
            state = last_state(saddle)
            written = _write(self.done, saddle, state, facts)
        except InputProblemsError as error:
            where = Where(file=self.file, row=row)
            self.problems += [
                replace(one, where=replace(where, field=one.where.field)) for one in error.problems
            ]
            return
        self.counts["new" if is_new else "same" if written == state else "changed"] += 1

    def _saddle(self, item: StockItem) -> tuple[Saddle, bool]:
        uuid = _uuid_of(item) or self.by_number.get(item.number)
        rows = Saddle.objects.of(self.done.actor.practice_id).standing()
        known = rows.filter(uuid=uuid).first() if uuid else None
        if known is not None:
            return known, False
        values: dict[str, Value] = {
            "label": item.label,
            **({} if item.seat_in is None else {"seat_size_in": item.seat_in}),
        }
        fixed = {"holding": Holding.STOCK.value}
        made = take_on_in(self.done, Subject.SADDLE, uuid or uuids.uuid4(), values, fixed)
        if not isinstance(made, Saddle):
            message = "a saddle was asked for"
            raise TypeError(message)
        return made, True

    def _client(self, name: str, row: int, field: str) -> uuids.UUID | None:
        if not name:
            return None
        found = self.clients.get(folded(name), [])
        if len(found) == 1:
            return found[0]
        what = f"{len(found)} clients are called “{name}”" if found else f"“{name}” is not among the clients"
        cure = "Take the client on first, or leave the cell empty."
        self.problems.append(Problem(what=what, cure=cure, where=Where(file=self.file, row=row, field=field)))
        return None


def _uuid_of(item: StockItem) -> uuids.UUID | None:
    if not item.uuid:
        return None
    try:
        return uuids.UUID(item.uuid)
    except ValueError:
        what = f"“{item.uuid[:40]}” is no record's number"
        raise input_problem(what, "Leave the cell empty.", Where(field="uuid")) from None
