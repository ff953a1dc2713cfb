"""Reached from a phone: by this machine's address in its network, behind the pairing code, not otherwise."""

import re
import shutil
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import Caller, Program, free_port

from saddlebench.web.serving import own_addresses

CODE = re.compile(r"Pairing code: (\d{4}) (\d{4})")
ADDRESS = re.compile(r"For looking only, in the same network: (http://\S+?)/?\s")


def network_address() -> str:
    found = [one for one in own_addresses() if re.fullmatch(r"[\d.]+", one)]
    if not found:
        pytest.skip(
            "NO NETWORK: this machine has no address but its own; reaching it from a phone is not tested"
        )
    return found[0]


@pytest.fixture(scope="module")
def shared(practice_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    network_address()
    home = tmp_path_factory.mktemp("phone") / "home"
    shutil.copytree(practice_home, home)
    running = Program(home=home, port=free_port(), more=("--phone", "--secure-port", str(free_port())))
    running.start()
    yield running
    running.kill()


@pytest.fixture
def told(shared: Program) -> tuple[str, str]:
    """The address and the code that the laptop's window shows."""
    log = shared.log.read_text(encoding="utf-8")
    address, code = ADDRESS.search(log), CODE.search(log)
    assert address
    assert code
    return address[1], code[1] + code[2]


def refused(address: str, **headers: str) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(urllib.request.Request(address, headers=headers), timeout=30):
            pytest.fail(f"{address} was answered")
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def test_the_window_shows_the_machines_address_and_a_square_for_the_camera(
    shared: Program, told: tuple[str, str]
) -> None:
    assert told[0] == f"http://{network_address()}:{shared.port}"
    log = shared.log.read_text(encoding="utf-8")
    assert sum(line.count("█") + line.count("▀") + line.count("▄") for line in log.splitlines()) > 200
    assert "not encrypted" in log


def test_without_the_code_nothing_is_shown_but_the_question(told: tuple[str, str]) -> None:
    for path in ("/", "/sign-in/", "/horses/"):
        code, text = refused(f"{told[0]}{path}")
        assert code == 403
        assert "Juniper" not in text
        assert "code" in text
    wrong = "00000000" if told[1] != "00000000" else "11111111"
    assert refused(f"{told[0]}/?code={wrong}")[0] == 403


def test_the_code_lets_a_phone_in_to_sign_in_and_save(told: tuple[str, str]) -> None:
    phone = Caller(told[0])
    assert "Sign in" in phone.get(f"/?code={told[1]}")
    phone.sign_in()
    assert "Juniper" in phone.get("/horses/?q=juniper")
    token = phone.token("/people/new/")
    # A browser names where a form comes from: this address is one of ours, others are not.
    phone.opener.addheaders = [("Origin", told[0])]
    assert "Pat Phone" in phone.post("/people/new/", {"label": "Pat Phone"}, token)
    phone.opener.addheaders = [("Origin", "http://192.0.2.99:8642")]
    with pytest.raises(urllib.error.HTTPError, match="403") as caught:
        phone.post("/people/new/", {"label": "Elsewhere"}, token)
    caught.value.close()


@pytest.mark.parametrize("path", ["/", "/sign-in/", "/health/"])
def test_other_names_are_not_answered(told: tuple[str, str], path: str) -> None:
    code, text = refused(f"{told[0]}{path}", Host="saddles.example")
    assert code in {400, 403}
    assert "Juniper" not in text


def test_the_laptop_itself_needs_no_code(shared: Program) -> None:
    assert "Sign in" in Caller(shared.url).get("/")
