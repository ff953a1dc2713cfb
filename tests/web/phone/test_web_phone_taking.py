"""What a phone kept, taken in: once, in order, nobody's value lost. Every horse and person is invented."""

import base64
import gzip
import hashlib
import json
import uuid as uuids
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from PIL import Image
from web_cast import Cast

from saddlebench.exchange.instruments import example_instrument, instrument_text
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.photos import photos_of
from saddlebench.practice.queries.standing import standings
from saddlebench.practice.services import Entered, SameMomentError
from saddlebench.web.phone.protocol import PROTOCOL
from saddlebench.web.phone.taking import MOST_ENTRIES

Entry = dict[str, Any]


def key() -> str:
    return str(uuids.uuid4())


def carried(client: Client) -> Any:
    answer = client.get("/phone/carried.json")
    assert answer.status_code == 200
    return answer.json()


def practice_of(client: Client) -> str:
    standing = standings(int(client.session["_auth_user_id"]))[0]
    return str(standing.practice_uuid)


def send(client: Client, entries: Sequence[Entry], **more: object) -> list[Any]:
    sent = {"protocol": PROTOCOL, "practice": practice_of(client), "entries": list(entries)}
    answer = client.post("/phone/sync/", json.dumps({**sent, **more}), content_type="application/json")
    assert answer.status_code == 200, answer.content
    results: list[Any] = answer.json()["results"]
    assert [one["key"] for one in results] == [one["key"] for one in entries]
    return results


def outcomes(results: Sequence[Any]) -> list[str]:
    return [one["outcome"] for one in results]


def begun_at_the_yard() -> tuple[list[Entry], str, str]:
    """A visit to a horse nobody has on record, its back begun, and a few readings."""
    horse, visit, capture = key(), key(), key()
    entries: list[Entry] = [
        {"key": key(), "kind": "horse", "uuid": horse, "label": "Sorrel"},
        {
            "key": key(),
            "kind": "visit",
            "uuid": visit,
            "on": "2026-03-02",
            "purpose": "first",
            "horse": horse,
        },
        {
            "key": key(),
            "kind": "capture",
            "uuid": capture,
            "horse": horse,
            "visit": visit,
            "measured_on": "2026-03-02",
            "instrument": instrument_text(example_instrument("chain-12x30")),
        },
        reading(capture, "s1r0/distance", -80.0),
        reading(capture, "s1r0/near/1", 12.5),
        value(visit, "coat", "winter"),
        value(visit, "stops_vet_first", ["lame_or_unsteady"]),
    ]
    return entries, visit, capture


def reading(uuid: str, field: str, held: object, seen: int = 0) -> Entry:
    return {"key": key(), "kind": "reading", "uuid": uuid, "field": field, "value": held, "seen": seen}


def value(uuid: str, field: str, held: object, seen: int = 0, **more: str) -> Entry:
    return {"key": key(), "kind": "value", "uuid": uuid, "field": field, "value": held, "seen": seen, **more}


