"""Plans, orders and choices: withdrawn with a way back, erased with a person, taken along when leaving."""

import json
import uuid as uuids
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse
from django.utils import timezone
from planned_cast import recorded_plan
from study_cast import Checked, record_checked
from web_cast import Cast

from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.enums import ChoiceKind, Holding, Subject
from saddlebench.practice.models import Choice, OrderState, Plan, Saddle, StockState, WorkOrder
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.choices import list_choices
from saddlebench.practice.queries.orders import list_orders, order_page
from saddlebench.practice.queries.plans import list_plans
from saddlebench.practice.services import NotFoundError, StockFacts
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import move_order, rewrite_order, write_order
from saddlebench.practice.services.plans import record_choice


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


@pytest.fixture
def plan(cast: Cast, checked: Checked) -> uuids.UUID:
    return recorded_plan(cast, checked)


def written(cast: Cast, plan: uuids.UUID, number: str = "2026-1") -> WorkOrder:
    facts = OrderFacts(number=number, due_on=date(2026, 12, 18), notes="Ring Wilma Fernlea first")
    return write_order(cast.actors["fitter"], plan, facts)


def chosen(cast: Cast, checked: Checked, label: str = "Shortlist for Juniper") -> Choice:
    found = {
        "complete": True,
        "entries": [],
        "ruled_out": {},
        "not_judged": [],
        "work_words": [],
        "cost": {"words": []},
        "cautions": [],
    }
    return record_choice(
        cast.actors["fitter"],
        ChoiceKind.SHORTLIST,
        found,
        label=label,
        asked={"rider_mass": 70, "back_version": checked.back_version},
        horse_uuid=uuids.UUID(checked.horse),
    )


def on_trial(cast: Cast, client: uuids.UUID) -> Saddle:
    fitter = cast.actors["fitter"]
    saddle = services.take_on_saddle(fitter, {"label": "Dunlin (invented)"}, holding=Holding.STOCK)
    facts = StockFacts(
        stock_number="D-1",
        where=Whereabouts.ON_TRIAL,
        place="Wilma Fernlea's tack room",
        on_trial_with=client,
        on_trial_until=timezone.localdate() + timedelta(days=7),
    )
    services.set_stock(fitter, saddle.uuid, facts)
    return saddle


def _told(cast: Cast, horse: str) -> set[Subject]:
    return {one.subject for one in queries.timeline(cast.actors["fitter"], uuids.UUID(horse)).events}


def test_a_plan_is_withdrawn_with_a_way_back(cast: Cast, checked: Checked, plan: uuids.UUID) -> None:
    fitter = cast.browser("fitter")
    before = fitter.get(f"/plans/{plan}/").content.decode()
    assert f"/records/plan/{plan}/withdraw/" in before
    form = {"next": f"/checks/{checked.study}/what-to-do/"}
    answer = fitter.post(f"/records/plan/{plan}/withdraw/", form, follow=True).content.decode()
    assert f"/records/plan/{plan}/put-back/" in answer
    assert fitter.get(f"/plans/{plan}/").status_code == 404
    assert list_plans(cast.actors["fitter"]).total == 0
    assert Subject.PLAN not in _told(cast, checked.horse)
    assert "Alteration plan" in fitter.get("/withdrawn/").content.decode()
    back = fitter.post(f"/records/plan/{plan}/put-back/")
    assert back["Location"] == f"/plans/{plan}/"
    assert list_plans(cast.actors["fitter"]).total == 1
    assert Subject.PLAN in _told(cast, checked.horse)


def test_a_choice_is_withdrawn_with_a_way_back(cast: Cast, checked: Checked) -> None:
    fitter, choice = cast.browser("fitter"), chosen(cast, checked)
    path = f"/choices/{choice.uuid}/"
    assert "Withdraw this list" in fitter.get(path).content.decode()
    assert "Withdraw this list" not in cast.browser("reader").get(path).content.decode()
    fitter.post(f"/records/choice/{choice.uuid}/withdraw/")
    assert fitter.get(path).status_code == 404
    assert list_choices(cast.actors["fitter"]).total == 0
    assert Subject.CHOICE not in _told(cast, checked.horse)
    assert fitter.post(f"/records/choice/{choice.uuid}/put-back/")["Location"] == path
    assert fitter.get(path).status_code == 200


def test_an_order_stays_readable_when_its_plan_is_withdrawn(cast: Cast, plan: uuids.UUID) -> None:
    fitter, actor = cast.browser("fitter"), cast.actors["fitter"]
    order = written(cast, plan)
    services.withdraw(actor, Subject.PLAN, plan)
    assert not order_page(actor, order.uuid).plan_stands
    shown = fitter.get(f"/orders/{order.uuid}/").content.decode()
    assert "was withdrawn since" in shown
    assert f"/plans/{plan}/" not in shown
    assert fitter.get(reverse("orders:sheet", args=[order.uuid]))["Content-Type"] == "application/pdf"
    rewrite_order(actor, order.uuid, OrderFacts(number="2026-1", notes="By van"), seen=1)
    with pytest.raises(NotFoundError, match="plan"):
        write_order(actor, plan, OrderFacts(number="2026-2"))


