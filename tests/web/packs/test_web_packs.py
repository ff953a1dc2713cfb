"""The pages of handing over: made, linked to, brought, looked at, taken, answered; and nobody else's."""

import re
import uuid as uuids
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from web_cast import ROLES, Cast, do_waiting

from saddlebench.exchange.packs import opened_pack
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.choice import PackChoice
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.handover.keys import own_key, renew_key
from saddlebench.practice.handover.links import end_link, make_link
from saddlebench.practice.handover.sending import pack_file, send_pack
from saddlebench.practice.keeping.files import store
from saddlebench.practice.models import Horse, PackLink, Partner, SentPack, TakenPack
from saddlebench.practice.services import PhotoFacts
from support.packs import back_text, picture


@pytest.fixture
def home(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of this test's own for keys, packs and photos."""
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", tmp_path)
    return tmp_path


@pytest.fixture
def back(cast: Cast, home: Path) -> str:
    """A back of the other practice that an engine can read."""
    made = services.record_back(
        cast.actors["other"],
        uuids.UUID(cast.elsewhere[Subject.HORSE]),
        Document(text=back_text()),
        measured_on=date(2026, 5, 3),
        label="3 May",
    )
    return str(made.version.back.uuid)


def pack_of(cast: Cast, home: Path, back: str, **more: object) -> SentPack:
    actor = cast.actors["other"]
    return send_pack(actor, gather(actor, PackChoice(backs=(uuids.UUID(back),), **more), home), home)


def code(client: Client, address: str, method: str = "GET") -> int:
    """Return what an address answers; a file is read to its end, which closes it."""
    answer = client.generic(method, address)
    if answer.streaming:
        assert b"".join(answer.streaming_content)
    return answer.status_code


def brought(client: Client, path: Path) -> str:
    given = SimpleUploadedFile("pack.zip", path.read_bytes())
    answer = client.post("/packs/look/", {"file": given})
    assert answer.status_code == 302, answer.content
    return str(answer["Location"])


def test_a_pack_is_chosen_made_and_downloaded_in_parts(cast: Cast, home: Path, back: str) -> None:
    stored = store(home, picture(1))
    horse = cast.elsewhere[Subject.HORSE]
    photo = services.attach_photo(
        cast.actors["other"], stored, PhotoFacts(original_sha256=stored.sha256), horse=uuids.UUID(horse)
    )
    client = cast.browser("other")
    address = f"/packs/new/horse/{horse}/"
    page = client.get(address).content.decode()
    assert f'value="backs:{back}" checked' in page
    form = re.search(r'name="form" value="([^"]+)"', page)[1]
    given = {
        "form": form,
        "choose": [f"backs:{back}", f"photos:{photo.uuid}"],
        "message": "Hello",
        "drawings": "yes",
    }
    answer = client.post(address, given)
    assert answer["Location"] == f"/jobs/{form}/"
    assert client.post(address, given)["Location"] == f"/jobs/{form}/"
    do_waiting()
    assert client.get(f"/jobs/{form}/")["Location"] == f"/packs/sent/{form}/"
    shown = client.get(f"/packs/sent/{form}/").content.decode()
    assert "Thistle" in shown
    assert "1 back record" in shown
    whole = b"".join(client.get(f"/packs/sent/{form}/file/").streaming_content)
    part = client.get(f"/packs/sent/{form}/file/", headers={"Range": "bytes=100-199"})
    assert (part.status_code, part.content) == (206, whole[100:200])
    (home / "x.zip").write_bytes(whole)
    with opened_pack(home / "x.zip") as pack:
        assert pack.document.message == "Hello"
        assert len(pack.document.photos) == 1
        assert any(one.file.endswith(".svg") for one in pack.document.enclosed)
    assert "Thistle" in client.get("/packs/").content.decode()


def test_nothing_chosen_is_said_with_the_form_kept(cast: Cast, home: Path) -> None:
    address = f"/packs/new/horse/{cast.elsewhere[Subject.HORSE]}/"
    given = {"choose": [f"photos:{uuids.uuid4()}"], "message": "Kept words"}
    assert cast.browser("other").post(address, given).status_code == 404
    saddle = f"/packs/new/saddle/{cast.elsewhere[Subject.SADDLE]}/"
    assert cast.browser("other").get(saddle).status_code == 200


def test_a_pack_is_brought_looked_at_and_taken(cast: Cast, home: Path, back: str) -> None:
    pack = pack_of(cast, home, back, message="Please look.")
    client = cast.browser("fitter")
    address = brought(client, pack_file(home, pack.uuid))
    page = client.get(address).content.decode()
    assert "Nothing is written yet" in page
    assert "Tussock Saddles (invented)" in page[: page.index("<main")]
    assert "Whose is it?" in page
    assert own_key(cast.actors["other"], home).public.fingerprint in page
    assert "Please look." in page
    before = Horse.objects.count()
    refused = client.post(address, {})
    assert refused.status_code == 422
    assert "not known here yet" in refused.content.decode()
    assert Horse.objects.count() == before
    taken = client.post(address, {"trust": "yes"})
    assert taken.status_code == 302
    assert Horse.objects.count() == before + 1
    shown = client.get(taken["Location"]).content.decode()
    assert "Taken from Gorse Saddlery (invented)" in shown
    assert "Thistle" in shown
    assert client.get(address).status_code == 404
    assert "Gorse Saddlery" in client.get("/packs/").content.decode()


def test_what_was_brought_by_one_practice_is_not_anothers(cast: Cast, home: Path, back: str) -> None:
    pack = pack_of(cast, home, back)
    address = brought(cast.browser("fitter"), pack_file(home, pack.uuid))
    for method in ("GET", "POST"):
        assert cast.browser("other").generic(method, address).status_code == 404
        assert cast.browser("reader").generic(method, address).status_code == 403
    assert cast.browser("owner").get(address).status_code == 200


def test_junk_and_too_much_are_refused_and_not_kept(cast: Cast, home: Path) -> None:
    client = cast.browser("fitter")
    answer = client.post("/packs/look/", {"file": SimpleUploadedFile("x.zip", b"junk")})
    assert answer.status_code == 422
    assert "no archive" in answer.content.decode()
    assert not list(home.rglob("*.pack"))
    assert client.post("/packs/look/", {}).status_code == 422


def test_a_changed_key_shouts(cast: Cast, home: Path, back: str) -> None:
    client = cast.browser("fitter")
    client.post(brought(client, pack_file(home, pack_of(cast, home, back).uuid)), {"trust": "yes"})
    old = own_key(cast.actors["other"], home).public.fingerprint
    renew_key(cast.actors["other"], home)
    address = brought(client, pack_file(home, pack_of(cast, home, back).uuid))
    page = client.get(address).content.decode()
    assert "Another key than before" in page
    assert f"Before: {old}" in page
    assert client.post(address, {"trust": "yes"}).status_code == 422
    assert client.post(address, {"trust_changed": "yes"}).status_code == 302
    assert Partner.objects.filter(ended_at=None).count() == 1


def test_one_of_the_same_name_is_asked_about(cast: Cast, home: Path, back: str) -> None:
    mine = services.take_on_horse(cast.actors["owner"], {"label": "Thistle"})
    client = cast.browser("fitter")
    address = brought(client, pack_file(home, pack_of(cast, home, back).uuid))
    page = client.get(address).content.decode()
    name = re.search(r'name="(same-[^"]+)" value="another"', page)[1]
    waits = client.post(address, {"trust": "yes"})
    assert waits.status_code == 422
    assert "Say of each whether it is the same one" in waits.content.decode()
    assert client.post(address, {"trust": "yes", name: str(mine.uuid)}).status_code == 302
    assert Horse.objects.filter(label="Thistle", practice_id=cast.actors["owner"].practice_id).count() == 1


def test_an_answer_is_made(cast: Cast, home: Path, back: str) -> None:
    client = cast.browser("fitter")
    address = brought(client, pack_file(home, pack_of(cast, home, back).uuid))
    taken = client.post(address, {"trust": "yes"})["Location"]
    form = str(uuids.uuid4())
    given = {"form": form, "work_done": "Flock evened\n\nStraps changed", "questions": "Does she dip?"}
    assert client.post(f"{taken}answer/", given)["Location"] == f"/jobs/{form}/"
    do_waiting()
    with opened_pack(pack_file(home, uuids.UUID(form))) as pack:
        assert [one.words for one in pack.document.work_done] == ["Flock evened", "Straps changed"]
        assert pack.document.questions == ("Does she dip?",)
        assert pack.document.answers == str(TakenPack.objects.get().pack_uuid)


def test_the_key_is_shown_trusted_and_ended(cast: Cast, home: Path) -> None:
    page = cast.browser("owner").get("/packs/key/").content.decode()
    key = own_key(cast.actors["owner"], home).public
    assert key.line in page
    assert key.fingerprint in page
    assert "data:image/svg+xml" in page
    other = cast.browser("other")
    given = {"label": "Tussock", "line": key.line, "fingerprint": "1" * 30}
    wrong = other.post("/packs/keys/add/", given)
    assert wrong.status_code == 422
    assert "not that of this line" in wrong.content.decode()
    right = other.post("/packs/keys/add/", {**given, "fingerprint": key.fingerprint})
    assert right.status_code == 302
    partner = Partner.objects.get()
    assert cast.browser("owner").post(f"/packs/keys/{partner.uuid}/end/").status_code == 404
    assert other.post(f"/packs/keys/{partner.uuid}/end/").status_code == 302
    assert Partner.objects.get().ended_at is not None
    assert cast.browser("fitter").post("/packs/key/renew/", {"sure": "yes"}).status_code == 403
    assert cast.browser("owner").post("/packs/key/renew/").status_code == 422
    assert cast.browser("owner").post("/packs/key/renew/", {"sure": "yes"}).status_code == 302
    assert own_key(cast.actors["owner"], home).public != key


ADDRESSES: dict[str, tuple[str, Callable[["Things"], str]]] = {
    "home": ("GET", lambda _: "/packs/"),
    "key": ("GET", lambda _: "/packs/key/"),
    "add_key": ("GET", lambda _: "/packs/keys/add/"),
    "end_key": ("POST", lambda one: f"/packs/keys/{one.partner}/end/"),
    "new_of_horse": ("GET", lambda one: f"/packs/new/horse/{one.horse}/"),
    "new_of_saddle": ("GET", lambda one: f"/packs/new/saddle/{one.saddle}/"),
    "sent": ("GET", lambda one: f"/packs/sent/{one.sent}/"),
    "file": ("GET", lambda one: f"/packs/sent/{one.sent}/file/"),
    "link": ("POST", lambda one: f"/packs/sent/{one.sent}/link/"),
    "delete": ("POST", lambda one: f"/packs/sent/{one.sent}/delete/"),
    "end_link": ("POST", lambda one: f"/packs/links/{one.link}/end/"),
    "bring": ("POST", lambda _: "/packs/look/"),
    "fetch": ("POST", lambda _: "/packs/fetch/"),
    "look": ("GET", lambda _: f"/packs/look/{uuids.uuid4()}/"),
    "taken": ("GET", lambda one: f"/packs/taken/{one.taken}/"),
    "answer": ("GET", lambda one: f"/packs/taken/{one.taken}/answer/"),
    "renew": ("POST", lambda _: "/packs/key/renew/"),
}
NO_RECORD = {"home", "key", "add_key", "bring", "fetch", "renew"}
OWNERS = {"renew"}


class Things:
    """One of everything, of the practice `here`."""

    def __init__(self, cast: Cast, home: Path, back: str) -> None:
        theirs = pack_of(cast, home, back)
        client = cast.browser("owner")
        client.post(brought(client, pack_file(home, theirs.uuid)), {"trust": "yes"})
        actor = cast.actors["owner"]
        self.horse, self.saddle = cast.here[Subject.HORSE], cast.here[Subject.SADDLE]
        choice = PackChoice(horses=(uuids.UUID(self.horse),))
        self.sent = send_pack(actor, gather(actor, choice, home), home).uuid
        self.link = make_link(actor, self.sent, days=1, most_uses=1).uuid
        self.partner = Partner.objects.get(practice_id=actor.practice_id).uuid
        self.taken = TakenPack.objects.get(practice_id=actor.practice_id).uuid


def test_every_address_is_for_those_who_may_and_their_own(cast: Cast, home: Path, back: str) -> None:
    found = next(one for one in get_resolver().url_patterns if getattr(one, "namespace", "") == "packs")
    names = {one.name for one in found.url_patterns}
    assert names == {*ADDRESSES, "landing", "begin", "download"}
    things = Things(cast, home, back)
    for name, (method, address_of) in ADDRESSES.items():
        address = address_of(things)
        assert cast.browser("nobody").generic(method, address).status_code in {302, 401}, name
        for who in ("workshop", "reader"):
            assert cast.browser(who).generic(method, address).status_code == 403, (name, who)
        other = cast.browser("other").generic(method, address).status_code
        assert other in ({200, 302, 422} if name in NO_RECORD else {404, 422} if name == "link" else {404}), (
            name
        )
        if method == "POST":
            assert cast.browser("owner").get(address).status_code == 405, name
        for who in ("fitter", "owner"):
            wanted = {403} if name in OWNERS and who == "fitter" else {200, 302, 404, 422}
            assert code(cast.browser(who), address, method) in wanted, (name, who)
    assert set(ROLES) == {"owner", "fitter", "workshop", "reader"}


def linked(cast: Cast, home: Path, back: str, uses: int = 2) -> tuple[str, SentPack]:
    pack = pack_of(cast, home, back)
    made = make_link(cast.actors["other"], pack.uuid, days=7, most_uses=uses)
    return f"/handover/{made.secret}/", pack


def test_a_link_shows_one_pack_counts_uses_and_goes_on(cast: Cast, home: Path, back: str) -> None:
    address, pack = linked(cast, home, back)
    stranger = Client()
    landing = stranger.get(address)
    text = landing.content.decode()
    assert "Thistle" in text
    assert "Percy" not in text
    assert "no-store" in landing["Cache-Control"]
    assert landing["Referrer-Policy"] == "no-referrer"
    assert not landing.cookies
    stranger.head(f"{address}pack/")
    assert PackLink.objects.get().uses == 0
    begun = stranger.get(f"{address}pack/")
    assert begun.status_code == 302
    whole = b"".join(stranger.get(begun["Location"]).streaming_content)
    assert whole == pack_file(home, pack.uuid).read_bytes()
    half = len(whole) // 2
    part = stranger.get(begun["Location"], headers={"Range": f"bytes={half}-"})
    assert part.status_code == 206
    assert whole[:half] + part.content == whole
    assert PackLink.objects.get().uses == 1
    assert stranger.get(f"{address}pack/").status_code == 302
    used = stranger.get(f"{address}pack/")
    assert used.status_code == 410
    assert "used as often" in used.content.decode()
    assert code(stranger, begun["Location"]) == 200
    end_link(cast.actors["other"], PackLink.objects.get().uuid)
    for gone in (address, f"{address}pack/", begun["Location"]):
        assert stranger.get(gone).status_code == 404


def test_a_ticket_is_good_for_its_own_link_alone(cast: Cast, home: Path, back: str) -> None:
    first, _ = linked(cast, home, back)
    second, _ = linked(cast, home, back)
    ticket = Client().get(f"{first}pack/")["Location"].rsplit("/", 2)[1]
    assert code(Client(), f"{first}pack/{ticket}/") == 200
    assert Client().get(f"{second}pack/{ticket}/").status_code == 404
    assert Client().get(f"{second}pack/nonsense/").status_code == 404


def test_guessing_links_is_stopped(cast: Cast, home: Path, back: str) -> None:
    address, _ = linked(cast, home, back)
    stranger = Client()
    codes = [stranger.get(f"/handover/guess-{k}/").status_code for k in range(31)]
    assert codes == [404] * 30 + [429]
    assert stranger.get(address).status_code == 429


def test_a_closed_pack_s_link_says_nothing_of_what_is_in_it(cast: Cast, home: Path, back: str) -> None:
    line = own_key(cast.actors["owner"], home).public.line
    actor = cast.actors["other"]
    partner = Partner.objects.create(
        practice_id=actor.practice_id, label="Tussock", line=line, fingerprint="x",
        trusted_at="2026-05-01T00:00:00Z", trusted_by_id=actor.user_id,
    )  # fmt: skip
    choice = PackChoice(backs=(uuids.UUID(back),))
    pack = send_pack(actor, gather(actor, choice, home), home, recipient=partner.uuid)
    made = make_link(actor, pack.uuid, days=1, most_uses=1)
    text = Client().get(f"/handover/{made.secret}/").content.decode()
    assert "Thistle" not in text
    assert "only its recipient can read it" in text


def test_a_link_needs_no_pairing_code_and_opens_nothing_else(
    cast: Cast, home: Path, back: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    address, _ = linked(cast, home, back)
    monkeypatch.setattr(settings, "PAIRING_CODE", "123456")
    far = Client(REMOTE_ADDR="192.0.2.7")
    assert far.get(address).status_code == 200
    assert far.get("/packs/").status_code == 403
    assert far.get("/horses/").status_code == 403


def test_as_many_queries_with_twice_the_packs(
    cast: Cast, home: Path, back: str, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    client = cast.browser("other")
    counted = []
    client.get(reverse("packs:home"))
    for _ in range(2):
        pack_of(cast, home, back)
        pack = pack_of(cast, home, back)
        with count_queries() as queries:
            assert client.get(reverse("packs:home")).status_code == 200
        counted.append(len(queries))
    assert counted[0] == counted[1]
    assert client.post(f"/packs/sent/{pack.uuid}/link/", {"days": "x", "times": "1"}).status_code == 422
    made = client.post(f"/packs/sent/{pack.uuid}/link/", {"days": "2", "times": "1"})
    link = re.search(r'value="(http[^"]+/handover/[^"]+)"', made.content.decode())[1]
    assert "no-store" in made["Cache-Control"]
    assert link not in client.get(f"/packs/sent/{pack.uuid}/").content.decode()


def test_what_is_no_link_is_not_fetched(cast: Cast, home: Path) -> None:
    for link in ("", "not a link", "https://yard.example/elsewhere", "file:///etc/passwd"):
        answer = cast.browser("owner").post("/packs/fetch/", {"link": link})
        assert answer.status_code == 422
        assert "no link to a pack" in answer.content.decode()
    assert not list(home.rglob("*.pack"))
    assert cast.browser("reader").post("/packs/fetch/", {"link": "x"}).status_code == 403
    assert cast.browser("owner").get("/packs/fetch/").status_code == 405