def test_a_visit_begun_with_a_name_alone_is_here_once_however_often_it_is_sent(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, visit, capture = begun_at_the_yard()
    first = send(client, entries)
    assert outcomes(first) == ["saved"] * len(entries)
    again = send(client, entries)
    assert outcomes(again) == ["saved"] * len(entries)
    actor = cast.actors["fitter"]
    page = queries.visit_page(actor, uuids.UUID(visit))
    assert page.horse is not None
    assert page.horse.label == "Sorrel"
    assert page.answers["coat"].value == "winter"
    assert page.stops == {"stops_vet_first": ("lame_or_unsteady",)}
    held = queries.capture_page(actor, uuids.UUID(capture))
    assert held.values == {"s1r0/distance": -80.0, "s1r0/near/1": 12.5}
    assert held.revision == 2
    assert len(queries.find_horses(actor, "Sorrel").rows) == 1


def test_a_batch_cut_anywhere_and_sent_again_ends_the_same(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, _, capture = begun_at_the_yard()
    entries += [reading(capture, "s1r0/near/1", 13.0), reading(capture, "s1r0/near/1", 14.0)]
    for cut in range(1, len(entries)):
        send(client, entries[:cut])
    assert outcomes(send(client, entries)) == ["saved"] * len(entries)
    held = queries.capture_page(cast.actors["fitter"], uuids.UUID(capture))
    assert held.values["s1r0/near/1"] == 14.0
    assert held.revision == 4


def test_ones_own_later_value_is_no_conflict_with_ones_own_earlier_one(cast: Cast) -> None:
    client = cast.browser("fitter")
    visit = cast.here[Subject.VISIT]
    results = send(
        client, [value(visit, "coat", "winter"), value(visit, "coat", "clipped"), value(visit, "coat", None)]
    )
    assert outcomes(results) == ["saved", "saved", "saved"]
    assert queries.visit_page(cast.actors["fitter"], uuids.UUID(visit)).answers["coat"].value is None


def test_two_phones_on_one_visit_both_values_are_told_and_none_is_lost(cast: Cast) -> None:
    near, far = cast.browser("fitter"), cast.browser("owner")
    visit = cast.here[Subject.VISIT]
    seen = next(one for one in carried(near)["visits"] if one["uuid"] == visit)["revision"]
    assert outcomes(send(near, [value(visit, "girth_size_cm", 120.0, seen)])) == ["saved"]
    mine = value(visit, "girth_size_cm", 125.0, seen)
    held = send(far, [mine, value(visit, "coat", "summer", seen)])
    assert outcomes(held) == ["held", "saved"]
    assert held[0]["other"]["value"] == 120.0
    assert held[0]["other"]["by"] == "Fitter Invented"
    page = queries.visit_page(cast.actors["owner"], uuids.UUID(visit))
    assert page.answers["girth_size_cm"].value == 120.0
    assert [one.value for one in page.answers["girth_size_cm"].held] == [125.0]
    decided = send(far, [{**mine, "key": key(), "seen": held[0]["other"]["revision"]}])
    assert outcomes(decided) == ["saved"]
    assert queries.visit_page(cast.actors["owner"], uuids.UUID(visit)).answers["girth_size_cm"].value == 125.0


def test_a_saddle_is_tried_and_written_about_by_its_own_uuid(cast: Cast) -> None:
    client = cast.browser("fitter")
    visit, saddle = cast.here[Subject.VISIT], cast.here[Subject.SADDLE]
    entries = [
        {"key": key(), "kind": "try", "uuid": visit, "saddle": saddle},
        value(visit, "tree_squeeze", "doubtful", saddle=saddle),
        value(visit, "placed.clearance_front_top_mm", 42.0, saddle=saddle),
        {
            "key": key(),
            "kind": "advice",
            "uuid": key(),
            "visit": visit,
            "said": "Rest the horse.",
            "declined": True,
        },
    ]
    assert outcomes(send(client, entries)) == ["saved"] * 4
    page = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))
    tried = next(one for one in page.tried if str(one.saddle.uuid) == saddle)
    assert tried.answers["placed.clearance_front_top_mm"].value == 42.0
    assert tried.stops == {"stops_do_not_ride": ("tree_in_doubt",)}
    assert [(one.said, one.is_declined) for one in page.advice] == [("Rest the horse.", True)]


def test_what_is_refused_says_why_and_stops_nothing_else(cast: Cast) -> None:
    client = cast.browser("fitter")
    visit, theirs = cast.here[Subject.VISIT], cast.elsewhere[Subject.VISIT]
    entries: list[Entry] = [
        value(visit, "girth_size_cm", 9000.0),
        value(visit, "coat", "winter"),
        value(visit, "no_such_field", 1),
        value(theirs, "coat", "winter"),
        {"key": key(), "kind": "poem", "uuid": visit},
        {"key": key(), "kind": "visit", "uuid": key(), "on": "yesterday", "purpose": "first"},
        value(visit, "cold_backed", True),
    ]
    results = send(client, entries)
    assert outcomes(results) == ["refused", "saved", "refused", "refused", "refused", "refused", "saved"]
    assert "outside" in results[0]["problems"][0]["what"]
    assert all(one["problems"] for one in results if one["outcome"] == "refused")
    page = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))
    assert (page.answers["coat"].value, page.answers["cold_backed"].value) == ("winter", True)
    assert page.answers["girth_size_cm"].value is None


def test_an_entry_of_newer_pages_is_refused_in_words_and_stops_nothing(cast: Cast) -> None:
    client, visit = cast.browser("fitter"), cast.here[Subject.VISIT]
    newer = {**value(visit, "coat", "winter"), "protocol": PROTOCOL + 1}
    unknown = {"key": key(), "kind": "poem", "uuid": visit, "protocol": PROTOCOL + 1}
    results = send(client, [newer, unknown, {**value(visit, "cold_backed", True), "protocol": PROTOCOL}])
    assert outcomes(results) == ["refused", "refused", "saved"]
    for one in results[:2]:
        assert one["problems"] == [
            {
                "what": "The entry was made with the pages of a newer program",
                "cure": "It stays on the phone, and is taken by a newer program.",
            }
        ]
    answers = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit)).answers
    assert (answers["coat"].value, answers["cold_backed"].value) == (None, True)


