"""First start, signing in and out, guessing, and being signed out in the middle of typing."""

import json
from urllib.parse import parse_qs, urlsplit

import pytest
from django.conf import settings
from django.test import Client
from web_cast import PASSWORD, Cast

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Subject

OWNER = "orla@tussock.example"


def give(client: Client, password: str = PASSWORD, email: str = OWNER, **more: str) -> object:
    return client.post("/sign-in/", {"sign-in-email": email, "sign-in-password": password, **more})


def test_an_empty_folder_asks_for_practice_and_first_account(empty_records: object) -> None:
    client = Client()
    assert client.get("/", follow=True).redirect_chain[-1][0] == "/first-start/"
    given = {
        "practice": "Fresh Start Saddles",
        "label": "Fay",
        "email": "fay@fresh.example",
        "password": "long-enough-phrase",
        "zone": "Europe/Berlin",
    }
    answer = client.post("/first-start/", given, follow=True)
    assert answer.redirect_chain[-1][0] == "/"
    assert "Fresh Start Saddles" in answer.content.decode()
    assert Client().get("/first-start/")["Location"] == "/sign-in/"
    assert Client().post("/first-start/", {**given, "email": "eve@fresh.example"})["Location"] == "/sign-in/"


def test_first_start_lists_every_problem_and_keeps_what_was_typed(empty_records: object) -> None:
    answer = Client().post(
        "/first-start/", {"practice": "", "label": "Fay", "email": "no", "password": "short"}
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "is needed and was left empty" in text
    assert "is not an e-mail address" in text
    assert "too short" in text
    assert 'value="Fay"' in text
    assert services.is_first_start()


def test_signs_in_and_goes_where_it_was_going(cast: Cast) -> None:
    client = Client()
    sent = client.get("/horses/?q=juniper")["Location"]
    wanted = parse_qs(urlsplit(sent).query)["next"][0]
    assert give(client, next=wanted)["Location"] == "/horses/?q=juniper"
    assert "Juniper" in client.get(wanted).content.decode()


@pytest.mark.parametrize(
    "next_", ["https://evil.example/", "//evil.example/x", "javascript:alert(1)", "\\\\evil"]
)
def test_goes_nowhere_else(cast: Cast, next_: str) -> None:
    assert give(Client(), next=next_)["Location"] == "/"


def test_a_wrong_password_says_the_same_as_an_unknown_address(cast: Cast) -> None:
    wrong = give(Client(), "wrong").content.decode()
    unknown = give(Client(), "wrong", "nobody@tussock.example").content.decode()
    assert "do not belong together" in wrong
    assert wrong.replace(OWNER, "").split("<form")[0] == unknown.split("<form")[0]


def test_guessing_is_stopped_and_others_are_not_shut_out(cast: Cast) -> None:
    for _ in range(5):
        assert give(Client(), "guess").status_code == 422
    assert give(Client(), "guess").status_code == 429
    assert give(Client()).status_code == 429
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    assert give(elsewhere).status_code == 302


def test_guessing_many_addresses_from_one_place_is_stopped_too(cast: Cast) -> None:
    codes = [give(Client(), "guess", f"p{i}@tussock.example").status_code for i in range(31)]
    assert codes == [422] * 30 + [429]


def test_the_session_is_new_after_signing_in_and_dead_after_signing_out(cast: Cast) -> None:
    client = Client()
    give(client)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert int(cookie["max-age"]) > 90 * 24 * 3600
    client.post("/sign-out/")
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = cookie.value
    assert thief.get("/horses/").status_code == 302


def test_signing_out_needs_a_form(cast: Cast) -> None:
    client = cast.browser("owner")
    assert client.get("/sign-out/").status_code == 405
    assert client.get("/horses/").status_code == 200


def test_changing_the_password_signs_other_devices_out(cast: Cast) -> None:
    here, there = Client(), Client()
    give(here)
    give(there)
    refused = here.post("/account/", {"old": "wrong", "new": "a-better-phrase-yet"})
    assert refused.status_code == 422
    assert "this is not your password" in refused.content.decode()
    assert here.post("/account/", {"old": PASSWORD, "new": "a-better-phrase-yet"}).status_code == 302
    assert here.get("/horses/").status_code == 200
    assert there.get("/horses/").status_code == 302


def test_what_was_typed_when_signed_out_is_kept_and_then_saved(cast: Cast) -> None:
    client = Client()
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    typed = {
        "breed": "Connemara",
        "breed.was": "",
        "breed.seen": "0",
        "breed.key": "",
        "note": "<b>“quoted”</b>",
    }
    asked = client.post(path, typed)
    text = asked.content.decode()
    assert asked.status_code == 401
    assert 'name="breed" value="Connemara"' in text
    assert "&lt;b&gt;" in text
    wrong = client.post(path, {**typed, "sign-in-email": OWNER, "sign-in-password": "wrong"})
    assert wrong.status_code == 422
    assert 'name="breed" value="Connemara"' in wrong.content.decode()
    assert "wrong" not in wrong.content.decode()
    saved = client.post(path, {**typed, "sign-in-email": OWNER, "sign-in-password": PASSWORD})
    assert saved.status_code == 302
    page = queries.horse_page(cast.actors["owner"], cast.here[Subject.HORSE])
    assert page.values["breed"] == "Connemara"


def test_signing_in_with_the_form_gives_no_more_than_the_role(cast: Cast) -> None:
    path = f"/horses/{cast.here[Subject.HORSE]}/edit/"
    typed = {"breed": "Exmoor", "sign-in-email": "reader@tussock.example", "sign-in-password": PASSWORD}
    assert Client().post(path, typed).status_code == 403


def test_a_partial_request_is_told_401_and_the_dialog_signs_in(cast: Cast) -> None:
    client = Client()
    asked = client.get("/horses/?q=jun", headers={"HX-Request": "true"})
    assert asked.status_code == 401
    given = {"sign-in-email": OWNER, "sign-in-password": PASSWORD}
    refused = client.post("/sign-in/here/", {**given, "sign-in-password": "wrong"})
    assert refused.status_code == 422
    assert "do not belong together" in json.loads(refused.content)["said"]
    told = json.loads(client.post("/sign-in/here/", given).content)
    assert len(told["token"]) > 30
    assert client.get("/horses/?q=jun", headers={"HX-Request": "true"}).status_code == 200


def test_a_former_member_is_told_so(cast: Cast) -> None:
    client = cast.browser("reader")
    assert client.get("/horses/").status_code == 200
    services.end_membership(cast.actors["owner"], cast.here.member)
    assert client.get("/horses/").status_code == 302
    assert "member of no practice" in client.get("/sign-in/").content.decode()


def test_works_for_one_practice_at_a_time(cast: Cast) -> None:
    client = cast.browser("owner")
    assert client.post("/account/work-for/", {"at": "7"}).status_code == 302
    assert "Tussock" in client.get("/").content.decode()


@pytest.mark.usefixtures("cast")
class TestPairing:
    """`serve --phone` lets other devices in after a code, and this machine without."""

    @pytest.fixture(autouse=True)
    def _code(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(settings, "PAIRING_CODE", "12345678")

    def test_this_machine_needs_no_code(self) -> None:
        assert Client().get("/sign-in/").status_code == 200

    def test_another_device_sees_nothing_before_the_code(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        for path in ("/sign-in/", "/horses/", "/health/", "/nowhere/"):
            answer = phone.get(path)
            assert answer.status_code == 403, path
            assert "Pair this device" in answer.content.decode()

    def test_a_forwarded_address_is_not_believed(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50", HTTP_X_FORWARDED_FOR="127.0.0.1")
        assert phone.get("/sign-in/").status_code == 403

    def test_the_code_in_the_address_pairs_for_good(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        assert phone.get("/?code=12345678")["Location"] == "/"
        assert phone.get("/sign-in/").status_code == 200

    def test_the_code_typed_with_blanks_pairs_too(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50", enforce_csrf_checks=True)
        form = phone.get("/").content.decode()
        token = form.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
        assert phone.post("/", {"code": "1234 5678"}).status_code == 403
        given = {"code": "1234 5678", "csrfmiddlewaretoken": token}
        assert phone.post("/", given).status_code == 302
        assert phone.get("/sign-in/").status_code == 200

    def test_a_new_code_ends_old_pairings(self, monkeypatch: pytest.MonkeyPatch) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        phone.get("/?code=12345678")
        monkeypatch.setattr(settings, "PAIRING_CODE", "87654321")
        assert phone.get("/sign-in/").status_code == 403

    def test_a_code_given_over_an_encrypted_connection_outlives_the_next_start(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        assert phone.get("/?code=12345678", secure=True)["Location"] == "/"
        assert [name for name in phone.cookies if phone.cookies[name]["secure"]] == [
            "__Host-saddlebench_paired"
        ]
        assert phone.get("/sign-in/").status_code == 403, "a plain connection is not let in by it"
        monkeypatch.setattr(settings, "PAIRING_CODE", "87654321")
        assert phone.get("/sign-in/", secure=True).status_code == 200

    def test_a_plain_pairing_does_not_open_the_encrypted_door(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        phone.get("/?code=12345678")
        phone.cookies["__Host-saddlebench_paired"] = phone.cookies["saddlebench_paired"].value
        answer = phone.get("/sign-in/", secure=True)
        assert answer.status_code == 403
        assert answer["X-Asks-For"] == "pairing-code"

    def test_guessing_codes_is_stopped(self) -> None:
        phone = Client(REMOTE_ADDR="192.0.2.50")
        codes = [phone.get(f"/?code=0000000{i}").status_code for i in range(10)]
        assert codes == [403] * 10
        assert phone.get("/?code=12345678").status_code == 429
