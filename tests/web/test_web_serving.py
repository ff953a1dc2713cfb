"""What the serving process listens on and answers, before it is started."""

import os
import re
import socket
from pathlib import Path

import pytest

from saddlebench.cli import serve
from saddlebench.web import serving
from saddlebench.web.base.stamp import stamp_of


def test_this_machine_alone_unless_asked() -> None:
    assert serving.Reach() == serving.Reach(host="127.0.0.1", addresses=(), pairing_code="")


def test_a_phone_is_let_in_by_a_fresh_code_under_named_addresses_only() -> None:
    first, second = serving.reach_from_phone(), serving.reach_from_phone()
    assert re.fullmatch(r"\d{8}", first.pairing_code)
    assert first.pairing_code != second.pairing_code
    assert "*" not in first.addresses
    assert "127.0.0.1" not in first.addresses


def test_the_settings_are_told_what_is_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DJANGO_SETTINGS_MODULE", "SADDLEBENCH_HOSTS", "SADDLEBENCH_PAIRING_CODE"):
        monkeypatch.setenv(name, "before")
    serving.bind_settings(
        serving.Reach(host="0.0.0.0", addresses=("192.0.2.4", "van.local"), pairing_code="12345678")  # noqa: S104
    )
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


def test_the_window_shows_address_code_and_square(capsys: pytest.CaptureFixture[str]) -> None:
    serve._show_phone(serving.Reach(host="x", addresses=("192.0.2.4",), pairing_code="12345678"), 8642)
    shown = capsys.readouterr().err
    assert "http://192.0.2.4:8642/" in shown
    assert "1234 5678" in shown
    assert "█" in shown or "▄" in shown
    assert "not encrypted" in shown


def test_without_a_network_it_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    serve._show_phone(serving.Reach(host="x", addresses=(), pairing_code="12345678"), 8642)
    assert "in no network" in capsys.readouterr().err


def test_a_changed_file_changes_the_stamp(tmp_path: Path) -> None:
    (tmp_path / "a.css").write_text("a", encoding="utf-8")
    before = stamp_of([tmp_path])
    assert stamp_of([tmp_path]) == before
    (tmp_path / "a.css").write_text("b", encoding="utf-8")
    assert stamp_of([tmp_path]) != before
    assert re.fullmatch(r"[0-9a-f]{12}", before)