def test_an_order_is_taken_out_of_every_list_with_a_way_back(cast: Cast, plan: uuids.UUID) -> None:
    fitter, actor = cast.browser("fitter"), cast.actors["fitter"]
    order = move_order(actor, written(cast, plan).uuid, OrderStep.SENT, seen=1)
    assert list_orders(cast.actors["workshop"]).total == 1
    fitter.post(f"/records/order/{order.uuid}/withdraw/")
    assert list_orders(actor).total == list_orders(cast.actors["workshop"]).total == 0
    assert fitter.get(f"/orders/{order.uuid}/").status_code == 404
    assert fitter.post(f"/records/order/{order.uuid}/put-back/")["Location"] == f"/orders/{order.uuid}/"
    assert list_orders(actor).total == 1


@pytest.mark.parametrize(
    "change", ["label = ''", "document = '{}'", "sha256 = ''", "made_by_id = made_by_id", "uuid = uuid"]
)
@pytest.mark.parametrize("model", [Plan, Choice])
def test_what_they_say_is_written_once(
    cast: Cast, checked: Checked, plan: uuids.UUID, model: type[Plan | Choice], change: str
) -> None:
    chosen(cast, checked)
    table = model._meta.db_table
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        _run(f"UPDATE {table} SET {change}")  # noqa: S608
    with pytest.raises(IntegrityError, match="rows are kept"), transaction.atomic():
        _run(f"DELETE FROM {table}")  # noqa: S608
    assert _run(f"UPDATE {table} SET withdrawn_at = NULL") == 1  # noqa: S608


def test_no_column_of_theirs_is_unguarded(cast: Cast, checked: Checked, plan: uuids.UUID) -> None:
    chosen(cast, checked)
    for model in (Plan, Choice):
        columns = {field.column for field in model._meta.fields}
        free = set()
        for column in columns:
            try:
                with transaction.atomic():
                    _run(f"UPDATE {model._meta.db_table} SET {column} = {column}")  # noqa: S608
            except IntegrityError:
                continue
            free.add(column)
        assert free == {"withdrawn_at", "withdrawn_by_id"}


def _run(statement: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return int(cursor.rowcount)


def _left(cast: Cast, home: Path) -> dict[str, str]:
    path = home / f"{uuids.uuid4()}.zip"
    crossing.leave(cast.actors["owner"], path, home)
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode("utf-8", "replace") for name in archive.namelist()}


def test_leaving_takes_plans_orders_choices_and_trials_along(
    cast: Cast, checked: Checked, plan: uuids.UUID, web_home: Path
) -> None:
    order, choice = written(cast, plan), chosen(cast, checked)
    saddle = on_trial(cast, uuids.UUID(cast.here[Subject.CLIENT]))
    services.withdraw(cast.actors["fitter"], Subject.CHOICE, choice.uuid)
    files = _left(cast, web_home)
    assert files[f"plans/{plan}.json"] == Plan.objects.get().document
    assert files[f"orders/{order.uuid}/1.json"] == OrderState.objects.get().document
    assert files[f"choices/{choice.uuid}.json"] == choice.document
    rows = {name: json.loads(files[f"json/{name}.json"]) for name in ("choice", "plan", "stockstate")}
    assert rows["choice"][0]["withdrawn_at"] is not None
    assert rows["plan"][0]["withdrawn_at"] is None
    assert rows["stockstate"][0]["saddle"] == str(saddle.uuid)
    assert rows["stockstate"][0]["on_trial_with"] == cast.here[Subject.CLIENT]
    assert files["tables/workorder.csv"].count(str(order.uuid)) == 1


def test_erasing_takes_a_persons_plans_orders_and_choices_out(
    cast: Cast, checked: Checked, plan: uuids.UUID, web_home: Path
) -> None:
    client = uuids.UUID(cast.here[Subject.CLIENT])
    written(cast, plan)
    chosen(cast, checked)
    withdrawn = chosen(cast, checked)
    services.withdraw(cast.actors["fitter"], Subject.CHOICE, withdrawn.uuid)
    services.withdraw(cast.actors["fitter"], Subject.PLAN, plan)
    saddle = on_trial(cast, client)
    done = services.erase_person(cast.actors["owner"], client, web_home)
    for model in (Plan, WorkOrder, OrderState, Choice):
        assert not model._default_manager.exists(), model
    row = StockState.objects.get(saddle=saddle)
    assert (row.on_trial_with, row.where, row.place) == (None, "on trial", "[erased]'s tack room")
    assert done.receipt.counts["choice"] == 2
    assert "fernlea" not in "\n".join(_left(cast, web_home).values()).casefold()


def test_work_on_a_horse_that_was_sold_stays_without_the_name(
    cast: Cast, checked: Checked, plan: uuids.UUID, web_home: Path
) -> None:
    fitter = cast.actors["fitter"]
    order = written(cast, plan, "Wilma Fernlea 7")
    kept, naming = chosen(cast, checked), chosen(cast, checked, "For Wilma Fernlea")
    buyer = services.take_on_client(fitter, {"label": "Perran Holt"})
    owners = {uuids.UUID(checked.horse): buyer.uuid}
    client = uuids.UUID(cast.here[Subject.CLIENT])
    services.erase_person(cast.actors["owner"], client, web_home, new_owners=owners)
    assert Plan.objects.get().uuid == plan
    assert set(Choice.objects.values_list("uuid", flat=True)) == {kept.uuid}
    assert naming.uuid != kept.uuid
    state = OrderState.objects.get()
    assert "Ring [erased] first" in state.document
    assert WorkOrder.objects.get().number == f"[erased] 7 {order.pk}"
    assert "wilma fernlea" not in "\n".join(_left(cast, web_home).values()).casefold()
