"""What the serving process listens on and answers, before it is started."""

import os
import re
import socket
import threading
from pathlib import Path

import pytest

from saddlebench.cli import serve
from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.keeping.certificates import find_authority
from saddlebench.web import serving
from saddlebench.web.base.stamp import stamp_of
from saddlebench.web.doors import Doors

BOUND = ("HOSTS", "PAIRING_CODE", "SECURE_PORT", "TRUST_FOLDER")


def test_this_machine_alone_unless_asked() -> None:
    assert serving.Reach() == serving.Reach(host="127.0.0.1", addresses=(), pairing_code="", proxies=())


def test_a_phone_is_let_in_by_a_fresh_code_under_named_addresses_only(tmp_path: Path) -> None:
    first, second = (serving.reach_from_phone(8643, tmp_path) for _ in range(2))
    assert re.fullmatch(r"\d{8}", first.pairing_code)
    assert first.pairing_code != second.pairing_code
    assert "*" not in first.addresses
    assert "127.0.0.1" not in first.addresses


def test_the_settings_are_told_what_is_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DJANGO_SETTINGS_MODULE", *(f"SADDLEBENCH_{one}" for one in BOUND)):
        monkeypatch.setenv(name, "before")
    serving.bind_settings(
        serving.Reach(
            host="0.0.0.0",  # noqa: S104
            addresses=("192.0.2.4", "van.local"),
            pairing_code="12345678",
            secure_port=8643,
            trusted_in=Path("trusted"),
        )
    )
    assert os.environ["SADDLEBENCH_SECURE_PORT"] == "8643"
    assert os.environ["SADDLEBENCH_TRUST_FOLDER"] == "trusted"
    assert os.environ["SADDLEBENCH_HOSTS"] == "192.0.2.4,van.local"
    assert os.environ["SADDLEBENCH_PAIRING_CODE"] == "12345678"


def test_the_next_free_port_is_taken_and_an_asked_one_never_exchanged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setattr(serving, "PORT", port)
        found = serving.free_port("127.0.0.1", None)
        assert port < found < port + 20
        with pytest.raises(OSError, match="in use"):
            serving.free_port("127.0.0.1", port)


def shown_for(addresses: tuple[str, ...], folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    reach = serving.Reach(host="x", addresses=addresses, pairing_code="12345678", secure_port=8643)
    serve._show_phone(reach, 8642, Doors(folder, addresses, lambda _: None))
    return capsys.readouterr().err


def test_the_window_shows_addresses_code_square_and_fingerprint(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = shown_for(("192.168.7.4", "van", "van.local"), tmp_path, capsys)
    assert "http://192.168.7.4:8642/trust/" in shown
    assert "https://192.168.7.4:8643/ or https://van.local:8643/" in shown
    assert "https://van:" not in shown
    assert "1234 5678" in shown
    assert "█" in shown or "▄" in shown
    assert "not encrypted" in shown
    authority = find_authority(tmp_path)
    assert authority is not None
    assert authority.fingerprint in shown


def test_without_a_network_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "in no network" in shown_for((), tmp_path, capsys)


def test_phones_and_a_proxy_do_not_go_together() -> None:
    with pytest.raises(InputProblemsError, match="do not go together"):
        serve._reach(True, None, ["saddles.example.org"], [])
    with pytest.raises(InputProblemsError, match="needs --phone"):
        serve._reach(False, 8643, [], [])


def test_a_proxy_is_named_by_its_number() -> None:
    reach = serving.reach_behind(["Saddles.Example.org"], ["127.0.0.1"])
    assert (reach.host, reach.addresses, reach.proxies) == (
        "127.0.0.1",
        ("saddles.example.org",),
        ("127.0.0.1",),
    )
    with pytest.raises(InputProblemsError, match=r"“proxy\.example” is no address"):
        serving.reach_behind([], ["proxy.example"])


def test_a_changed_file_changes_the_stamp(tmp_path: Path) -> None:
    (tmp_path / "a.css").write_text("a", encoding="utf-8")
    before = stamp_of([tmp_path])
    assert stamp_of([tmp_path]) == before
    (tmp_path / "a.css").write_text("b", encoding="utf-8")
    assert stamp_of([tmp_path]) != before
    assert re.fullmatch(r"[0-9a-f]{12}", before)


def test_told_to_stop_as_soon_as_it_can_be_reached_it_leaves_nothing_running(
    own_records: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "keep_day", lambda *_given: None)
    before = set(threading.enumerate())

    def told_to_stop() -> None:
        raise SystemExit(0)

    with pytest.raises(SystemExit):
        serving.serve(serving.Reach(), serving.free_port("127.0.0.1", 0), own_records, told_to_stop)
    begun = [one for one in threading.enumerate() if one not in before]
    for one in begun:
        one.join(60)
    assert [one.name for one in begun if one.is_alive()] == []
