"""Begun and not finished, over the interface: readings one by one, a saddle's numbers, one thing tried."""

import datetime as dt
import uuid as uuids
from typing import get_args

import numpy as np
import pytest
from api_cast import Caller, caller, key
from study_cast import Checked, record_checked
from web_cast import EVERYONE, Cast

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.shapes import PLAIN
from saddlebench.exchange.instruments import example_instrument, instrument_text
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import SaddleDraft, SaddleVersion, StudyVersion
from saddlebench.web.capture.api_drafts import FamilyName
from saddlebench.web.capture.readings import values_of_readings
from saddlebench.web.capture.saddle_fields import MAIN

NUMBERS = {
    "tree.width": "255,5",
    "tree.depth": "95",
    "tree.angle": "88",
    "tree.rise": "60",
    "pad1.made_of": "wool felt",
    "pad1.thickness": "12",
}


@pytest.fixture
def saddle(cast: Cast) -> str:
    row = services.take_on_saddle(cast.actors["fitter"], {"label": "Dunlin", "family": "panelled"})
    return str(row.uuid)


def whole_back() -> dict[str, Value]:
    """Return every reading of an invented back that was measured well."""
    tool = example_instrument("comb-24x15-foot")
    found = measured_at(PLAIN, tool, (0.0, 100.0, 200.0, 300.0, 400.0), np.random.default_rng(7))
    values = values_of_readings(tool, found)
    marks = {"withers": -20, "lowest": 235, "last_rib": 395, "shoulder_left": 2, "shoulder_right": -3}
    return {**values, **{f"mark/{mark}": float(place) for mark, place in marks.items()}}


def started(cast: Cast, who: str = "fitter") -> str:
    """Begin measuring a back in somebody's own practice, and return its name."""
    invented = cast.elsewhere if who == "other" else cast.here
    tool = Document(text=instrument_text(example_instrument("comb-24x15-foot")))
    horse = uuids.UUID(invented[Subject.HORSE])
    capture = services.start_capture(cast.actors[who], horse, tool, measured_on=dt.date(2026, 5, 4))
    return str(capture.uuid)


def test_a_capture_is_begun_fed_reading_by_reading_and_finished(cast: Cast) -> None:
    fitter, name = caller(cast, "fitter"), key()
    body = {
        "uuid": name,
        "horse": cast.here[Subject.HORSE],
        "instrument": "comb-24x15-foot",
        "measured_on": "2026-05-04",
    }
    assert [fitter.post("captures", body).status_code for _ in "12"] == [201, 200]
    asked = {one["name"] for part in fitter.get(f"captures/{name}/asked").json() for one in part["asked"]}
    early = fitter.post(f"captures/{name}/finish", {})
    assert early.status_code == 422
    assert early.json()["problems"]
    seen = 0
    for field, value in whole_back().items():
        kept = fitter.patch(f"captures/{name}/readings", {"values": {field: value}, "seen": seen})
        assert kept.status_code == 200, kept.content
        assert [one["outcome"] for one in kept.json()] == ["saved"]
        seen = kept.json()[-1]["revision"]
    page = fitter.get(f"captures/{name}").json()
    assert set(page["values"]) & asked
    assert page["revision"] == seen
    done = fitter.post(f"captures/{name}/finish", {})
    assert done.status_code == 200, done.content
    assert fitter.get(f"backs/{name}").json()["uuid"] == name
    late = fitter.patch(f"captures/{name}/readings", {"values": {"s0r0/near/1": 3}, "seen": seen})
    assert late.status_code == 409


CAPTURE_CALLS = [
    ("GET", "captures/{0}", {}, {"owner", "fitter", "workshop", "reader"}),
    ("GET", "captures/{0}/asked", {}, {"owner", "fitter", "workshop", "reader"}),
    ("PATCH", "captures/{0}/readings", {"values": {"s0r0/near/1": 3}, "seen": 0}, {"owner", "fitter"}),
    ("POST", "captures/{0}/finish", {}, {"owner", "fitter"}),
    ("POST", "captures/{0}/take-up", {}, {"owner", "fitter"}),
    ("POST", "captures/{0}/withdraw", {}, {"owner", "fitter"}),
]


@pytest.mark.parametrize(("method", "path", "body", "may"), CAPTURE_CALLS)
def test_a_capture_is_for_its_own_practice_and_roles(
    cast: Cast, method: str, path: str, body: dict[str, object], may: set[str]
) -> None:
    here, elsewhere = started(cast), started(cast, "other")
    for who in sorted(EVERYONE, key=lambda one: one == "owner"):
        code = caller(cast, who).send(method, path.format(here), body).status_code
        if who == "nobody":
            assert code == 401
        elif who == "other":
            assert code == 404
        elif who in may:
            assert code in {200, 404, 422}, who
        else:
            assert code == 403, who
    assert caller(cast, "owner").send(method, path.format(elsewhere), body).status_code == 404
    listed = caller(cast, "owner").get("captures").json()
    assert elsewhere not in {one["uuid"] for one in listed}


