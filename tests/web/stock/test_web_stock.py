"""The stock on its pages: said in one hand, filtered, overdue, in and out; and choices from it."""

import io
import json
import uuid as uuids
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from study_cast import Checked, documents, record_checked
from web_cast import Cast, do_waiting

from saddlebench.engine.fit.doubt_sources import SourceKind
from saddlebench.exchange.doubt_of_order import ORDER_NOTE, order_as_json, told_of_order
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import services
from saddlebench.practice.enums import ChoiceKind, Holding, Subject
from saddlebench.practice.models import Choice, Job, Saddle, StockState
from saddlebench.practice.queries.choices import choice_page
from saddlebench.practice.queries.stock import stock_row
from saddlebench.practice.services import StockFacts
from saddlebench.practice.services.jobs import stop_job
from saddlebench.practice.services.long_work import Run
from saddlebench.practice.services.plans import record_choice
from saddlebench.web.stock.work import Watched
from support.order_doubts import doubt_led_by


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def in_stock(cast: Cast, label: str = "Dunlin (invented)", who: str = "fitter", **facts: object) -> Saddle:
    saddle = services.take_on_saddle(
        cast.actors[who], {"label": label, "seat_size_in": 17.5}, holding=Holding.STOCK
    )
    facts["where"] = Whereabouts(str(facts.get("where", "rack")))
    given = {"stock_number": f"N-{label}"[:40], "price": 900.0, "currency": "EUR", **facts}
    services.set_stock(cast.actors[who], saddle.uuid, StockFacts(**given))
    return saddle


def measured_in_stock(cast: Cast, label: str = "Dunlin (invented)") -> Saddle:
    saddle = in_stock(cast, label)
    services.record_saddle(cast.actors["fitter"], saddle.uuid, documents()[1])
    return saddle


SAID = {
    "stock_number": "D-1",
    "where": "rack",
    "place": "rack 3",
    "price": "850",
    "currency": "eur",
    "seen": "1",
}


def test_how_a_saddle_stands_is_said_in_one_form(cast: Cast) -> None:
    saddle = in_stock(cast)
    fitter = cast.browser("fitter")
    until = (timezone.localdate() + timedelta(days=14)).isoformat()
    trial = {**SAID, "where": "on trial", "on_trial_with": "wilma fernlea", "on_trial_until": until}
    assert fitter.post(f"/stock/{saddle.uuid}/say/", trial).status_code == 302
    page = fitter.get(f"/stock/{saddle.uuid}/").content.decode()
    assert "on trial with Wilma Fernlea" in page
    assert "850 EUR" in page
    back = {**SAID, "seen": "2", "where": "van", "on_trial_with": "Wilma Fernlea"}
    assert fitter.post(f"/stock/{saddle.uuid}/say/", back).status_code == 302
    assert stock_row(cast.actors["fitter"], saddle.uuid).item.where_words == "van, rack 3"
    assert StockState.objects.filter(saddle=saddle).count() == 3


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"where": "on trial"}, "nobody is named"),
        ({"where": "on trial", "on_trial_with": "Nobody Here"}, "is not among the clients"),
        ({"where": "moon"}, "not said where"),
        ({"price": "dear"}, "Price"),
        ({"currency": ""}, "no currency"),
        ({"seen": "0"}, "somebody else changed"),
    ],
)
def test_what_does_not_go_together_is_refused(cast: Cast, change: dict[str, str], said: str) -> None:
    saddle = in_stock(cast)
    answer = cast.browser("fitter").post(f"/stock/{saddle.uuid}/say/", {**SAID, **change})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert StockState.objects.filter(saddle=saddle).count() == 1


def test_a_workshop_moves_a_saddle_without_learning_or_losing_the_name(cast: Cast) -> None:
    client = uuids.UUID(cast.here[Subject.CLIENT])
    saddle = in_stock(cast, reserved_for=client)
    workshop = cast.browser("workshop")
    page = workshop.get(f"/stock/{saddle.uuid}/").content.decode()
    assert "Wilma" not in page
    moved = {**SAID, "place": "bench", "reserved_for": "somebody"}
    assert workshop.post(f"/stock/{saddle.uuid}/say/", moved).status_code == 302
    row = stock_row(cast.actors["fitter"], saddle.uuid)
    assert (row.item.reserved_for, row.item.place) == ("Wilma Fernlea", "bench")


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ("", {"Avocet", "Bittern", "Crake"}),
        ("?q=avo", {"Avocet"}),
        ("?where=van", {"Bittern"}),
        ("?free=1", {"Avocet", "Bittern"}),
        ("?late=1", {"Crake"}),
        ("?most=500", {"Bittern"}),
        ("?discipline=dressage", {"Crake"}),
        ("?seat=16", set()),
        ("?most=dear&where=moon", {"Avocet", "Bittern", "Crake"}),
    ],
)
def test_the_list_is_narrowed(cast: Cast, query: str, names: set[str]) -> None:
    client = uuids.UUID(cast.here[Subject.CLIENT])
    gone = timezone.localdate() - timedelta(days=2)
    in_stock(cast, "Avocet")
    in_stock(cast, "Bittern", where="van", price=450.0)
    in_stock(
        cast, "Crake", where="on trial", on_trial_with=client, on_trial_until=gone, discipline="dressage"
    )
    text = cast.browser("fitter").get(f"/stock/{query}").content.decode()
    shown = text[text.index('id="found"') :]
    assert {one for one in ("Avocet", "Bittern", "Crake") if f"<strong>{one}" in shown} == names


