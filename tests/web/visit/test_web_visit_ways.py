"""Starting a visit, with a horse or a name alone; its saddles; its end, diary and summary."""

import re
import uuid as uuids
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from web_cast import Cast

from saddlebench.practice import queries
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.visit_list import visit_list
from saddlebench.practice.services import Entered, enter


@pytest.fixture
def fitter(cast: Cast) -> Client:
    return cast.browser("fitter")


def _uuid_in(location: str) -> uuids.UUID:
    found = re.search(r"/visits/([0-9a-f-]{36})/", location)
    assert found is not None
    return uuids.UUID(found[1])


def test_a_visit_starts_for_a_horse_and_sent_twice_is_one(cast: Cast, fitter: Client) -> None:
    horse = cast.here[Subject.HORSE]
    page = fitter.get(reverse("visit:new"), {"horse": horse}).content.decode()
    assert "Juniper" in page
    form = re.search(r'name="form" value="([^"]+)"', page)
    assert form is not None
    posted = {"form": form[1], "horse_uuid": horse, "purpose": "first", "date": "2026-04-02"}
    first = fitter.post(reverse("visit:new"), posted)
    again = fitter.post(reverse("visit:new"), posted)
    assert first["Location"] == again["Location"]
    shown = queries.visit_page(cast.actors["fitter"], _uuid_in(first["Location"]))
    assert (shown.day, shown.horse.label if shown.horse else "") == (date(2026, 4, 2), "Juniper")


def test_a_visit_starts_with_a_name_alone_and_takes_its_horse_up_later(cast: Cast, fitter: Client) -> None:
    posted = {
        "label": "Grey cob at the gate",
        "purpose": "complaint",
        "date": timezone.localdate().isoformat(),
    }
    visit = _uuid_in(fitter.post(reverse("visit:new"), posted)["Location"])
    step = reverse("visit:step", args=[visit, "reason"])
    text = fitter.get(step, {"horse": "juniper"}).content.decode()
    assert "Grey cob at the gate" in text
    assert "This one" in text
    refused = fitter.post(reverse("visit:say_horse", args=[visit]), {"horse": cast.elsewhere[Subject.HORSE]})
    assert refused.status_code == 422
    fitter.post(reverse("visit:say_horse", args=[visit]), {"horse": cast.here[Subject.HORSE]})
    assert "This visit is Juniper" in fitter.get(step).content.decode()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"date": "soon"}, "is not a date"),
        ({"purpose": "fun"}, "is not one of the choices"),
        ({"date": ""}, "is needed"),
        ({"starts_at": "late"}, "is not a time of day"),
    ],
)
def test_a_visit_that_cannot_be_is_not_started(
    cast: Cast, fitter: Client, changed: dict[str, str], said: str
) -> None:
    before = len(visit_list(cast.actors["fitter"]).under_way)
    answer = fitter.post(
        reverse("visit:new"), {"purpose": "first", "date": "2026-04-02", "label": "Kept", **changed}
    )
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="Kept"' in answer.content.decode()
    assert len(visit_list(cast.actors["fitter"]).under_way) == before


def test_a_visit_begun_by_one_is_taken_up_by_another(cast: Cast, fitter: Client) -> None:
    visit = cast.here[Subject.VISIT]
    fitter.post(
        reverse("visit:save", args=[visit]), {"stance": "square", "stance.key": "", "stance.seen": "0"}
    )
    owner = cast.browser("owner")
    assert f"/visits/{visit}/" in owner.get(reverse("visit:visits")).content.decode()
    text = owner.get(reverse("visit:step", args=[visit, "stance"])).content.decode()
    assert re.search(r'name="stance" value="square" checked', text)
    assert "by Fitter Invented" in text


def test_a_planned_visit_is_in_the_diary(cast: Cast, fitter: Client) -> None:
    day = timezone.localdate()
    posted = {
        "purpose": "trial",
        "date": day.isoformat(),
        "label": "Planned cob",
        "plan": "yes",
        "starts_at": "09:30",
    }
    fitter.post(reverse("visit:new"), posted)
    (entry,) = (
        one for one in queries.diary(cast.actors["fitter"], day, day).entries if one.horse == "Planned cob"
    )
    assert entry.starts_at is not None
    assert entry.starts_at.strftime("%H:%M") == "09:30"