def test_the_page_says_which_version_it_is_of_and_the_program_the_same(cast: Cast) -> None:
    client = cast.browser("fitter")
    page = client.get("/phone/").content.decode()
    told = carried(client)
    assert f'data-stamp="{told["stamp"]}" data-protocol="{PROTOCOL}"' in page
    assert told["protocol"] == PROTOCOL


def test_a_finished_back_takes_no_reading_and_the_phone_is_told(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, _, capture = begun_at_the_yard()
    send(client, entries)
    services.finish_capture(
        cast.actors["fitter"],
        uuids.UUID(capture),
        Document(text='{"format": "saddlebench back record", "version": 1}'),
    )
    result = send(client, [reading(capture, "s1r0/near/2", 3.0)])[0]
    assert result["outcome"] == "refused"
    assert "finished" in result["problems"][0]["what"]


@pytest.mark.parametrize(
    ("more", "status", "words"),
    [
        ({"protocol": PROTOCOL + 1}, 409, "older than the pages"),
        ({"protocol": 0}, 409, "older than the pages"),
        ({"protocol": True}, 409, "older than the pages"),
        ({"practice": str(uuids.uuid4())}, 409, "another practice"),
        ({"entries": "none"}, 400, "cannot be read"),
        ({"entries": [{}] * (MOST_ENTRIES + 1)}, 400, "cannot be read"),
    ],
)
def test_what_cannot_be_taken_is_refused_whole_in_words(
    cast: Cast, more: dict[str, object], status: int, words: str
) -> None:
    client = cast.browser("fitter")
    practice = practice_of(client)
    visit = cast.here[Subject.VISIT]
    sent = {"protocol": PROTOCOL, "practice": practice, "entries": [value(visit, "coat", "winter")], **more}
    answer = client.post("/phone/sync/", json.dumps(sent), content_type="application/json")
    assert answer.status_code == status
    assert words in answer.json()["said"]
    assert queries.visit_page(cast.actors["fitter"], uuids.UUID(visit)).answers["coat"].value is None


@pytest.mark.parametrize("body", ["", "[]", "{", '"x"', "{}", "\x00"])
def test_a_body_that_is_no_object_is_refused(cast: Cast, body: str) -> None:
    answer = cast.browser("fitter").post("/phone/sync/", body, content_type="application/json")
    assert answer.status_code == 400


def test_packed_entries_are_taken_and_a_bomb_is_not(cast: Cast) -> None:
    client, visit = cast.browser("fitter"), cast.here[Subject.VISIT]
    sent = {
        "protocol": PROTOCOL,
        "practice": practice_of(client),
        "entries": [value(visit, "coat", "winter")],
    }

    def post(body: bytes) -> Any:
        packed = {"Content-Encoding": "gzip"}
        return client.post("/phone/sync/", body, content_type="application/json", headers=packed)

    answer = post(gzip.compress(json.dumps(sent).encode()))
    assert outcomes(answer.json()["results"]) == ["saved"]
    assert post(b"not packed at all").status_code == 400
    assert post(gzip.compress(b" " * (64 << 20) + json.dumps(sent).encode())).status_code == 400


@pytest.mark.parametrize(
    ("who", "status"), [("reader", 403), ("workshop", 403), ("nobody", 401), ("owner", 400)]
)
def test_who_may_not_fill_in_a_visit_sends_nothing(cast: Cast, who: str, status: int) -> None:
    answer = cast.browser(who).post("/phone/sync/", "{}", content_type="application/json")
    assert answer.status_code == status


def test_sending_needs_the_pages_own_word(cast: Cast) -> None:
    client = cast.browser("fitter", checks_forms=True)
    assert client.post("/phone/sync/", "{}", content_type="application/json").status_code == 403
    word = carried(client)["form"]
    told = client.post("/phone/sync/", "{}", content_type="application/json", headers={"X-CSRFToken": word})
    assert told.status_code == 400


def test_another_practices_records_are_not_carried(cast: Cast) -> None:
    text = cast.browser("other").get("/phone/carried.json").content.decode()
    assert "Thistle" in text
    assert "Juniper" not in text
    assert cast.here[Subject.VISIT] not in text


def test_the_shell_holds_nothing_of_anybody(cast: Cast) -> None:
    mine, nobodys = cast.browser("owner").get("/phone/"), cast.browser("nobody").get("/phone/")
    assert mine.content == nobodys.content
    assert nobodys.status_code == 200
    manifest = json.loads(cast.browser("nobody").get("/phone.webmanifest").content)
    assert manifest["start_url"] == "/phone/"
    assert {one["sizes"] for one in manifest["icons"]} == {"192x192", "512x512"}


# ── photos ────────────────────────────────────────────────────


def picture(shade: int = 90) -> bytes:
    image = Image.new("RGB", (1200, 900), (shade, 120, 90))
    for x in range(0, 1200, 40):
        image.paste((230, 230, 220), (x, 0, x + 20, 900))
    made = BytesIO()
    image.save(made, "JPEG", quality=85)
    return made.getvalue()


def send_photo(client: Client, uuid: str, visit: str, content: bytes, *, piece: int = 4000) -> int:
    """Send it from where the other side says it is; return how many pieces went."""
    have = client.get(f"/phone/photos/{uuid}/").json()["have"]
    n = 0
    while have < len(content):
        n += 1
        told = client.post(
            f"/phone/photos/{uuid}/piece/?from={have}",
            content[have : have + piece],
            content_type="application/octet-stream",
        ).json()
        assert told["have"] > have
        have = told["have"]
    about = {"sha256": hashlib.sha256(content).hexdigest(), "visit": visit, "shot": "near_side", "label": "x"}
    told = client.post(f"/phone/photos/{uuid}/whole/", json.dumps(about), content_type="application/json")
    assert told.json() == {"have": 0, "kept": True}
    return n


def test_a_photo_cut_off_goes_on_where_it_was_and_counts_once(cast: Cast) -> None:
    client = cast.browser("fitter")
    uuid, visit, content = key(), cast.here[Subject.VISIT], picture()
    first = client.post(
        f"/phone/photos/{uuid}/piece/?from=0", content[:4000], content_type="application/octet-stream"
    )
    assert first.json() == {"have": 4000, "kept": False}
    # The answer was lost, and the piece comes again: nothing is doubled.
    again = client.post(
        f"/phone/photos/{uuid}/piece/?from=0", content[:4000], content_type="application/octet-stream"
    )
    assert again.json() == {"have": 4000, "kept": False}
    assert send_photo(client, uuid, visit, content) == -(-(len(content) - 4000) // 4000)
    assert send_photo(client, uuid, visit, b"") == 0
    kept = [one for one in photos_of(cast.actors["fitter"], visit=uuids.UUID(visit)) if str(one.uuid) == uuid]
    assert [(one.shot, one.original_sha256) for one in kept] == [
        ("near_side", hashlib.sha256(content).hexdigest())
    ]
    folder = Path(settings.SADDLEBENCH_HOME) / "phone-pieces"
    assert list(folder.rglob(f"{uuid}.part")) == []


def test_a_photo_that_is_not_what_the_phone_has_is_sent_anew(cast: Cast) -> None:
    client = cast.browser("fitter")
    uuid, visit, content = key(), cast.here[Subject.VISIT], picture()
    client.post(f"/phone/photos/{uuid}/piece/?from=0", b"rubbish", content_type="application/octet-stream")
    about = {"sha256": hashlib.sha256(content).hexdigest(), "visit": visit}
    told = client.post(f"/phone/photos/{uuid}/whole/", json.dumps(about), content_type="application/json")
    assert told.status_code == 409
    assert told.json() == {"have": 0, "kept": False}
    send_photo(client, uuid, visit, content, piece=100_000)


def test_a_photo_of_a_visit_that_is_not_here_waits(cast: Cast) -> None:
    client = cast.browser("fitter")
    uuid, content = key(), picture()
    client.post(f"/phone/photos/{uuid}/piece/?from=0", content, content_type="application/octet-stream")
    for visit in (key(), cast.elsewhere[Subject.VISIT]):
        about = {"sha256": hashlib.sha256(content).hexdigest(), "visit": visit}
        told = client.post(f"/phone/photos/{uuid}/whole/", json.dumps(about), content_type="application/json")
        assert told.status_code == 404
    assert client.get(f"/phone/photos/{uuid}/").json() == {"have": len(content), "kept": False}


# ── the file ──────────────────────────────────────────────────


def saved_file(
    client: Client, entries: Sequence[Entry], photos: Sequence[tuple[str, str, bytes]] = ()
) -> bytes:
    head = {
        "format": "saddlebench unsent entries",
        "version": PROTOCOL,
        "practice": practice_of(client),
        "entries": len(entries),
        "photos": len(photos),
    }
    lines: list[object] = [head, *entries]
    lines += [
        {
            "uuid": uuid,
            "visit": visit,
            "sha256": hashlib.sha256(content).hexdigest(),
            "photo": base64.b64encode(content).decode(),
        }
        for uuid, visit, content in photos
    ]
    return "".join(json.dumps(line) + "\n" for line in lines).encode()


def read_in(client: Client, content: bytes) -> tuple[int, str]:
    file = BytesIO(content)
    file.name = "saddlebench-unsent-2026-03-02.jsonl"
    answer = client.post("/phone/read-in/", {"file": file})
    return answer.status_code, answer.content.decode()


def test_a_saved_file_is_read_in_once_before_or_after_it_was_sent(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, visit, capture = begun_at_the_yard()
    send(client, entries[:4])
    file = saved_file(client, entries, [(key(), visit, picture())])
    for _ in range(2):
        status, page = read_in(client, file)
        assert status == 200
        assert f"Entries of the file that are here: {len(entries)}. Photos: 1." in page
    actor = cast.actors["fitter"]
    assert queries.capture_page(actor, uuids.UUID(capture)).revision == 2
    assert len(photos_of(actor, visit=uuids.UUID(visit))) == 1


def test_a_cut_file_gives_what_it_holds_and_says_what_is_missing(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, _, capture = begun_at_the_yard()
    file = saved_file(client, entries)
    status, page = read_in(client, file[: file.rindex(b'"stops_vet_first"')])
    assert status == 200
    assert "cut" in page
    assert "not in the file" in page
    assert queries.capture_page(cast.actors["fitter"], uuids.UUID(capture)).revision == 2


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda _: b"", "no file of unsent entries"),
        (lambda _: b"\xff\xfe\x00rubbish", "no file of unsent entries"),
        (lambda file: file.replace(b'"version": 1', b'"version": 2'), "newer version"),
        (lambda file: file.replace(b'"entries": 7', b'"entries": "x"'), "no file of unsent entries"),
    ],
)
def test_another_file_is_refused_before_anything_is_taken_in(cast: Cast, spoil: Any, words: str) -> None:
    client = cast.browser("fitter")
    entries, visit, _ = begun_at_the_yard()
    status, page = read_in(client, spoil(saved_file(client, entries)))
    assert status == 422
    assert words in page
    with pytest.raises(services.NotFoundError):
        queries.visit_page(cast.actors["fitter"], uuids.UUID(visit))


def test_a_file_of_another_practice_is_refused(cast: Cast) -> None:
    entries, _, _ = begun_at_the_yard()
    file = saved_file(cast.browser("other"), entries)
    status, page = read_in(cast.browser("fitter"), file)
    assert status == 422
    assert "another practice" in page


def test_conflicts_of_a_file_are_shown_with_the_other_value(cast: Cast) -> None:
    client, visit = cast.browser("fitter"), cast.here[Subject.VISIT]
    file = saved_file(client, [value(visit, "girth", "long, leather")])
    services.enter(
        cast.actors["owner"],
        Subject.VISIT,
        uuids.UUID(visit),
        [Entered(field="girth", value="short, felt", key=uuids.uuid4(), seen=0)],
    )
    status, page = read_in(client, file)
    assert status == 200
    assert "short, felt" in page
    assert "Orla Invented" in page


def test_a_phone_that_sends_the_same_twice_at_one_moment_is_not_refused(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries, _, _ = begun_at_the_yard()
    met: list[str] = []
    real = services.start_capture

    def meets_once(*given: Any, **more: Any) -> Any:
        if not met:
            met.append("another request was there first")
            raise SameMomentError
        return real(*given, **more)

    monkeypatch.setattr(services, "start_capture", meets_once)
    assert set(outcomes(send(cast.browser("fitter"), entries))) == {"saved"}
    assert met


def test_a_back_begun_on_a_phone_is_gone_on_with_from_its_visit(cast: Cast) -> None:
    client = cast.browser("fitter")
    entries, visit, capture = begun_at_the_yard()
    send(client, entries)
    shown = client.get(f"/visits/{visit}/step/back/").content.decode()
    assert f'href="/measure/{capture}/">Go on: ' in shown
    other, _, _ = begun_at_the_yard()
    send(client, other)
    assert client.get(f"/visits/{visit}/step/back/").content.decode().count("Go on: ") == 1
