"""The page that lets a phone trust the laptop: open to all, one fingerprint on both sides, nothing told."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509
from django.conf import settings
from django.test import Client
from web_cast import Cast

from saddlebench.practice.keeping.certificates import Served, ensure_served

IPHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 17_0 like Mac OS X) Safari"
ANDROID = "Mozilla/5.0 (Linux; Android 14) Chrome"
FAR = "192.168.7.9"


@pytest.fixture(autouse=True)
def served(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Served:
    made = ensure_served(tmp_path, "van", ("192.168.7.4", "van", "van.local"), datetime.now(UTC))
    monkeypatch.setattr(settings, "TRUST_FOLDER", str(tmp_path))
    monkeypatch.setattr(settings, "SECURE_PORT", 8643)
    monkeypatch.setattr(settings, "PAIRING_CODE", "12345678")
    monkeypatch.setattr(
        settings, "ALLOWED_HOSTS", [*settings.OWN_HOSTS, "192.168.7.4", "van.local", "testserver"]
    )
    return made


def page(client: Client, **more: str) -> str:
    answer = client.get("/trust/", **more)  # type: ignore[arg-type]
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_phone_needs_no_code_for_it_and_sees_no_code(served: Served) -> None:
    far = Client(REMOTE_ADDR=FAR, HTTP_HOST="192.168.7.4:8642")
    shown = page(far)
    assert all(line in shown for line in served.authority.fingerprint.splitlines())
    assert "1234" not in shown
    assert "12345678" not in shown
    assert shown.index("https://van.local:8643/trust/") < shown.index("https://192.168.7.4:8643/trust/")
    assert "https://van:8643" not in shown
    assert far.get("/horses/").status_code == 403


@pytest.mark.parametrize(
    ("agent", "opened"), [(IPHONE, [True, False]), (ANDROID, [False, True]), ("Desktop", [True, True])]
)
def test_the_phones_own_steps_are_open(agent: str, opened: list[bool]) -> None:
    shown = page(Client(REMOTE_ADDR=FAR), HTTP_USER_AGENT=agent)
    parts = shown.split("<details")[1:]
    assert [part.startswith(" open") for part in parts] == opened
    assert "Certificate Trust Settings" in parts[0]
    assert "CA certificate" in parts[1]


def test_plain_pages_say_what_they_cannot_do() -> None:
    shown = page(Client(REMOTE_ADDR=FAR))
    assert "not encrypted" in shown
    assert "nothing is kept through a reload" in shown


def test_the_laptop_shows_square_code_and_the_same_fingerprint(served: Served) -> None:
    shown = page(Client())
    assert "<svg" in shown
    assert "viewBox" in shown
    assert "http://192.168.7.4:" in shown
    assert "1234 5678" in shown
    assert all(line in shown for line in served.authority.fingerprint.splitlines())


def test_over_the_encrypted_connection_it_says_that_it_works() -> None:
    answer = Client(REMOTE_ADDR=FAR).get("/trust/", secure=True)
    assert "This connection is encrypted" in answer.content.decode()


def test_the_file_is_the_root_and_holds_no_key(served: Served) -> None:
    answer = Client(REMOTE_ADDR=FAR).get("/trust/saddlebench-trust.crt")
    assert answer["Content-Type"] == "application/x-x509-ca-cert"
    assert "Content-Disposition" not in answer, "a phone does not offer to install an attachment"
    assert x509.load_der_x509_certificate(answer.content) == served.authority.root


@pytest.mark.parametrize("folder", ["", "nothing-there"])
def test_without_certificates_it_says_how_to_have_them(
    folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settings, "TRUST_FOLDER", str(tmp_path / folder) if folder else "")
    answer = Client().get("/trust/")
    assert "saddlebench serve --phone" in answer.content.decode()
    assert Client().get("/trust/saddlebench-trust.crt").status_code == 404


def test_a_plain_page_from_afar_says_so_and_others_do_not(monkeypatch: pytest.MonkeyPatch) -> None:
    words = "Not encrypted, for looking"
    monkeypatch.setattr(settings, "PAIRING_CODE", "")
    assert words in Client(REMOTE_ADDR=FAR).get("/sign-in/").content.decode()
    assert words not in Client(REMOTE_ADDR=FAR).get("/sign-in/", secure=True).content.decode()
    assert words not in Client().get("/sign-in/").content.decode()
    monkeypatch.setattr(settings, "SECURE_PORT", 0)
    assert words not in Client(REMOTE_ADDR=FAR).get("/sign-in/").content.decode()


def test_cookies_of_the_encrypted_door_stay_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "PAIRING_CODE", "")
    far = Client(REMOTE_ADDR=FAR)
    far.get("/sign-in/", secure=True)
    names = set(far.cookies)
    assert names == {"__Host-saddlebench_form"}
    held = far.cookies["__Host-saddlebench_form"]
    assert held["secure"]
    assert held["path"] == "/"
    assert not held["domain"]
    far.get("/sign-in/")
    assert set(far.cookies) == {"__Host-saddlebench_form", "saddlebench_form"}
    assert not far.cookies["saddlebench_form"]["secure"]