def test_a_trial_that_is_overdue_stands_on_the_first_page(cast: Cast) -> None:
    client = uuids.UUID(cast.here[Subject.CLIENT])
    gone = timezone.localdate() - timedelta(days=2)
    in_stock(cast, "Crake", where="on trial", on_trial_with=client, on_trial_until=gone)
    assert "Trials overdue" in cast.browser("fitter").get("/").content.decode()
    assert "with Wilma Fernlea" in cast.browser("fitter").get("/").content.decode()
    assert "Wilma" not in cast.browser("workshop").get("/").content.decode()


def test_the_table_goes_out_and_comes_in_again(cast: Cast) -> None:
    saddle = in_stock(cast)
    fitter = cast.browser("fitter")
    table = fitter.get("/stock/stock.csv").content
    assert str(saddle.uuid) in table.decode()
    again = fitter.post("/stock/bring-in/", {"table": SimpleUploadedFile("s.csv", table)})
    assert again.status_code == 302
    assert StockState.objects.filter(saddle=saddle).count() == 1
    more = b"number,label,where\nE-1,Egret (invented),van\n"
    fitter.post("/stock/bring-in/", {"table": io.BytesIO(more)})
    assert Saddle.objects.filter(label="Egret (invented)").count() == 1
    wrong = SimpleUploadedFile("s.csv", b"number,label,where\nE-2,Heron,moon\n")
    refused = fitter.post("/stock/bring-in/", {"table": wrong})
    assert refused.status_code == 422
    assert "row 2" in refused.content.decode()
    assert fitter.post("/stock/bring-in/", {}).status_code == 422


def test_a_label_is_made_with_the_code_that_can_be_followed(cast: Cast) -> None:
    saddle = in_stock(cast)
    label = cast.browser("fitter").get(f"/stock/{saddle.uuid}/label.pdf")
    assert label["Content-Type"] == "application/pdf"
    assert label.content.startswith(b"%PDF")


def asked(cast: Cast, checked: Checked, **more: str) -> dict[str, str]:
    return {
        "form": str(uuids.uuid4()),
        "back": checked.back_version,
        "rider_mass": "70",
        "length": "3",
        **more,
    }


def test_saddles_are_found_for_a_horse_with_reasons_and_lead_to_a_fit_check(
    cast: Cast, checked: Checked
) -> None:
    saddle = measured_in_stock(cast)
    fitter = cast.browser("fitter")
    form = asked(cast, checked)
    assert fitter.post(f"/horses/{checked.horse}/shortlist/", form).status_code == 302
    do_waiting()
    page = choice_page(cast.actors["fitter"], uuids.UUID(form["form"]))
    assert page.found["complete"]
    text = fitter.get(f"/choices/{form['form']}/").content.decode()
    if page.found["entries"]:
        assert [one["number"] for one in page.found["entries"]] == [str(saddle.uuid)]
        assert f"saddle={saddle.uuid}" in text
        assert "For it" in text
    else:
        assert sum(page.found["ruled_out"].values()) == 1
        assert "passes the hard limits" in text
    assert "veterinary surgeon" in text
    assert f"/choices/{form['form']}/" in fitter.get(f"/horses/{checked.horse}/timeline/").content.decode()


def test_what_was_stopped_keeps_what_is_known(cast: Cast, checked: Checked) -> None:
    measured_in_stock(cast)
    fitter = cast.browser("fitter")
    form = asked(cast, checked)
    fitter.post(f"/horses/{checked.horse}/shortlist/", form)
    job = Job.objects.get(uuid=form["form"])
    Job.objects.filter(pk=job.pk).update(state="running")
    watched = Watched(Run(job, cast.actors["fitter"]))
    watched.tell(0, 2, "one")
    assert not watched.is_stopped()
    stop_job(cast.actors["fitter"], job.uuid)
    watched.tell(1, 2, "two")
    assert watched.is_stopped()


