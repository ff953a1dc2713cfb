"""Work orders: written from a plan, sent, worked on, checked; who sees which, and what is refused."""

import uuid as uuids
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from planned_cast import recorded_plan
from study_cast import Checked, record_checked
from web_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.enums import Role
from saddlebench.practice.models import OrderState, WorkOrder
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.orders import order_page
from saddlebench.practice.queries.plans import list_plans
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import move_order, say_done, write_order
from saddlebench.web.orders.pages import read_order


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


@pytest.fixture
def plan(cast: Cast, checked: Checked) -> uuids.UUID:
    return recorded_plan(cast, checked)


def written(cast: Cast, plan: uuids.UUID, number: str = "17", **facts: object) -> WorkOrder:
    return write_order(cast.actors["fitter"], plan, OrderFacts(number=number, **facts))


def sent(cast: Cast, plan: uuids.UUID, number: str = "17", **facts: object) -> WorkOrder:
    order = written(cast, plan, number, **facts)
    return move_order(cast.actors["fitter"], order.uuid, OrderStep.SENT, seen=1)


def test_an_order_goes_its_whole_way_and_every_state_stays(cast: Cast, plan: uuids.UUID) -> None:
    fitter, workshop = cast.browser("fitter"), cast.browser("workshop")
    form = fitter.get(f"/plans/{plan}/order/").content.decode()
    year = timezone.localdate().year
    assert f'value="{year}-001"' in form
    key = str(uuids.uuid4())
    facts = {
        "form": key,
        "number": "2026-7",
        "due_on": "2026-12-18",
        "unsafe": "off point strap: stitching gone",
        "leave": "front arch",
        "price_limit": "180 EUR",
    }
    assert fitter.post(f"/plans/{plan}/order/", facts).status_code == 302
    path = f"/orders/{key}/"
    assert workshop.get(path).status_code == 404
    assert fitter.post(f"{path}move/", {"to": "sent", "seen": "1", "said": "By van"}).status_code == 302
    seen = workshop.get(path).content.decode()
    assert "off point strap: stitching gone" in seen
    assert "Wilma Fernlea" not in seen
    workshop.post(f"{path}move/", {"to": "accepted", "seen": "2"})
    workshop.post(f"{path}move/", {"to": "in work", "seen": "3"})
    early = workshop.post(f"{path}move/", {"to": "ready", "seen": "4"})
    assert early.status_code == 422
    assert "not said yet what was done" in early.content.decode()
    page = order_page(cast.actors["workshop"], uuids.UUID(key))
    order = read_order(page)
    assert order.work
    done = {f"done-{k}": f"{line.bench_mm:g}" for k, line in enumerate(order.work)}
    done["found-0"] = "balled, 4 mm too full"
    if order.arch is not None:
        done["arch"] = f"{order.arch.target_mm:g}"
    kept = workshop.post(f"{path}done/", {**done, "seen": "4", "mended": "off point strap: stitching gone"})
    assert kept.status_code == 302
    assert workshop.post(f"{path}move/", {"to": "ready", "seen": "5"}).status_code == 302
    assert workshop.post(f"{path}check/", {"seen": "6"}).status_code == 422
    short = {f"checked-{k}": "0" for k in range(len(order.work))}
    assert fitter.post(f"{path}check/", {**short, "seen": "6", "said": "Sits level"}).status_code == 302
    closed = fitter.get(path).content.decode()
    assert "back and checked" in closed
    assert "less than asked" in closed
    assert "<td>balled, 4 mm too full</td>" in closed
    assert read_order(order_page(cast.actors["fitter"], uuids.UUID(key))).work[0].found == done["found-0"]
    assert list(
        OrderState.objects.filter(order__uuid=key).order_by("number").values_list("step", flat=True)
    ) == [
        "being written",
        "sent",
        "accepted",
        "in work",
        "in work",
        "ready",
        "back and checked",
    ]
    horse = fitter.get(f"/horses/{page.row.horse.uuid}/").content.decode()
    assert "New flock" in horse