def test_a_saddle_of_the_horse_or_a_new_one_is_looked_at(cast: Cast, fitter: Client) -> None:
    visit = cast.here[Subject.VISIT]
    step = reverse("visit:step", args=[visit, "saddles"])
    assert "Juniper&#x27;s brown jumping" in fitter.get(step).content.decode()
    add = reverse("visit:add_saddle", args=[visit])
    fitter.post(add, {"saddle": cast.here[Subject.SADDLE]})
    posted = {"new": str(uuids.uuid4()), "label": "Old brown", "family": "bars"}
    for _ in range(2):
        assert fitter.post(add, posted).status_code == 302
    page = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))
    assert [one.saddle.label for one in page.tried] == ["Juniper's brown jumping", "Old brown"]
    assert fitter.post(add, {"saddle": cast.elsewhere[Subject.SADDLE]}).status_code == 404
    assert fitter.post(add, {"label": "", "family": "bars"}).status_code == 422
    assert fitter.post(add, {"saddle": "no-uuid"}).status_code == 404


def test_a_recheck_is_set_by_a_reason_or_a_day_and_planned(cast: Cast, fitter: Client) -> None:
    visit = cast.here[Subject.VISIT]
    path = reverse("visit:recheck", args=[visit])
    form = str(uuids.uuid4())
    for _ in range(2):
        fitter.post(path, {"reason": "young", "form": form})
    text = fitter.get(reverse("visit:step", args=[visit, "next"])).content.decode()
    # Visited on 1 March 2026: eight weeks later is 26 April.
    assert text.count("due by Sun 26 Apr") == 1
    page = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))
    assert page.answers["next_on"].value == "2026-04-26"
    fitter.post(path, {"on": "2027-01-04", "starts_at": "10:15", "plan": "yes"})
    planned = queries.diary(cast.actors["fitter"], date(2027, 1, 4), date(2027, 1, 4)).entries
    assert {one.is_recheck for one in planned} == {True, False}
    assert fitter.post(path, {}).status_code == 422
    assert fitter.post(path, {"on": "soon"}).status_code == 422


def test_finishing_answers_what_was_due_and_can_be_undone(cast: Cast, fitter: Client) -> None:
    horse, recheck = cast.here[Subject.HORSE], cast.here[Subject.RECHECK]
    posted = {"horse_uuid": horse, "purpose": "recheck", "date": "2026-10-01"}
    visit = _uuid_in(fitter.post(reverse("visit:new"), posted)["Location"])
    text = fitter.get(reverse("visit:step", args=[visit, "next"])).content.decode()
    assert f'name="answers" value="{recheck}" checked' in text
    finish = reverse("visit:finish", args=[visit])
    assert fitter.post(finish, {"answers": recheck})["Location"] == reverse("visit:summary", args=[visit])
    assert str(visit) in [str(row.uuid) for row in visit_list(cast.actors["fitter"]).finished]
    assert queries.horse_page(cast.actors["fitter"], uuids.UUID(horse)).rechecks == ()
    fitter.post(finish, {"go_on": "yes"})
    assert str(visit) in [str(row.uuid) for row in visit_list(cast.actors["fitter"]).under_way]


