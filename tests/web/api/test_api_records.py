"""People, horses, saddles, visits through the program interface: as the pages have them, and never twice."""

import uuid as uuids
from collections.abc import Callable
from typing import Any

from api_cast import caller, key
from web_cast import Cast

from saddlebench.practice import services
from saddlebench.practice.enums import Subject
from saddlebench.practice.services import Entered


def test_a_horse_is_taken_on_once_however_often_it_is_sent(cast: Cast) -> None:
    fitter, chosen = caller(cast, "fitter"), key()
    values = {"label": "Bracken", "height_cm": "15.2 hh", "client": cast.here[Subject.CLIENT]}
    first = fitter.post("horses", {"uuid": chosen, "values": values})
    again = fitter.post("horses", {"uuid": chosen, "values": values})
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.json()["values"]["height_cm"] == 157.5
    assert first.json()["client"]["label"] == "Wilma Fernlea"
    assert fitter.get("horses?q=bracken").json()["total"] == 1


def test_what_cannot_be_right_is_answered_with_every_problem_and_its_field(cast: Cast) -> None:
    fitter = caller(cast, "fitter")
    wrong = {"label": "", "born_in": 1800, "microchip": "123", "wings": 2}
    answer = fitter.post("horses", {"values": wrong})
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    told = answer.json()
    assert told["type"] == "/api/#wrong-input"
    fields = {one["where"]["field"] for one in told["problems"]}
    assert {"wings", "Year of birth", "Microchip number"} <= fields
    assert all(one["what"] and one["cure"] for one in told["problems"])
    assert fitter.get("horses").json()["total"] == 1


def test_what_is_not_known_here_is_not_taken(cast: Cast) -> None:
    fitter = caller(cast, "fitter")
    answer = fitter.post("horses", {"values": {"label": "A"}, "practice_id": 2})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["where"]["field"] == "practice_id"
    broken = fitter.post("horses", b"{")
    assert (broken.status_code, broken.json()["type"]) == (400, "/api/#not-understood")


def test_a_value_that_somebody_else_changed_is_answered_with_both(cast: Cast) -> None:
    fitter, horse = caller(cast, "fitter"), cast.here[Subject.HORSE]
    seen = fitter.get(f"horses/{horse}").json()["revision"]
    theirs = Entered(field="colour", value="bay", key=uuids.uuid4(), seen=seen)
    services.enter(cast.actors["owner"], Subject.HORSE, uuids.UUID(horse), [theirs])
    mine = {"values": {"colour": "dark bay", "breed": "cob"}, "seen": seen, "key": key()}
    answer = fitter.patch(f"horses/{horse}", mine)
    assert answer.status_code == 409
    held = answer.json()["held"]
    assert [(one["field"], one["mine"], one["theirs"]) for one in held] == [("colour", "dark bay", "bay")]
    assert held[0]["other"]["entered_by"] == "Orla Invented"
    assert [one["field"] for one in answer.json()["saved"]] == ["breed"]
    now = fitter.get(f"horses/{horse}").json()
    assert (now["values"]["colour"], now["values"]["breed"]) == ("bay", "cob")
    applied = fitter.patch(f"horses/{horse}", {**mine, "seen": now["revision"], "key": key()})
    assert applied.json()["values"]["colour"] == "dark bay"


def test_an_entry_sent_again_with_its_key_counts_once(cast: Cast) -> None:
    fitter, horse = caller(cast, "fitter"), cast.here[Subject.HORSE]
    sent = {"values": {"colour": "grey"}, "seen": 0, "key": key()}
    first, again = (fitter.patch(f"horses/{horse}", sent).json() for _ in range(2))
    assert first == again
    rows = fitter.get(f"entries/{horse}?field=colour").json()
    assert [(one["value"], one["outcome"]) for one in rows] == [("grey", "saved")]


def test_a_visit_is_started_filled_stopped_and_given_back(cast: Cast) -> None:
    fitter, visit = caller(cast, "fitter"), key()
    started = fitter.post(
        "visits", {"uuid": visit, "on": "2026-05-01", "purpose": "first", "horse": cast.here[Subject.HORSE]}
    )
    assert started.status_code == 201
    tried = fitter.post(f"visits/{visit}/saddles", {"saddle": cast.here[Subject.SADDLE]}).json()["tried"]
    assert [one["saddle"]["uuid"] for one in tried] == [cast.here[Subject.SADDLE]]
    filled = fitter.patch(
        f"visits/{visit}",
        {"values": {"stops_vet_first": ["lame_or_unsteady"], "heart_girth_cm": 190}, "seen": 0},
    )
    assert filled.status_code == 200
    page = filled.json()
    assert page["answers"]["heart_girth_cm"]["value"] == 190
    assert page["stops"] == {"stops_vet_first": ["lame_or_unsteady"]}
    assert fitter.get(f"visits?horse={cast.here[Subject.HORSE]}").json()["total"] == 2