def test_what_was_found_has_bounds_and_stays_when_nothing_new_is_said(cast: Cast, plan: uuids.UUID) -> None:
    order, owner = sent(cast, plan), cast.actors["owner"]
    for seen, to in ((2, OrderStep.ACCEPTED), (3, OrderStep.IN_WORK)):
        move_order(owner, order.uuid, to, seen=seen)
    n = len(read_order(order_page(owner, order.uuid)).work)
    say_done(owner, order.uuid, [3.0] * n, seen=4, found=["lumpy", *[""] * (n - 1)])
    with pytest.raises(InputProblemsError, match="longer than 200"):
        say_done(owner, order.uuid, [3.0] * n, seen=5, found=["x" * 201, *[""] * (n - 1)])
    with pytest.raises(InputProblemsError, match="not every place"):
        say_done(owner, order.uuid, [3.0] * n, seen=5, found=["one too many"] * (n + 1))
    say_done(owner, order.uuid, [4.0] * n, seen=5)
    work = read_order(order_page(owner, order.uuid)).work
    assert [line.found for line in work] == ["lumpy", *[""] * (n - 1)]
    assert {line.done_mm for line in work} == {4.0}


def test_a_workshop_sees_the_plans_of_its_orders_and_no_others(cast: Cast, plan: uuids.UUID) -> None:
    workshop = cast.browser("workshop")
    assert list_plans(cast.actors["workshop"]).total == 0
    assert workshop.get(f"/plans/{plan}/").status_code == 404
    order = written(cast, plan)
    assert workshop.get(f"/plans/{plan}/").status_code == 404
    move_order(cast.actors["fitter"], order.uuid, OrderStep.SENT, seen=1)
    assert workshop.get(f"/plans/{plan}/").status_code == 200
    assert [one.uuid for one in list_plans(cast.actors["workshop"]).rows] == [plan]


def test_an_unsafe_thing_that_is_not_mended_keeps_the_saddle_off_the_horse(
    cast: Cast, plan: uuids.UUID
) -> None:
    order = sent(cast, plan, unsafe=("stirrup bar loose",))
    owner = cast.browser("owner")
    path = f"/orders/{order.uuid}/"
    for seen, to in ((2, "accepted"), (3, "in work")):
        owner.post(f"{path}move/", {"to": to, "seen": str(seen)})
    held = read_order(order_page(cast.actors["owner"], order.uuid))
    done = {f"done-{k}": "3" for k in range(len(held.work))}
    owner.post(f"{path}done/", {**done, "seen": "4", "arch": "250"})
    owner.post(f"{path}move/", {"to": "ready", "seen": "5"})
    refused = owner.post(f"{path}check/", {"seen": "6"})
    assert refused.status_code == 422
    assert "not mended" in refused.content.decode()


def test_two_who_move_it_at_once_notice_each_other(cast: Cast, plan: uuids.UUID) -> None:
    order = sent(cast, plan)
    workshop, owner = cast.browser("workshop"), cast.browser("owner")
    assert workshop.post(f"/orders/{order.uuid}/move/", {"to": "accepted", "seen": "2"}).status_code == 302
    late = owner.post(f"/orders/{order.uuid}/move/", {"to": "declined", "seen": "2"})
    assert late.status_code == 422
    assert "somebody else changed this order" in late.content.decode()


def test_a_workshop_sees_what_is_for_it_and_nothing_else(cast: Cast, plan: uuids.UUID) -> None:
    other = services.add_member(
        cast.actors["owner"], "Second Bench", "bench@tussock.example", "invented-pass-phrase", Role.WORKSHOP
    )
    mine, theirs = sent(cast, plan, "1"), sent(cast, plan, "2", workshop=other.uuid)
    draft = written(cast, plan, "3")
    workshop = cast.browser("workshop")
    listed = workshop.get("/orders/").content.decode()
    assert str(mine.uuid) in listed
    assert str(theirs.uuid) not in listed
    assert str(draft.uuid) not in listed
    for order in (theirs, draft):
        for path in ("", "order.pdf", "underside.svg"):
            assert workshop.get(f"/orders/{order.uuid}/{path}").status_code == 404
        assert (
            workshop.post(f"/orders/{order.uuid}/move/", {"to": "accepted", "seen": "2"}).status_code == 404
        )
        assert workshop.post(f"/orders/{order.uuid}/done/", {"seen": "2"}).status_code == 404
    assert str(theirs.uuid) in cast.browser("fitter").get("/orders/").content.decode()