def test_the_summary_says_all_that_was_found(cast: Cast, fitter: Client) -> None:
    visit = cast.here[Subject.VISIT]
    fitter.post(reverse("visit:add_saddle", args=[visit]), {"saddle": cast.here[Subject.SADDLE]})
    page = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))
    enter(
        cast.actors["fitter"],
        Subject.VISIT,
        page.uuid,
        [
            Entered(field=name, value=value, key=uuids.uuid4(), seen=0)
            for name, value in (
                ("reason", "Bucks at canter"),
                ("heart_girth_cm", "190"),
                ("body_length_cm", "165"),
                ("stops_not_today", ["very_thin"]),
            )
        ],
    )
    dip = Entered(field="dip_near_front_mm", value="8,5", key=uuids.uuid4(), seen=0)
    enter(cast.actors["fitter"], Subject.VISIT_SADDLE, page.tried[0].uuid, [dip])
    fitter.post(reverse("visit:add_mark", args=[visit, "muscle"]), {"kind": "hollow", "place": "loin_off"})
    text = fitter.get(reverse("visit:summary", args=[visit])).content.decode()
    for said in (
        "Bucks at canter",
        "About 501 kg",
        "Stop, not today",
        "Very thin",
        "Hollow: Loin, off",
        "A screening aid, not a diagnosis",
        "Tussock Saddles (invented)",
    ):
        assert said in text
    # 25 kPa over 8.5 mm.
    assert "8.5\N{NO-BREAK SPACE}mm (2.9 kPa/mm)" in text


def test_a_visit_is_withdrawn_and_put_back(cast: Cast, fitter: Client) -> None:
    visit = cast.here[Subject.VISIT]
    page = reverse("visit:visit", args=[visit])
    assert "Withdraw this visit" in fitter.get(page).content.decode()
    fitter.post(reverse("records:withdraw", args=["visit", visit]))
    assert fitter.get(page).status_code == 404
    fitter.post(reverse("records:put_back", args=["visit", visit]))
    assert fitter.get(page).status_code == 200


def test_a_saddle_is_taken_off_a_visit_and_undone_with_all_that_was_entered(
    cast: Cast, fitter: Client
) -> None:
    visit, saddle = cast.here[Subject.VISIT], cast.here[Subject.SADDLE]
    fitter.post(reverse("visit:add_saddle", args=[visit]), {"saddle": saddle})
    page = queries.visit_page(cast.actors["fitter"], uuid=uuids.UUID(visit))
    tried = page.tried[-1]
    worn = [Entered(field="straps", value="worn", key=uuids.uuid4(), seen=0)]
    enter(cast.actors["fitter"], Subject.VISIT_SADDLE, tried.uuid, worn)
    step = reverse("visit:step", args=[visit, "saddles"])
    assert "Take it off this visit" in fitter.get(step).content.decode()
    off = fitter.post(reverse("visit:take_saddle_off", args=[visit, tried.uuid]))
    assert off["Location"] == step
    after = fitter.get(step).content.decode()
    undo = re.search(r'action="([^"]+/put-back/)"', after)
    assert undo is not None
    assert tried.uuid not in {one.uuid for one in queries.visit_page(cast.actors["fitter"], page.uuid).tried}
    assert fitter.get(reverse("visit:saddle", args=[visit, tried.uuid, "condition"])).status_code == 404
    # It is offered again like any other saddle of the horse.
    assert f'name="saddle" value="{saddle}"' in after
    fitter.post(undo[1])
    again = queries.visit_page(cast.actors["fitter"], page.uuid).tried[-1]
    assert (again.uuid, again.answers["straps"].value) == (tried.uuid, "worn")


def test_the_stop_of_a_saddle_goes_with_it(cast: Cast, fitter: Client) -> None:
    visit, saddle = cast.here[Subject.VISIT], cast.here[Subject.SADDLE]
    fitter.post(reverse("visit:add_saddle", args=[visit]), {"saddle": saddle})
    tried = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit)).tried[-1]
    broken = Entered(field="tree_flex", value="broken", key=uuids.uuid4(), seen=0)
    enter(cast.actors["fitter"], Subject.VISIT_SADDLE, tried.uuid, [broken])
    fit = reverse("visit:step", args=[visit, "fit"])
    assert "do not ride" in fitter.get(fit).content.decode()
    fitter.post(reverse("visit:take_saddle_off", args=[visit, tried.uuid]))
    assert "do not ride" not in fitter.get(fit).content.decode()


def test_a_visits_back_leads_to_the_backs_page(cast: Cast, fitter: Client) -> None:
    text = fitter.get(reverse("visit:step", args=[cast.here[Subject.VISIT], "back"])).content.decode()
    assert f'href="{reverse("capture:back", args=[cast.here[Subject.BACK]])}"' in text
    assert "/versions/" not in text.split("<main")[1]
