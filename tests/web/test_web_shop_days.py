"""The shop's own days: when work orders are due and trials end, in the diary, the feed and the interface."""

import uuid as uuids
from collections.abc import Callable
from datetime import date, timedelta

import icalendar
import pytest
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from planned_cast import recorded_plan
from study_cast import record_checked
from web_cast import Cast

from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.enums import DiaryKind, Holding, Subject
from saddlebench.practice.models import Saddle, WorkOrder
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.services import StockFacts
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import move_order, write_order


def sent(cast: Cast, due: date) -> WorkOrder:
    fitter = cast.actors["fitter"]
    plan = recorded_plan(cast, record_checked(cast))
    order = write_order(fitter, plan, OrderFacts(number="2026-9", due_on=due))
    return move_order(fitter, order.uuid, OrderStep.SENT, seen=1)


def on_trial(cast: Cast, until: date, label: str = "Dunlin (invented)") -> Saddle:
    fitter = cast.actors["fitter"]
    saddle = services.take_on_saddle(fitter, {"label": label}, holding=Holding.STOCK)
    tried_by = uuids.UUID(cast.here[Subject.CLIENT])
    facts = StockFacts(
        stock_number=label[:40], where=Whereabouts.ON_TRIAL, on_trial_with=tried_by, on_trial_until=until
    )
    services.set_stock(fitter, saddle.uuid, facts)
    return saddle


def _found(cast: Cast, who: str, kind: DiaryKind) -> list[queries.DiaryEntry]:
    today = timezone.localdate()
    shown = queries.diary(cast.actors[who], today, today + timedelta(days=42))
    return [one for one in (*shown.overdue, *shown.entries) if one.kind is kind]


def _events(cast: Cast, who: str) -> dict[str, icalendar.Event]:
    today = timezone.localdate()
    text = crossing.diary_calendar(cast.actors[who], today, today + timedelta(days=42))
    return {str(one["UID"]): one for one in icalendar.Calendar.from_ical(text).walk("VEVENT")}


def test_an_orders_day_is_in_diary_and_calendar_until_it_is_back(cast: Cast) -> None:
    due = timezone.localdate() + timedelta(days=10)
    order = sent(cast, due)
    (entry,) = _found(cast, "fitter", DiaryKind.ORDER)
    assert (entry.day, entry.horse, entry.reason) == (due, "Juniper", "sent")
    event = _events(cast, "fitter")[f"{order.uuid}@saddlebench"]
    assert event["DTSTART"].dt == due
    assert str(event["SUMMARY"]) == f"{order.label}: Work order due (sent), for Juniper"
    assert event["SEQUENCE"] == 2
    page = cast.browser("fitter").get("/diary/").content.decode()
    assert f'href="/orders/{order.uuid}/"' in page
    move_order(cast.actors["fitter"], order.uuid, OrderStep.WITHDRAWN, seen=2)
    assert _found(cast, "fitter", DiaryKind.ORDER) == []
    assert f"{order.uuid}@saddlebench" not in _events(cast, "fitter")


def test_a_workshop_sees_the_days_of_what_was_sent_to_it(cast: Cast) -> None:
    due = timezone.localdate() + timedelta(days=10)
    order = sent(cast, due)
    assert [one.uuid for one in _found(cast, "workshop", DiaryKind.ORDER)] == [order.uuid]
    move_order(cast.actors["fitter"], order.uuid, OrderStep.BEING_WRITTEN, seen=2)
    assert _found(cast, "workshop", DiaryKind.ORDER) == []
    assert _found(cast, "other", DiaryKind.ORDER) == []


@pytest.mark.parametrize(("days", "overdue"), [(5, False), (0, False), (-1, True)])
def test_the_end_of_a_trial_is_in_diary_and_calendar(cast: Cast, days: int, overdue: bool) -> None:
    until = timezone.localdate() + timedelta(days=days)
    saddle = on_trial(cast, until)
    today = timezone.localdate()
    shown = queries.diary(cast.actors["fitter"], today, today + timedelta(days=42))
    (entry,) = [one for one in (shown.overdue if overdue else shown.entries) if one.kind is DiaryKind.TRIAL]
    assert (entry.label, entry.day, entry.client) == ("Dunlin (invented)", until, "Wilma Fernlea")
    event = _events(cast, "fitter")[f"trial-{saddle.uuid}@saddlebench"]
    assert event["DTSTART"].dt == until
    assert str(event["SUMMARY"]) == "Dunlin (invented): Back from trial"
    assert str(event["DESCRIPTION"]) == "Wilma Fernlea"
    assert "DESCRIPTION" not in _events(cast, "workshop")[f"trial-{saddle.uuid}@saddlebench"]
    page = cast.browser("fitter").get("/diary/").content.decode()
    assert f'href="/stock/{saddle.uuid}/"' in page
    services.take_back(cast.actors["fitter"], saddle.uuid, where=Whereabouts.RACK)
    assert _found(cast, "fitter", DiaryKind.TRIAL) == []


def test_a_trial_made_longer_is_the_same_event_moved(cast: Cast) -> None:
    until = timezone.localdate() + timedelta(days=3)
    saddle = on_trial(cast, until)
    uid = f"trial-{saddle.uuid}@saddlebench"
    first = _events(cast, "fitter")[uid]["SEQUENCE"]
    client = uuids.UUID(cast.here[Subject.CLIENT])
    services.put_on_trial(cast.actors["fitter"], saddle.uuid, client, until + timedelta(days=4))
    moved = _events(cast, "fitter")[uid]
    assert moved["DTSTART"].dt == until + timedelta(days=4)
    assert moved["SEQUENCE"] > first


def test_only_the_last_state_of_a_saddle_counts_and_the_list_costs_the_same(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    until = timezone.localdate() + timedelta(days=3)
    on_trial(cast, until, "Avocet")
    with count_queries() as one:
        assert [entry.label for entry in _found(cast, "fitter", DiaryKind.TRIAL)] == ["Avocet"]
    for name in ("Bittern", "Crake"):
        on_trial(cast, until, name)
    gone = on_trial(cast, until, "Egret")
    services.withdraw(cast.actors["fitter"], Subject.SADDLE, gone.uuid)
    with count_queries() as many:
        labels = [entry.label for entry in _found(cast, "fitter", DiaryKind.TRIAL)]
    assert labels == ["Avocet", "Bittern", "Crake"]
    assert len(many) == len(one)
