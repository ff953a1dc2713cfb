"""Hosted: the program behind a TLS proxy, under a public name; who asks and how is what the proxy says."""

import re
import shutil
import ssl
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from browser_program import OWNER, PASSWORD, Program, free_port
from cryptography.hazmat.primitives.serialization import Encoding

from saddlebench.practice.keeping.certificates import Served, ensure_served
from support.tls_proxy import tls_proxy

NAME = "saddles.example"


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Served:
    return ensure_served(tmp_path_factory.mktemp("certificate"), "proxy", (), datetime.now(UTC))


@pytest.fixture(scope="module")
def hosted(practice_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("hosted") / "home"
    shutil.copytree(practice_home, home)
    asked = ("--public-host", NAME, "--proxy", "127.0.0.1")
    running = Program(home=home, port=free_port(), more=asked)
    running.start()
    yield running
    running.kill()


@pytest.fixture(scope="module")
def proxy(hosted: Program, certificate: Served) -> Iterator[int]:
    with tls_proxy(hosted.port, certificate.file) as port:
        yield port


def visitor(proxy: int, certificate: Served, address: str = "127.0.0.1") -> httpx.Client:
    root = certificate.authority.root.public_bytes(Encoding.PEM).decode()
    line = httpx.HTTPTransport(verify=ssl.create_default_context(cadata=root), local_address=address)
    return httpx.Client(
        transport=line,
        base_url=f"https://localhost:{proxy}",
        headers={"Host": NAME, "Origin": f"https://{NAME}"},
        timeout=60,
    )


def sign_in(client: httpx.Client, password: str = PASSWORD) -> httpx.Response:
    form = client.get("/sign-in/").text
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', form)
    assert token
    given = {"sign-in-email": OWNER, "sign-in-password": password, "csrfmiddlewaretoken": token[1]}
    return client.post("/sign-in/", data=given)


def test_signing_in_and_looking_through_the_proxy(proxy: int, certificate: Served) -> None:
    with visitor(proxy, certificate) as client:
        assert sign_in(client).status_code == 302
        assert "Juniper" in client.get("/horses/?q=juniper").text
        assert {name for name in client.cookies if name.startswith("__Host-")} == set(client.cookies)
        assert "const SHELL" in client.get("/service-worker.js").text


def test_another_name_is_not_answered(proxy: int, certificate: Served) -> None:
    with visitor(proxy, certificate) as client:
        answer = client.get("/sign-in/", headers={"Host": "elsewhere.example"})
        assert answer.status_code == 400
        assert "Juniper" not in answer.text


def test_wrong_passwords_shut_out_the_one_who_gave_them_and_nobody_else(
    proxy: int, certificate: Served
) -> None:
    with visitor(proxy, certificate, "127.0.0.7") as guessing:
        # What it claims to be is put before what the proxy knows, and not believed.
        guessing.headers["X-Forwarded-For"] = "203.0.113.9"
        for _ in range(5):
            sign_in(guessing, "wrong")
        guessing.headers["X-Forwarded-For"] = "203.0.113.10"
        assert sign_in(guessing).status_code == 429
    with visitor(proxy, certificate, "127.0.0.8") as other:
        assert sign_in(other).status_code == 302