def test_a_saddles_numbers_are_kept_one_by_one_and_then_recorded(cast: Cast, saddle: str) -> None:
    fitter = caller(cast, "fitter")
    asked = fitter.get(f"saddles/{saddle}/draft/asked").json()
    assert {one["name"] for one in asked if one["required"]} <= set(NUMBERS)
    for field, text in NUMBERS.items():
        kept = fitter.patch(f"saddles/{saddle}/draft", {"fields": {field: text}})
        assert kept.status_code == 200, kept.content
    assert kept.json()["draft"]["texts"] == NUMBERS
    assert kept.json()["can_be_recorded"], kept.json()["problems"]
    back = fitter.patch(f"saddles/{saddle}/draft", {"fields": {"tree.angle": ""}}).json()
    assert not back["can_be_recorded"]
    assert [one["field"] for one in back["problems"]] == ["tree.angle"]
    refused = fitter.post(f"saddles/{saddle}/draft/record", {})
    assert refused.status_code == 422
    assert SaddleDraft.objects.count() == 1
    fitter.patch(f"saddles/{saddle}/draft", {"fields": {"tree.angle": "88"}})
    done = fitter.post(f"saddles/{saddle}/draft/record", {})
    assert done.status_code == 200, done.content
    assert done.json()["number"] == 1
    assert SaddleVersion.objects.get(saddle__uuid=saddle).sha256 == done.json()["sha256"]
    assert fitter.get(f"saddles/{saddle}/drafts").json() == []
    assert fitter.post(f"saddles/{saddle}/draft/record", {}).status_code == 422


def test_two_people_draft_beside_each_other_and_the_second_is_told(cast: Cast, saddle: str) -> None:
    fitter, owner = caller(cast, "fitter"), caller(cast, "owner")
    for one in (fitter, owner):
        one.patch(f"saddles/{saddle}/draft", {"fields": NUMBERS})
    owner.patch(f"saddles/{saddle}/draft", {"fields": {"tree.width": "260"}})
    drafts = fitter.get(f"saddles/{saddle}/drafts").json()
    assert [(one["is_mine"], one["texts"]["tree.width"]) for one in drafts] == [
        (True, "255,5"),
        (False, "260"),
    ]
    assert fitter.post(f"saddles/{saddle}/draft/record", {}).status_code == 200
    told = owner.post(f"saddles/{saddle}/draft/record", {"why": "Measured again"})
    assert told.status_code == 409
    assert (told.json()["mine"]["number"], told.json()["theirs"]["number"]) == (2, 1)


def test_every_family_can_be_named() -> None:
    assert set(get_args(FamilyName)) == set(MAIN)


def test_a_field_that_a_saddle_does_not_have_is_refused_by_name(cast: Cast, saddle: str) -> None:
    fitter = caller(cast, "fitter")
    answer = fitter.patch(f"saddles/{saddle}/draft", {"fields": {"bars.length": "500", "tree.width": "250"}})
    assert answer.status_code == 422
    assert "bars.length" in answer.content.decode()
    assert SaddleDraft.objects.count() == 0
    fitter.patch(f"saddles/{saddle}/draft", {"fields": {"tree.width": "250"}})
    assert fitter.send("DELETE", f"saddles/{saddle}/draft").json() == []
    assert SaddleDraft.objects.count() == 0


@pytest.mark.parametrize("who", ["workshop", "reader", "other", "nobody"])
def test_who_may_not_draft(cast: Cast, saddle: str, who: str) -> None:
    code = caller(cast, who).patch(f"saddles/{saddle}/draft", {"fields": {"tree.width": "250"}}).status_code
    wanted = {"workshop": 200, "reader": 403, "other": 404, "nobody": 401}
    assert code == wanted[who]


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def runs_of(checked: Checked) -> str:
    return f"studies/{checked.study}/runs/1"


def test_one_thing_is_changed_and_every_finding_told_before_and_after(cast: Cast, checked: Checked) -> None:
    reader, before = caller(cast, "reader"), StudyVersion.objects.count()
    ranges = {one["what"]: one for one in reader.get(f"{runs_of(checked)}/may-change").json()}
    assert set(ranges) == {"pad", "width", "place"}
    assert ranges["width"]["low_mm"] < 0.0 < ranges["width"]["high_mm"]
    wider = reader.get(f"{runs_of(checked)}/changed?what=width&by=10")
    assert wider.status_code == 200, wider.content
    told = wider.json()
    assert told["words"] == "Front arch 10 mm wider"
    assert any(one["differs"] for one in told["rows"])
    assert all(
        one["differs"] == (one["before"] != one["after"] or one["before_verdict"] != one["after_verdict"])
        for one in told["rows"]
    )
    assert told["cautions"]
    assert StudyVersion.objects.count() == before
    page = cast.browser("reader").get(f"/checks/{checked.study}/change/?what=width&by=10").content.decode()
    changed = next(one for one in told["rows"] if one["differs"])
    assert changed["after"] in page
    picture = reader.get(f"{runs_of(checked)}/changed/picture?what=width&by=10&name=load")
    assert picture["Content-Type"] == "image/svg+xml"


def test_what_cannot_be_changed_says_why(cast: Cast, checked: Checked) -> None:
    fitter: Caller = caller(cast, "fitter")
    for wrong in ("what=width&by=59", "what=saddle&by=5", "what=pad&by=1e9", "what=pad&by=nan", "what=pad"):
        for end in ("changed", "changed/picture"):
            answer = fitter.get(f"{runs_of(checked)}/{end}?{wrong}")
            assert answer.status_code == 422, wrong
            assert answer.json()["problems"]
    assert fitter.get(f"studies/{checked.study}/runs/7/changed?what=pad&by=3").status_code == 404
    assert caller(cast, "other").get(f"{runs_of(checked)}/changed?what=pad&by=3").status_code == 404


def test_own_words_are_chosen_over_the_interface(cast: Cast) -> None:
    reader = caller(cast, "reader")
    assert reader.put("me/words", {"vocabulary": "american"}).json()["vocabulary"] == "american"
    assert reader.get("me").json()["vocabulary"] == "american"
    assert caller(cast, "fitter").get("me").json()["vocabulary"] == "british"
    assert reader.put("me/words", {"vocabulary": None}).json()["vocabulary"] == "british"
    assert reader.put("me/words", {"vocabulary": "welsh"}).status_code == 422