def test_advice_and_rechecks_are_kept_and_the_diary_has_them(cast: Cast) -> None:
    fitter, visit, horse = caller(cast, "fitter"), cast.here[Subject.VISIT], cast.here[Subject.HORSE]
    said = {"uuid": key(), "said": "Rest him for a week", "is_declined": True, "declined_by": "Wilma"}
    for _ in range(2):
        advice = fitter.post(f"visits/{visit}/advice", said).json()["advice"]
    assert [(one["said"], one["is_declined"]) for one in advice] == [("Rest him for a week", True)]
    due = fitter.post("rechecks", {"horse": horse, "on": "2026-09-01"}).json()
    listed = fitter.get("diary?first=2026-08-20&last=2026-09-10").json()["entries"]
    assert due["uuid"] in {one["uuid"] for one in listed}
    assert fitter.post(f"rechecks/{due['uuid']}/answer", {"visit": visit}).status_code == 200
    after = fitter.get("diary?first=2026-08-20&last=2026-09-10").json()["entries"]
    assert due["uuid"] not in {one["uuid"] for one in after}
    assert fitter.get("diary?first=2026-08-20&last=2020-09-10").status_code == 422


def test_withdrawing_is_undone(cast: Cast) -> None:
    fitter, horse = caller(cast, "fitter"), cast.here[Subject.HORSE]
    assert fitter.post(f"horses/{horse}/withdraw").json()["withdrawn_at"]
    assert fitter.get(f"horses/{horse}").status_code == 404
    assert horse in {one["uuid"] for one in fitter.get("withdrawn").json()}
    assert fitter.post(f"horses/{horse}/put-back").json()["withdrawn_at"] is None
    assert fitter.get(f"horses/{horse}").json()["label"] == "Juniper"


def test_a_person_is_erased_only_by_their_name(cast: Cast) -> None:
    owner, client = caller(cast, "owner"), cast.here[Subject.CLIENT]
    assert owner.post(f"clients/{client}/erase", {"name": "Wilma"}).status_code == 422
    assert owner.get(f"clients/{client}").json()["label"] == "Wilma Fernlea"
    erased = owner.post(f"clients/{client}/erase", {"name": "Wilma Fernlea"})
    assert erased.status_code == 200
    assert erased.json()["counts"]
    assert owner.get(f"clients/{client}").status_code == 404


def test_search_finds_by_any_part_and_hides_people_from_the_workshop(cast: Cast) -> None:
    found = caller(cast, "reader").get("search?q=fernlea").json()
    assert (found["n_horses"], found["n_clients"], found["n_yards"]) == (1, 1, 1)
    hidden = caller(cast, "workshop").get("search?q=fernlea").json()
    assert (hidden["n_horses"], hidden["n_clients"], hidden["clients"]) == (0, 0, [])
    assert "Fernlea" not in str(caller(cast, "workshop").get(f"horses/{cast.here[Subject.HORSE]}").json())


def test_lists_go_out_and_come_in_as_tables(cast: Cast) -> None:
    fitter = caller(cast, "fitter")
    table = fitter.get("lists/people.csv")
    assert table["Content-Type"].startswith("text/csv")
    assert "Wilma Fernlea" in table.content.decode()
    more = "Name,Town\nHazel Invented,Dunmoor\n"
    assert fitter.send("POST", "lists/people.csv", more.encode()).json()["taken_on"] == 1
    assert fitter.send("POST", "lists/people.csv", more.encode()).json()["already_here"] == 1
    wrong = fitter.send("POST", "lists/people.csv", b"Name,E-mail\nX,not an address\n")
    assert wrong.status_code == 422
    assert wrong.json()["problems"][0]["where"]["row"] == 2
    assert fitter.get("lists/diary.ics").content.startswith(b"BEGIN:VCALENDAR")


def test_a_timeline_comes_by_the_page(cast: Cast) -> None:
    page = caller(cast, "reader").get(f"horses/{cast.here[Subject.HORSE]}/timeline").json()
    assert {one["subject"] for one in page["rows"]} == {"visit", "back", "saddle", "study"}
    assert (page["total"], page["page"], page["pages"]) == (len(page["rows"]), 1, 1)


def test_twice_the_records_take_as_many_queries(cast: Cast, count_queries: Callable[[], Any]) -> None:
    fitter, horse, client = caller(cast, "fitter"), cast.here[Subject.HORSE], cast.here[Subject.CLIENT]
    paths = (
        "me",
        "horses",
        f"horses/{horse}",
        f"horses/{horse}/timeline",
        "clients",
        f"clients/{client}",
        "saddles",
        f"saddles/{cast.here[Subject.SADDLE]}",
        "visits",
        f"visits/{cast.here[Subject.VISIT]}",
        "backs",
        f"backs/{cast.here[Subject.BACK]}",
        "studies",
        f"studies/{cast.here[Subject.STUDY]}",
        "photos",
        "search?q=a",
        "diary?first=2026-01-01&last=2026-12-31",
        "jobs",
        "withdrawn",
    )

    def counted() -> dict[str, int]:
        counts = {}
        for path in paths:
            with count_queries() as one:
                assert fitter.get(path).status_code == 200, path
            counts[path] = len(one)
        return counts

    counted()
    before = counted()
    for i in range(12):
        taken = fitter.post("horses", {"values": {"label": f"Many {i}", "client": client}}).json()["uuid"]
        fitter.post("visits", {"on": "2026-05-01", "purpose": "first", "horse": taken})
        fitter.post("visits", {"on": "2026-05-02", "purpose": "recheck", "horse": horse})
    after = counted()
    assert after == before
    assert max(after.values()) <= 15, after
