"""The invented practice's own stock, its plan for the badly flocked saddle, and the order that came of it."""

from datetime import date, timedelta
from pathlib import Path
from uuid import UUID

from django.db import transaction

from saddlebench.demo.stock import StockedSaddle, invented_stock
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.saddle.numbers import family_of
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Holding, Role
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.record_lists import list_studies
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import move_order, next_number, write_order
from saddlebench.practice.services.plans import record_plan

IN_STOCK = 300
_SEED = 7
WORKSHOP_EMAIL = "bench@saddlebench.example"
_PUT = {Whereabouts.VAN: 12, Whereabouts.ON_TRIAL: 4, Whereabouts.OUT: 3}
"""How many of the saddles stand elsewhere than on the rack."""


def fill_stock(actor: Actor, clients: list[UUID], today: date, count: int = IN_STOCK) -> None:
    """Take an invented stock on, measured; some of it in the van, on trial (one overdue), or out.

    Parameters
    ----------
    actor : who takes it on
    clients : to whom saddles go on trial
    today : trials end about now
    count : how many saddles
    """
    places = [place for place, many in _PUT.items() for _ in range(many)]
    with transaction.atomic():
        for number, one in enumerate(invented_stock(count, _SEED)):
            elsewhere = places[number // 9] if number % 9 == 4 and number // 9 < len(places) else None
            _take_on(actor, one, elsewhere or Whereabouts.RACK, clients[number % len(clients)], today, number)


def _take_on(
    actor: Actor, one: StockedSaddle, where: Whereabouts, client: UUID, today: date, number: int
) -> None:
    candidate = one.candidate
    record = candidate.record
    values = {
        "label": candidate.label,
        "family": family_of(record.numbers).value.replace("-", "_").replace(" ", "_"),
        "serial": record.serial,
        "seat_size_in": None if isinstance(candidate.seat_in, NotMeasured) else candidate.seat_in,
    }
    taken = services.take_on_saddle(actor, values, holding=Holding.STOCK)
    services.record_saddle(actor, taken.uuid, Document(text=as_json(SaddleDocument.of(record))))
    trial = where is Whereabouts.ON_TRIAL
    services.set_stock(
        actor,
        taken.uuid,
        services.StockFacts(
            stock_number=candidate.key,
            where=where,
            place=one.place if where is Whereabouts.RACK else "",
            flap_mm=None if isinstance(candidate.flap_mm, NotMeasured) else candidate.flap_mm,
            discipline=one.discipline,
            condition=one.condition,
            price=one.price,
            currency="EUR",
            on_trial_with=client if trial else None,
            on_trial_until=today + timedelta(days=number % 20 - 10) if trial else None,
        ),
    )


def order_work(actor: Actor, password: str, horse: UUID, folder: Path, today: date) -> None:
    """Record the plan that the demo's job made for a horse's saddle, and send an order to a workshop."""
    studies = list_studies(actor, horse=horse).rows
    if not (folder / "plan.json").is_file() or not studies:
        return
    text = (folder / "plan.json").read_text(encoding="utf-8")
    plan = record_plan(actor, Document(text=text), study_uuid=studies[0].uuid, number=1)
    member = services.add_member(actor, "Bench and Awl (invented)", WORKSHOP_EMAIL, password, Role.WORKSHOP)
    facts = OrderFacts(
        number=next_number(actor),
        due_on=today + timedelta(days=5),
        workshop=member.uuid,
        seat="17.5 in",
        colour="havana",
        leave=("front arch",),
        price_limit="180 EUR without asking",
        loan="Plane (invented), general, 17 in",
    )
    order = write_order(actor, plan.uuid, facts)
    move_order(actor, order.uuid, OrderStep.SENT, seen=1, said="As we said on the telephone.")
