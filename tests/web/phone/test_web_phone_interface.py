"""The file of unsent entries, taken in over the interface for other programs."""

import json
import uuid as uuids

import pytest
from django.test import Client
from web_cast import Cast

from saddlebench.practice import queries
from saddlebench.practice.enums import Role, Subject
from saddlebench.practice.queries.standing import standings
from saddlebench.practice.services.tokens import make_token


def told(cast: Cast, who: str, content: bytes) -> tuple[int, dict[str, object]]:
    secret = make_token(cast.actors["owner"], "phone test", Role(who)).secret
    answer = Client().post(
        "/api/v1/phone/unsent",
        content,
        content_type="application/jsonl",
        headers={"Authorization": f"Bearer {secret}"},
    )
    return answer.status_code, json.loads(answer.content)


def file_of(cast: Cast, value: object) -> bytes:
    practice = str(standings(cast.actors["owner"].user_id)[0].practice_uuid)
    head = {
        "format": "saddlebench unsent entries",
        "version": 1,
        "practice": practice,
        "entries": 1,
        "photos": 0,
    }
    entry = {
        "key": str(uuids.uuid4()),
        "kind": "value",
        "uuid": cast.here[Subject.VISIT],
        "field": "heart_girth_cm",
        "value": value,
        "seen": 0,
    }
    return f"{json.dumps(head)}\n{json.dumps(entry)}\n".encode()


def test_a_file_is_taken_in_and_counted(cast: Cast) -> None:
    file = file_of(cast, 181.5)
    assert told(cast, "fitter", file) == (
        200,
        {"entries": 1, "counted": {"saved": 1}, "photos": 0, "held": [], "problems": []},
    )
    assert told(cast, "fitter", file)[1]["counted"] == {"saved": 1}
    page = queries.visit_page(cast.actors["owner"], uuids.UUID(cast.here[Subject.VISIT]))
    assert page.answers["heart_girth_cm"].value == 181.5


def test_what_is_refused_is_named(cast: Cast) -> None:
    status, found = told(cast, "owner", file_of(cast, 9000))
    assert status == 200
    assert found["counted"] == {"refused": 1}
    problems = found["problems"]
    assert isinstance(problems, list)
    assert "9000 cm is outside" in problems[0]["what"]


@pytest.mark.parametrize(("who", "status"), [("reader", 403), ("workshop", 403)])
def test_who_may_not_fill_in_a_visit_brings_none(cast: Cast, who: str, status: int) -> None:
    assert told(cast, who, file_of(cast, 180))[0] == status


def test_something_else_is_refused_in_words(cast: Cast) -> None:
    status, found = told(cast, "owner", b"a picture, perhaps")
    assert status == 422
    assert "no file of unsent entries" in json.dumps(found)


def test_everything_that_stops_a_fitting_comes_along_with_its_words(cast: Cast) -> None:
    carried = cast.browser("fitter").get("/phone/carried.json").json()
    fields, rules = carried["fields"], carried["stop_rules"]
    assert len(rules["visit"]) == 5
    assert len(rules["saddle"]) == 11
    for kind, known in (("visit", fields["visit"]), ("saddle", fields["saddle"])):
        for rule in rules[kind]:
            assert rule["field"] in known
            assert rule["cause"] in {choice for choice, _ in fields["visit"][rule["kind"]]["choices"]}
    # Every field of every step is there for who may see people, with the words of its choices.
    asked = {name for step in carried["steps"] for group in step["groups"] for name in group["fields"]}
    assert asked == set(fields["visit"])