def test_the_horses_for_one_saddle_and_the_season(cast: Cast, checked: Checked) -> None:
    saddle = measured_in_stock(cast)
    fitter = cast.browser("fitter")
    services.enter(
        cast.actors["fitter"],
        Subject.HORSE,
        uuids.UUID(checked.horse),
        [services.Entered(field="rider_mass_kg", value=70, key=uuids.uuid4(), seen=10)],
    )
    takers, season = str(uuids.uuid4()), str(uuids.uuid4())
    assert fitter.post(f"/saddles/{saddle.uuid}/takers/", {"form": takers}).status_code == 302
    assert fitter.post("/stock/season/", {"form": season, "length": "2"}).status_code == 302
    do_waiting()
    kinds = dict(Choice.objects.values_list("uuid", "kind"))
    assert kinds == {uuids.UUID(takers): "takers", uuids.UUID(season): "season"}
    for uuid in (takers, season):
        text = fitter.get(f"/choices/{uuid}/").content.decode()
        assert "Juniper" in text
        assert "veterinary surgeon" in text
    found = json.loads(Choice.objects.get(uuid=season).document)
    assert [one["uuid"] for one in found["lists"]] == [checked.horse]


@pytest.mark.parametrize(
    ("change", "said"),
    [({"back": "x"}, "no back is chosen"), ({"rider_mass": ""}, "Rider"), ({"thigh": "5"}, "Rider sitting")],
)
def test_a_shortlist_needs_back_and_rider(
    cast: Cast, checked: Checked, change: dict[str, str], said: str
) -> None:
    measured_in_stock(cast)
    answer = cast.browser("fitter").post(
        f"/horses/{checked.horse}/shortlist/", {**asked(cast, checked), **change}
    )
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_others_and_strangers(cast: Cast, checked: Checked) -> None:
    saddle = measured_in_stock(cast)
    reader, workshop = cast.browser("reader"), cast.browser("workshop")
    other, nobody = cast.browser("other"), cast.browser("nobody")
    assert reader.get(f"/stock/{saddle.uuid}/").status_code == 200
    assert reader.post(f"/stock/{saddle.uuid}/say/", SAID).status_code == 403
    for path in (
        "/stock/stock.csv",
        "/stock/bring-in/",
        "/stock/season/",
        f"/horses/{checked.horse}/shortlist/",
    ):
        assert workshop.get(path).status_code == 403, path
        assert nobody.get(path).status_code == 302, path
    choice = services_choice(cast, checked)
    for path in (
        f"/stock/{saddle.uuid}/",
        f"/stock/{saddle.uuid}/label.pdf",
        f"/saddles/{saddle.uuid}/takers/",
        f"/horses/{checked.horse}/shortlist/",
        f"/choices/{choice}/",
    ):
        assert other.get(path).status_code == 404, path
    assert other.post(f"/stock/{saddle.uuid}/say/", SAID).status_code == 404
    assert "Dunlin" not in other.get("/stock/").content.decode()
    assert str(choice) not in other.get("/stock/choices/").content.decode()
    assert cast.browser("fitter").get(f"/stock/{saddle.uuid}/say/").status_code == 405
    assert cast.browser("fitter").get(f"/stock/{checked.saddle}/").status_code == 404


def test_what_would_tell_which_stands_first_is_said_and_drawn(cast: Cast, checked: Checked) -> None:
    doubt = doubt_led_by("the last-rib mark", SourceKind.MARK)
    order = {
        "order": order_as_json([doubt]),
        "order_words": list(told_of_order([doubt])),
        "order_note": ORDER_NOTE,
    }
    chosen = services_choice(cast, checked, **order)
    fitter = cast.browser("fitter")
    text = fitter.get(f"/choices/{chosen}/").content.decode()
    assert "In 58 of 100 tries Rowan costs less than Sallow." in text
    assert (
        "Feel the last-rib mark again; which stands first can then be told in about 55 of 100 cases." in text
    )
    assert f"/choices/{chosen}/order.svg" in text
    for width in ("phone", "page"):
        drawn = fitter.get(f"/choices/{chosen}/order.svg?width={width}")
        assert drawn["Content-Type"].startswith("image/svg")
        assert "neither first" in drawn.content.decode()
    assert cast.browser("other").get(f"/choices/{chosen}/order.svg").status_code == 404
    without = services_choice(cast, checked)
    assert "order.svg" not in fitter.get(f"/choices/{without}/").content.decode()
    assert fitter.get(f"/choices/{without}/order.svg").status_code == 422


def services_choice(cast: Cast, checked: Checked, **more: Any) -> uuids.UUID:
    found = {"complete": True, "entries": [], "ruled_out": {}, "not_judged": [], "work_words": []}
    found |= {"cost": {"words": []}, "cautions": [], **more}
    return record_choice(
        cast.actors["fitter"],
        ChoiceKind.SHORTLIST,
        found,
        label="Saddles for Juniper",
        asked={"rider_mass": 70.0},
        horse_uuid=uuids.UUID(checked.horse),
    ).uuid


def test_twice_the_stock_takes_no_more_queries(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    fitter = cast.browser("fitter")

    def queries() -> int:
        with count_queries() as counted:
            fitter.get("/stock/")
            fitter.get("/")
        return len(counted)

    for name in ("Avocet", "Bittern"):
        in_stock(cast, name)
    queries()
    two = queries()
    for name in ("Crake", "Dotterel"):
        in_stock(cast, name)
    assert queries() == two
