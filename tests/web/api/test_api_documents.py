"""Backs, saddles, their versions as documents: kept byte for byte, never written over, both told at once."""

import hashlib
import json

import pytest
from api_cast import Caller, caller, key
from study_cast import documents
from web_cast import Cast

from saddlebench.practice.enums import Subject


@pytest.fixture
def fitter(cast: Cast) -> Caller:
    return caller(cast, "fitter")


def back_text() -> bytes:
    return documents()[0].text.encode()


def relabelled(text: bytes, label: str) -> bytes:
    return json.dumps({**json.loads(text), "label": label}).encode()


def test_a_back_is_recorded_once_and_given_back_byte_for_byte(cast: Cast, fitter: Caller) -> None:
    uuid, sent = key(), back_text()
    address = f"backs/{uuid}?horse={cast.here[Subject.HORSE]}&measured_on=2026-04-01&label=April"
    codes = [fitter.put(address, sent).status_code for _ in range(2)]
    assert codes == [201, 200]
    given = fitter.get(f"backs/{uuid}/document")
    assert given.content == sent
    assert given["ETag"] == f'"{hashlib.sha256(sent).hexdigest()}"'
    assert fitter.get(f"backs/{uuid}/document", **{"If-None-Match": given["ETag"]}).status_code == 304
    assert fitter.get(f"backs/{uuid}").json()["label"] == "April"
    listed = fitter.get(f"backs?horse={cast.here[Subject.HORSE]}").json()
    assert (listed["total"], listed["rows"][0]["uuid"]) == (2, uuid)


def test_a_uuid_given_to_another_back_is_a_conflict_that_tells_both(cast: Cast, fitter: Caller) -> None:
    uuid, sent = key(), back_text()
    address = f"backs/{uuid}?horse={cast.here[Subject.HORSE]}&measured_on=2026-04-01"
    fitter.put(address, sent)
    other = relabelled(sent, "another")
    answer = fitter.put(address, other)
    assert answer.status_code == 409
    told = answer.json()
    assert told["mine"]["sha256"] == hashlib.sha256(other).hexdigest()
    assert told["theirs"]["sha256"] == hashlib.sha256(sent).hexdigest()
    assert fitter.get(f"backs/{uuid}/document").content == sent


def test_a_uuid_of_another_practice_is_refused_and_nothing_told(cast: Cast, fitter: Caller) -> None:
    theirs = cast.elsewhere[Subject.BACK]
    address = f"backs/{theirs}?horse={cast.here[Subject.HORSE]}&measured_on=2026-04-01"
    answer = fitter.put(address, back_text())
    assert answer.status_code == 409
    assert "theirs" not in answer.json()
    assert caller(cast, "other").get(f"backs/{theirs}").json()["n_versions"] == 1


def test_two_corrections_at_once_both_stay_and_the_second_is_told(cast: Cast, fitter: Caller) -> None:
    uuid, sent = key(), back_text()
    fitter.put(f"backs/{uuid}?horse={cast.here[Subject.HORSE]}&measured_on=2026-04-01", sent)
    corrections = [relabelled(sent, "first"), relabelled(sent, "second")]
    first, second = (fitter.post(f"backs/{uuid}/record?seen=1&why=misread", one) for one in corrections)
    assert (first.status_code, second.status_code) == (201, 409)
    assert (second.json()["mine"]["number"], second.json()["theirs"]["number"]) == (3, 2)
    assert fitter.get(f"backs/{uuid}/versions/3").content == corrections[1]
    assert fitter.get(f"backs/{uuid}/document").content == corrections[0]
    chosen = fitter.post(f"backs/{uuid}/current", {"number": 3}).json()
    assert [one["number"] for one in chosen if one["is_current"]] == [3]
    differing = fitter.get(f"backs/{uuid}/differences?before=2&after=3").json()
    assert differing == [{"place": "/label", "before": "first", "after": "second"}]
    again = fitter.post(f"backs/{uuid}/record?seen=1&why=misread", corrections[0])
    assert (again.status_code, again.json()["number"]) == (200, 2)


def test_a_saddles_record_follows_the_version_that_was_seen(cast: Cast, fitter: Caller) -> None:
    saddle, text = cast.here[Subject.SADDLE], documents()[1].text.encode()
    late = fitter.post(f"saddles/{saddle}/record?seen=0", text)
    assert [one["number"] for one in fitter.get(f"saddles/{saddle}/versions").json()] == [2, 1]
    assert (late.status_code, late.json()["theirs"]["number"]) == (409, 1)
    newer = relabelled(text, "measured again")
    assert fitter.post(f"saddles/{saddle}/record?seen=1&why=again", newer).json()["number"] == 3
    assert fitter.get(f"saddles/{saddle}").json()["current_number"] == 3


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (b"", "JSON"),
        (b"\xff\xfe", "UTF-8"),
        (b"{}", ""),
        (b'{"format": "saddlebench saddle record", "version": 1}', ""),
        (b'{"format": "saddlebench back record", "version": 99}', ""),
        (b"[" * 5000, ""),
    ],
)
def test_what_is_no_back_is_refused_whole(cast: Cast, fitter: Caller, sent: bytes, said: str) -> None:
    uuid = key()
    answer = fitter.put(f"backs/{uuid}?horse={cast.here[Subject.HORSE]}&measured_on=2026-04-01", sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert answer.json()["problems"][0]["cure"]
    assert fitter.get(f"backs/{uuid}").status_code == 404


def test_bodies_are_taken_up_to_a_limit(cast: Cast, fitter: Caller) -> None:
    horse = cast.here[Subject.HORSE]
    table = fitter.send("POST", "lists/people.csv", b"x" * 5_000_001)
    values = fitter.patch(f"horses/{horse}", {"values": {"note": "x" * (5 << 20)}, "seen": 0})
    for answer in (table, values):
        assert (answer.status_code, answer.json()["type"]) == (413, "/api/#too-large")
    assert fitter.get(f"horses/{horse}").json()["values"]["note"] is None


def test_answers_can_be_asked_about_again(cast: Cast, fitter: Caller) -> None:
    horse = f"horses/{cast.here[Subject.HORSE]}"
    first = fitter.get(horse)
    assert fitter.get(horse, **{"If-None-Match": first["ETag"]}).status_code == 304
    fitter.patch(horse, {"values": {"colour": "bay"}, "seen": 0})
    assert fitter.get(horse, **{"If-None-Match": first["ETag"]}).status_code == 200
    assert first["Saddlebench-Interface"] == "1"
    assert "private" in first["Cache-Control"]
