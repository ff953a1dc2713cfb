"""What was drawn on a photo on the phone: comes with it, counts once, is refused where it is no mark."""

import base64
import hashlib
import json
import uuid as uuids
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from PIL import Image
from web_cast import Cast

from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.photos import photo
from saddlebench.practice.queries.standing import standings
from saddlebench.practice.services.photos import draw_on_photo

LINE: dict[str, Any] = {"kind": "line", "points": [[0.1, 0.2], [0.9, 0.25]]}
KNOWN: dict[str, Any] = {"kind": "known", "points": [[0.1, 0.8], [0.5, 0.8]], "known_mm": 300}


def mark(like: dict[str, Any], **other: Any) -> dict[str, Any]:
    return {"key": str(uuids.uuid4()), **like, **other}


def picture() -> bytes:
    image = Image.new("RGB", (1200, 900), (90, 120, 90))
    for x in range(0, 1200, 40):
        image.paste((230, 230, 220), (x, 0, x + 20, 900))
    made = BytesIO()
    image.save(made, "JPEG", quality=85)
    return made.getvalue()


class Sent:
    """A photo whose bytes are here, and that is told of as often as a test likes."""

    def __init__(self, cast: Cast) -> None:
        self.client: Client = cast.browser("fitter")
        self.actor = cast.actors["fitter"]
        self.uuid, self.visit, self.content = uuids.uuid4(), cast.here[Subject.VISIT], picture()
        address = f"/phone/photos/{self.uuid}/piece/?from=0"
        self.client.post(address, self.content, content_type="application/octet-stream")

    def told(self, drawn: object) -> Any:
        about = {
            "sha256": hashlib.sha256(self.content).hexdigest(),
            "visit": self.visit,
            "shot": "near_side",
            "drawn": drawn,
        }
        address = f"/phone/photos/{self.uuid}/whole/"
        return self.client.post(address, json.dumps(about), content_type="application/json")

    @property
    def kinds(self) -> list[object]:
        return [one["kind"] for one in photo(self.actor, self.uuid).drawn]


@pytest.fixture
def sent(cast: Cast) -> Sent:
    return Sent(cast)


def test_marks_come_with_the_photo_and_count_once(sent: Sent) -> None:
    drawn = [mark(LINE), mark(KNOWN)]
    for _ in range(2):
        assert sent.told(drawn).json() == {"have": 0, "kept": True}
        assert sent.kinds == ["line", "known"]
    held = photo(sent.actor, sent.uuid).drawn
    assert held[0]["points"] == LINE["points"]
    assert held[1]["known_mm"] == 300
    page = sent.client.get(f"/photos/{sent.uuid}/").content.decode()
    assert "300 mm known" in page


def test_what_was_cut_off_between_photo_and_marks_is_made_good(sent: Sent) -> None:
    assert sent.told([]).status_code == 200
    assert sent.kinds == []
    assert sent.told([mark(LINE)]).status_code == 200
    assert sent.kinds == ["line"]


def test_what_others_drew_meanwhile_stays(sent: Sent) -> None:
    sent.told([])
    draw_on_photo(sent.actor, sent.uuid, "line", [(0.2, 0.2), (0.3, 0.9)], key=uuids.uuid4())
    sent.told([mark(LINE)])
    assert sent.kinds == ["line", "line"]


@pytest.mark.parametrize(
    "wrong",
    [
        {"points": [[0.1, 0.2]]},
        {"points": [[0.1, 0.2], [1.4, 0.2]]},
        {"points": [[0.1, 0.2], [0.1, 0.2]]},
        {"points": "somewhere"},
        {"points": [[float("nan"), 0.2], [0.3, 0.2]]},
        {"kind": "circle"},
        {"kind": "known", "known_mm": -4},
        {"key": "not-a-key"},
    ],
)
def test_a_mark_that_is_none_is_refused_in_words_before_anything_is_written(
    sent: Sent, wrong: dict[str, Any]
) -> None:
    answer = sent.told([mark(LINE, **wrong)])
    assert answer.status_code == 422
    assert len(answer.json()["said"]) > 20
    assert sent.client.get(f"/phone/photos/{sent.uuid}/").json()["kept"] is False
    assert sent.told([mark(LINE)]).status_code == 200


@pytest.mark.parametrize("drawn", [None, "x", 3, {}])
def test_no_list_of_marks_is_no_mark(sent: Sent, drawn: object) -> None:
    assert sent.told(drawn).status_code == 200
    assert sent.kinds == []


def test_a_saved_file_brings_them_too(cast: Cast) -> None:
    client, actor = cast.browser("fitter"), cast.actors["fitter"]
    uuid, content = uuids.uuid4(), picture()
    head = {
        "format": "saddlebench unsent entries",
        "version": 1,
        "practice": str(standings(actor.user_id)[0].practice_uuid),
        "entries": 0,
        "photos": 2,
    }
    good = {
        "uuid": str(uuid),
        "visit": cast.here[Subject.VISIT],
        "sha256": hashlib.sha256(content).hexdigest(),
        "photo": base64.b64encode(content).decode(),
        "drawn": [mark(LINE)],
    }
    bad = {**good, "uuid": str(uuids.uuid4()), "drawn": [mark(LINE, kind="circle")]}
    file = BytesIO("".join(json.dumps(one) + "\n" for one in (head, good, bad)).encode())
    file.name = "saddlebench-unsent-2026-03-02.jsonl"
    page = client.post("/phone/read-in/", {"file": file}).content.decode()
    assert "Entries of the file that are here: 0. Photos: 1." in page
    assert "no kind of mark" in page
    assert [one["kind"] for one in photo(actor, uuid).drawn] == ["line"]