def test_the_sheet_and_the_drawing_are_made(cast: Cast, plan: uuids.UUID) -> None:
    order = sent(cast, plan)
    fitter = cast.browser("fitter")
    sheet = fitter.get(f"/orders/{order.uuid}/order.pdf")
    assert sheet["Content-Type"] == "application/pdf"
    assert sheet.content.startswith(b"%PDF")
    assert b"<svg" in fitter.get(f"/orders/{order.uuid}/underside.svg").content


def test_it_is_written_anew_until_it_is_sent(cast: Cast, plan: uuids.UUID) -> None:
    order = written(cast, plan, unsafe=("girth strap worn",))
    fitter = cast.browser("fitter")
    form = fitter.get(f"/orders/{order.uuid}/edit/").content.decode()
    assert "girth strap worn" in form
    anew = {"number": "17b", "due_on": "2026-11-30", "seen": "1", "notes": "Wool as before."}
    assert fitter.post(f"/orders/{order.uuid}/edit/", anew).status_code == 302
    assert "Wool as before." in fitter.get(f"/orders/{order.uuid}/").content.decode()
    fitter.post(f"/orders/{order.uuid}/move/", {"to": "sent", "seen": "2"})
    late = fitter.post(f"/orders/{order.uuid}/edit/", {**anew, "seen": "3"})
    assert late.status_code == 409
    assert "take it back to writing first" in late.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("number", "", "Number"),
        ("number", "17", "nother order has the number 17"),
        ("due_on", "soon", "Due on"),
        ("workshop", "x", "no member"),
        ("leave", "x" * 300, "leave"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    cast: Cast, plan: uuids.UUID, field: str, value: str, said: str
) -> None:
    written(cast, plan)
    answer = cast.browser("fitter").post(f"/plans/{plan}/order/", {"number": "18", field: value})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert WorkOrder.objects.count() == 1


@pytest.mark.parametrize("number", ["900", "many", "1e3"])
def test_what_was_done_has_bounds(cast: Cast, plan: uuids.UUID, number: str) -> None:
    order = sent(cast, plan)
    owner = cast.browser("owner")
    for seen, to in ((2, "accepted"), (3, "in work")):
        owner.post(f"/orders/{order.uuid}/move/", {"to": to, "seen": str(seen)})
    refused = owner.post(f"/orders/{order.uuid}/done/", {"done-0": number, "seen": "4"})
    assert refused.status_code == 422
    assert OrderState.objects.filter(order=order).count() == 4


def test_others_and_strangers(cast: Cast, plan: uuids.UUID) -> None:
    order = sent(cast, plan)
    reader, other, nobody = cast.browser("reader"), cast.browser("other"), cast.browser("nobody")
    assert reader.get(f"/orders/{order.uuid}/").status_code == 200
    assert reader.get(f"/plans/{plan}/order/").status_code == 403
    assert reader.post(f"/orders/{order.uuid}/move/", {"to": "accepted", "seen": "2"}).status_code == 403
    assert "Tussock" not in other.get("/orders/").content.decode()
    for path in ("", "order.pdf", "underside.svg", "edit/"):
        assert other.get(f"/orders/{order.uuid}/{path}").status_code == 404
        assert nobody.get(f"/orders/{order.uuid}/{path}").status_code == 302
    for path in ("move/", "done/", "check/"):
        assert other.post(f"/orders/{order.uuid}/{path}", {"to": "accepted", "seen": "2"}).status_code in {
            404,
            422,
        }
        assert nobody.post(f"/orders/{order.uuid}/{path}", {}).status_code == 401
        assert cast.browser("owner").get(f"/orders/{order.uuid}/{path}").status_code == 405
    assert order_page(cast.actors["owner"], order.uuid).row.step is OrderStep.SENT


def test_a_late_order_says_so(cast: Cast, plan: uuids.UUID) -> None:
    order = sent(cast, plan, due_on=timezone.localdate() - timedelta(days=3))
    text = cast.browser("fitter").get("/orders/").content.decode()
    assert "3 days late" in text
    assert "3 days late" in cast.browser("fitter").get(f"/orders/{order.uuid}/").content.decode()


def test_twice_the_orders_take_no_more_queries(
    cast: Cast, plan: uuids.UUID, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    fitter = cast.browser("fitter")

    def queries() -> int:
        with count_queries() as counted:
            fitter.get("/orders/")
        return len(counted)

    for number in ("1", "2"):
        written(cast, plan, number)
    queries()
    two = queries()
    for number in ("3", "4"):
        written(cast, plan, number)
    assert queries() == two
