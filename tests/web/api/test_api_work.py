"""Photos, measuring and fit checks through the program interface."""

import hashlib
import io
import uuid as uuids

import pytest
from api_cast import Caller, caller, key
from django.db import transaction
from PIL import Image
from study_cast import documents, record_checked
from web_cast import Cast, Invented, do_waiting

from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Job
from saddlebench.practice.services.limits import set_own_limit


@pytest.fixture
def fitter(own_cast: Cast) -> Caller:
    return caller(own_cast, "fitter")


@pytest.fixture
def here(own_cast: Cast) -> Invented:
    return own_cast.here


def picture(colour: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return out.getvalue()


def test_a_photo_goes_in_and_comes_out_and_is_drawn_on(fitter: Caller, here: Invented) -> None:
    uuid, sent = key(), picture("brown")
    address = f"photos/{uuid}?visit={here[Subject.VISIT]}"
    first, again = fitter.put(address, sent), fitter.put(address, sent)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["original_sha256"] == hashlib.sha256(sent).hexdigest()
    assert first.json()["horse"]["label"] == "Juniper"
    file = fitter.get(f"photos/{uuid}/file")
    assert file["Content-Type"] == "image/jpeg"
    assert hashlib.sha256(b"".join(file.streaming_content)).hexdigest() == first.json()["sha256"]
    assert fitter.get(f"photos/{uuid}/small")["Content-Type"] == "image/jpeg"
    mark = {"kind": "known", "points": [[0.1, 0.5], [0.9, 0.5]], "known_mm": 400}
    drawn = fitter.put(f"photos/{uuid}/marks/{key()}", mark).json()["drawn"]
    assert (drawn[0]["kind"], drawn[0]["known_mm"]) == ("known", 400)
    assert fitter.send("DELETE", f"photos/{uuid}/marks/{drawn[0]['key']}").json()["drawn"] == []
    assert fitter.get(f"photos?visit={here[Subject.VISIT]}").json()["total"] == 1


def test_a_photos_uuid_given_to_another_is_a_conflict(fitter: Caller, here: Invented) -> None:
    address = f"photos/{key()}?horse={here[Subject.HORSE]}"
    fitter.put(address, picture("brown"))
    answer = fitter.put(address, picture("grey"))
    assert answer.status_code == 409
    assert answer.json()["mine"] != answer.json()["theirs"]


@pytest.mark.parametrize("sent", [b"", b"<svg/>", b"\xff\xd8\xff cut"])
def test_what_is_no_photo_is_refused(fitter: Caller, here: Invented, sent: bytes) -> None:
    answer = fitter.put(f"photos/{key()}?visit={here[Subject.VISIT]}", sent)
    assert (answer.status_code, answer.json()["type"]) == (422, "/api/#wrong-input")


def test_another_practices_photos_captures_and_instruments_are_not_there(
    own_cast: Cast, fitter: Caller, here: Invented
) -> None:
    photo, capture, instrument = key(), key(), key()
    fitter.put(f"photos/{photo}?visit={here[Subject.VISIT]}", picture("brown"))
    fitter.post("captures", begun(capture, here))
    described = next(one for one in fitter.get("instruments").json() if one["name"] == "comb-41x10")
    fitter.put(f"instruments/{instrument}", described["description"])
    other = caller(own_cast, "other")
    for path in (f"photos/{photo}", f"photos/{photo}/file", f"photos/{photo}/small", f"captures/{capture}"):
        mine = fitter.get(path)
        assert mine.status_code == 200
        mine.close()
        assert other.get(path).status_code == 404, path
    assert other.patch(f"photos/{photo}", {"shot": "", "note": "x"}).status_code == 404
    readings = {"values": {"s1r0/near/1": 1}, "seen": 0}
    assert other.patch(f"captures/{capture}/readings", readings).status_code == 404
    assert other.put(f"instruments/{instrument}", described["description"]).status_code == 409
    assert instrument not in {one["uuid"] for one in other.get("instruments").json()}
    assert instrument in {one["uuid"] for one in fitter.get("instruments").json()}


def begun(uuid: str, here: Invented) -> dict[str, str]:
    return {
        "uuid": uuid,
        "horse": here[Subject.HORSE],
        "instrument": "chain-12x30",
        "measured_on": "2026-05-01",
    }


def test_a_back_is_measured_reading_by_reading(fitter: Caller, here: Invented) -> None:
    uuid = key()
    codes = [fitter.post("captures", begun(uuid, here)).status_code for _ in range(2)]
    assert codes == [201, 200]
    planned = {"values": {"s1r0/distance": -80, "s2r0/distance": 0, "top/how": "heights"}, "seen": 0}
    assert fitter.patch(f"captures/{uuid}/readings", planned).status_code == 200
    asked = fitter.get(f"captures/{uuid}/asked").json()
    section = next(part for part in asked if part["key"] == "s1r0")
    first = section["asked"][0]["name"]
    kept = fitter.patch(f"captures/{uuid}/readings", {"values": {first: 12.5}, "seen": 0, "key": key()})
    assert [(one["field"], one["outcome"]) for one in kept.json()] == [(first, "saved")]
    page = fitter.get(f"captures/{uuid}").json()
    assert (page["values"][first], page["quality"]["can_be_recorded"]) == (12.5, False)
    refused = fitter.post(f"captures/{uuid}/finish", {})
    assert refused.status_code == 422
    assert refused.json()["problems"]
    stale = fitter.patch(f"captures/{uuid}/readings", {"values": {first: 13.0}, "seen": 0, "key": key()})
    assert (stale.status_code, stale.json()["held"][0]["theirs"]) == (409, 12.5)
    assert uuid in {one["uuid"] for one in fitter.get("captures").json()}


def question(fitter: Caller, here: Invented) -> dict[str, object]:
    back, text = key(), documents()
    horse = here[Subject.HORSE]
    fitter.put(f"backs/{back}?horse={horse}&measured_on=2026-04-01", text[0].text.encode())
    fitter.post(f"saddles/{here[Subject.SADDLE]}/record?seen=1", text[1].text.encode())
    choices = fitter.get(f"horses/{horse}/check-choices").json()
    return {
        "uuid": key(),
        "horse": horse,
        "back_version": next(one["uuid"] for one in choices["backs"] if one["measured_on"] == "2026-04-01"),
        "saddle_version": next(one["uuid"] for one in choices["saddles"] if one["is_current"]),
        "asked": {"rider_mass": 70, "pads": "no_pad"},
        "opinions": {"rocking": "fine"},
    }


def test_a_fit_check_is_asked_for_once_watched_and_stopped(
    own_cast: Cast, fitter: Caller, here: Invented
) -> None:
    sent = question(fitter, here)
    answers = [fitter.post("studies", sent) for _ in range(2)]
    assert [one.status_code for one in answers] == [202, 202]
    assert Job.objects.count() == 1
    job = fitter.get(f"jobs/{sent['uuid']}").json()
    assert (job["state"], job["is_over"]) == ("waiting", False)
    assert caller(own_cast, "other").get(f"jobs/{sent['uuid']}").status_code == 404
    assert caller(own_cast, "other").post(f"jobs/{sent['uuid']}/stop").status_code == 404
    assert caller(own_cast, "reader").post(f"jobs/{sent['uuid']}/stop").status_code == 403
    assert fitter.post(f"jobs/{sent['uuid']}/stop").json()["state"] == "stopped"
    assert fitter.post(f"jobs/{sent['uuid']}/again").json()["state"] == "waiting"


def test_what_a_fit_check_cannot_be_made_of_is_told_all_at_once(fitter: Caller, here: Invented) -> None:
    sent = question(fitter, here)
    wrong = {
        **sent,
        "back_version": str(uuids.uuid4()),
        "saddle_version": str(uuids.uuid4()),
        "visit": str(uuids.uuid4()),
        "asked": {"rider_mass": 900, "pads": "another_pad"},
        "opinions": {},
    }
    answer = fitter.post("studies", wrong)
    assert answer.status_code == 422
    fields = {one["where"]["field"] for one in answer.json()["problems"]}
    assert {"back_version", "saddle_version", "visit", "opinions", "Rider, dressed"} <= fields
    assert Job.objects.count() == 0


def test_a_run_is_seen_and_run_again(own_cast: Cast, fitter: Caller) -> None:
    run = f"studies/{record_checked(own_cast).study}/runs/1"
    seen = {name: fitter.get(f"{run}/picture?name={name}&width=phone") for name in ("overview", "findings")}
    for name, picture_of in seen.items():
        assert (picture_of.status_code, picture_of["Content-Type"]) == (200, "image/svg+xml"), name
        assert picture_of.content.lstrip().startswith((b"<?xml", b"<svg")), name
    assert len({one.content for one in seen.values()}) == 2
    section = fitter.get(f"{run}/picture?name=section&s=100")
    assert section.content != fitter.get(f"{run}/picture?name=section&s=200").content
    kept = fitter.get(f"{run}/picture?name=section&s=100", **{"If-None-Match": section["ETag"]})
    assert (kept.status_code, kept.content) == (304, b"")
    wrong = fitter.get(f"{run}/picture?state=canter")
    assert (wrong.status_code, wrong.json()["problems"][0]["where"]["field"]) == (422, "state")
    assert "halt" in wrong.json()["problems"][0]["cure"]
    for words in ("name=x", "s=3001", "width=wide"):
        assert fitter.get(f"{run}/picture?{words}").status_code == 422, words
    asked = fitter.post(f"{run}/again")
    assert (asked.status_code, asked.json()["state"]) == (202, "waiting")
    with transaction.atomic():
        do_waiting()
    job = fitter.get(f"jobs/{asked.json()['uuid']}").json()
    assert job["state"] == "done"
    assert job["said"].startswith("The same result, byte for byte")
    other = caller(own_cast, "other")
    assert other.get(f"{run}/picture").status_code == 404
    assert other.post(f"{run}/again").status_code == 404


def test_the_limits_and_the_tally_are_read(own_cast: Cast, fitter: Caller) -> None:
    before = {one["slug"]: one for one in fitter.get("limits").json()}
    assert not [one for one in before.values() if one["is_own"]]
    slug, limit = next((slug, one) for slug, one in before.items() if "fine_to" in one["ends"])
    ends = {
        **{name: str(end) for name, end in limit["ends"].items()},
        "fine_to": str(limit["ends"]["fine_to"] - 1),
    }
    set_own_limit(own_cast.actors["owner"], slug, ends)
    after = {one["slug"]: one for one in fitter.get("limits").json()}
    assert [one["slug"] for one in after.values() if one["is_own"]] == [slug]
    assert after[slug]["ends"]["fine_to"] == limit["ends"]["fine_to"] - 1
    assert after[slug]["default"] == limit["ends"]
    assert "Tussock" in after[slug]["whose"]
    assert not [one for one in caller(own_cast, "other").get("limits").json() if one["is_own"]]
    record_checked(own_cast)
    tally = {one["words"]: one for one in fitter.get("agreement").json()}
    assert tally["Rocking"]["compared"] == 1
    assert len(tally) == 3
