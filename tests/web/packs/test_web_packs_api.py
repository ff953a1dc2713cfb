"""Handing over by the program interface: made, given, linked to, checked and taken by other programs."""

import uuid as uuids
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from web_cast import Cast, do_waiting

from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Role, Subject
from saddlebench.practice.services.tokens import make_token
from support.packs import back_text

V1 = "/api/v1/"


class Program:
    """Another program with a token."""

    def __init__(self, cast: Cast, who: str) -> None:
        self.client = cast.browser("nobody")
        role = cast.actors[who].role
        secret = make_token(cast.actors[who], "test", Role(role)).secret
        self.headers = {"Authorization": f"Bearer {secret}"}

    def get(self, path: str, **more: str) -> object:
        return self.client.get(V1 + path, headers={**self.headers, **more})

    def post(self, path: str, given: object = None) -> object:
        return self.client.post(V1 + path, given or {}, "application/json", headers=self.headers)

    def send(self, path: str, content: bytes) -> object:
        return self.client.generic(
            "POST", V1 + path, content, "application/octet-stream", headers=self.headers
        )


@pytest.fixture
def home(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", tmp_path)
    return tmp_path


def test_a_pack_goes_from_one_practice_to_another(cast: Cast, home: Path) -> None:
    horse = uuids.UUID(cast.elsewhere[Subject.HORSE])
    back = services.record_back(
        cast.actors["other"], horse, Document(text=back_text()), measured_on=date(2026, 5, 3)
    )
    sender, fitter = Program(cast, "other"), Program(cast, "fitter")
    name = str(uuids.uuid4())
    asked = {"uuid": name, "backs": [str(back.version.back.uuid)], "message": "Hello", "reports": False}
    assert sender.post("packs", asked).status_code == 202
    do_waiting()
    shown = sender.get(f"packs/{name}").json()
    assert (shown["label"], shown["is_sealed"]) == ("Thistle", False)
    assert [one["uuid"] for one in sender.get("packs").json()] == [name]
    whole = b"".join(sender.get(f"packs/{name}/file").streaming_content)
    assert sender.get(f"packs/{name}/file", Range="bytes=5-9").content == whole[5:10]
    for path in (f"packs/{name}", f"packs/{name}/file"):
        assert fitter.get(path).status_code == 404
    for path in (f"packs/{name}/links", f"packs/{name}/discard"):
        assert fitter.post(path, {"days": 1}).status_code == 404

    checked = fitter.send("taken-packs/check", whole)
    assert checked.status_code == 200, checked.content
    told = checked.json()
    assert (told["key"], told["message"], told["uuid"]) == ("new", "Hello", name)
    assert {one["fate"] for one in told["items"]} == {"new"}
    assert told["fingerprint"] == sender.get("practice-key").json()["fingerprint"]
    refused = fitter.send("taken-packs", whole)
    assert refused.status_code == 409
    assert "not known here yet" in refused.json()["detail"]
    assert fitter.send("taken-packs", whole[:-5]).status_code == 422
    taken = fitter.send("taken-packs?trust=true", whole)
    assert taken.status_code == 200, taken.content
    records = {one["subject"]: one["uuid"] for one in taken.json()["records"]}
    assert set(records) == {"horse", "back"}
    assert fitter.send("taken-packs", whole).json()["uuid"] == taken.json()["uuid"]
    (origin,) = fitter.get(f"origins/{records['back']}").json()
    assert origin["sender"] == "Gorse Saddlery (invented)"
    assert sender.get(f"origins/{records['back']}").status_code == 404
    assert sender.get(f"taken-packs/{taken.json()['uuid']}").status_code == 404
    assert [one["label"] for one in fitter.get("partner-keys").json()] == ["Gorse Saddlery (invented)"]
    assert Program(cast, "reader").send("taken-packs/check", whole).status_code == 403
    bad = fitter.send("taken-packs?same=x", whole)
    assert bad.status_code == 422


def test_a_link_is_made_used_and_ended(cast: Cast, home: Path) -> None:
    sender = Program(cast, "other")
    name = str(uuids.uuid4())
    asked = {"uuid": name, "horses": [cast.elsewhere[Subject.HORSE]], "drawings": False, "reports": False}
    assert sender.post("packs", asked).status_code == 202
    do_waiting()
    made = sender.post(f"packs/{name}/links", {"days": 2, "most_uses": 1})
    assert made.status_code == 201
    path = made.json()["address"].removeprefix("http://testserver")
    assert cast.browser("nobody").get(path).status_code == 200
    assert sender.get(f"packs/{name}").json()["links"][0]["uses"] == 0
    link = made.json()["uuid"]
    assert Program(cast, "fitter").post(f"pack-links/{link}/end").status_code == 404
    assert sender.post(f"pack-links/{link}/end").json()["links"][0]["stands"] is False
    assert cast.browser("nobody").get(path).status_code == 404
    assert sender.post(f"packs/{name}/discard").json()["deleted_at"] is not None
    assert sender.get(f"packs/{name}/file").status_code == 404


def test_a_key_is_trusted_by_its_fingerprint_alone(cast: Cast, home: Path) -> None:
    own, other = Program(cast, "owner"), Program(cast, "other")
    key = own.get("practice-key").json()
    wrong = other.post("partner-keys", {"label": "Tussock", "line": key["line"], "fingerprint": "0" * 30})
    assert wrong.status_code == 422
    right = other.post("partner-keys", {"label": "Tussock", **key})
    assert right.status_code == 201
    partner = right.json()["uuid"]
    assert own.post(f"partner-keys/{partner}/end").status_code == 404
    assert other.post(f"partner-keys/{partner}/end").status_code == 204
    assert other.get("partner-keys").json()[0]["ended_at"] is not None
