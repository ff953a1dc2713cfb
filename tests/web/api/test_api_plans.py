"""Plans, work orders, the stock and choices over the interface: asked for, moved on, said, fetched."""

import uuid as uuids

import pytest
from api_cast import caller, key
from planned_cast import recorded_plan
from study_cast import Checked, documents, record_checked
from web_cast import Cast, do_waiting

from saddlebench.practice import services
from saddlebench.practice.enums import Holding
from saddlebench.practice.models import Job


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def test_a_plan_is_tried_by_hand_and_looked_at_closely(cast: Cast, checked: Checked) -> None:
    fitter = caller(cast, "fitter")
    tried = fitter.post(f"studies/{checked.study}/try", {"fields": {"near-front": "5", "off-front": "5"}})
    assert tried.status_code == 200, tried.content
    assert {one["place"] for one in tried.json()["work"]} == {"near front", "off front"}
    assert fitter.post(f"studies/{checked.study}/try", {"fields": {"near-front": "50"}}).status_code == 422
    name = key()
    by_hand = {"fields": {"near-front": "5", "off-front": "5"}}
    asked = fitter.post("plans", {"uuid": name, "study": checked.study, "by_hand": by_hand})
    assert asked.status_code == 202, asked.content
    do_waiting()
    plan = fitter.get(f"plans/{name}").json()
    assert plan["record"]["by_hand"]
    assert plan["row"]["told"]["better"] == tried.json()["better"]
    assert fitter.get(f"plans?study={checked.study}").json()["total"] == 1
    assert caller(cast, "other").get(f"plans/{name}").status_code == 404
    assert caller(cast, "reader").post("plans", {"study": checked.study}).status_code == 403


def test_what_drives_a_doubt_is_told_of_checks_and_plans(cast: Cast, checked: Checked) -> None:
    reader, other = caller(cast, "reader"), caller(cast, "other")
    plan = str(recorded_plan(cast, checked))
    for path in (f"studies/{checked.study}/runs/1", f"plans/{plan}"):
        told = reader.get(f"{path}/doubts")
        assert told.status_code == 200, told.content
        assert all(one["advice"] and not one["told"] for one in told.json())
        assert other.get(f"{path}/doubts").status_code == 404
    assert reader.get(f"studies/{checked.study}/runs/1/doubts").json()
    for picture in (f"studies/{checked.study}/runs/1/picture?name=doubt", f"plans/{plan}/pictures/doubt"):
        drawn = reader.get(picture)
        assert drawn["Content-Type"] == "image/svg+xml"
        assert "What the doubt comes from" in drawn.content.decode()
        assert other.get(picture).status_code == 404
    assert reader.get(f"plans/{plan}/pictures/other").status_code == 422


def test_an_order_is_written_sent_and_done(cast: Cast, checked: Checked) -> None:
    fitter, workshop = caller(cast, "fitter"), caller(cast, "workshop")
    plan, name = str(recorded_plan(cast, checked)), key()
    body = {"uuid": name, "plan": plan, "due_on": "2026-12-18", "unsafe": ["girth strap worn"]}
    assert fitter.post("orders", body).status_code == 201
    assert fitter.post("orders", body).status_code == 200
    assert workshop.get(f"orders/{name}").status_code == 404
    assert fitter.post(f"orders/{name}/move", {"to": "sent", "seen": 1}).status_code == 200
    assert workshop.get("orders").json()["total"] == 1
    for seen, to in ((2, "accepted"), (3, "in work")):
        assert workshop.post(f"orders/{name}/move", {"to": to, "seen": seen}).status_code == 200
    early = workshop.post(f"orders/{name}/move", {"to": "ready", "seen": 4})
    assert early.status_code == 409
    order = workshop.get(f"orders/{name}").json()
    done = [line["bench_mm"] for line in order["record"]["work"]]
    said = {"done_mm": done, "seen": 4, "mended": ["girth strap worn"], "arch_mm": 250}
    kept = workshop.post(f"orders/{name}/done", said)
    assert kept.status_code == 200, kept.content
    assert [line["done_mm"] for line in kept.json()["record"]["work"]] == done
    sheet = workshop.get(f"orders/{name}/sheet.pdf")
    assert sheet.content.startswith(b"%PDF")
    assert caller(cast, "other").get(f"orders/{name}").status_code == 404


def test_the_stock_is_said_listed_and_chosen_from(cast: Cast, checked: Checked) -> None:
    fitter = caller(cast, "fitter")
    saddle = services.take_on_saddle(
        cast.actors["fitter"], {"label": "Dunlin (invented)"}, holding=Holding.STOCK
    ).uuid
    services.record_saddle(cast.actors["fitter"], saddle, documents()[1])
    said = fitter.put(f"saddles/{saddle}/stock", {"number": "D-1", "seen": 0, "where": "van"})
    assert said.status_code == 200, said.content
    assert fitter.put(f"saddles/{saddle}/stock", {"number": "D-2", "seen": 0}).status_code == 422
    assert [one["number"] for one in fitter.get("stock").json()] == ["D-1"]
    assert b"D-1" in fitter.get("stock.csv").content
    assert caller(cast, "other").get("stock").json() == []
    name = key()
    body = {"uuid": name, "horse": checked.horse, "back_version": checked.back_version}
    asked = fitter.post("choices/shortlist", {**body, "asked": {"rider_mass": 70, "length": 3}})
    assert asked.status_code == 202, asked.content
    do_waiting()
    assert Job.objects.get(uuid=name).state == "done"
    found = fitter.get(f"choices/{name}").json()
    assert found["row"]["kind"] == "shortlist"
    assert found["found"]["complete"]
    # One saddle alone has nobody to stand before.
    assert found["found"]["order"] == []
    assert fitter.get(f"choices/{name}/order.svg").status_code == 422
    assert caller(cast, "other").get(f"choices/{name}/order.svg").status_code == 404
    assert caller(cast, "other").get(f"choices/{name}").status_code == 404
    wrong = {**body, "uuid": key(), "back_version": str(uuids.uuid4()), "asked": {"rider_mass": 70}}
    assert fitter.post("choices/shortlist", wrong).status_code == 422
