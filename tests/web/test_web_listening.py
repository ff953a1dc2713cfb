"""The web server over real sockets: encrypted for whoever trusts the root, and what proxies may say."""

import json
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from saddlebench.practice.keeping.certificates import Served, ensure_served, make_authority, served_names
from saddlebench.web.doors import Doors
from saddlebench.web.listening import Encrypted, Server, believing, listen
from support.tls_proxy import tls_proxy

LARGEST = 1000
ASKED = ("REMOTE_ADDR", "wsgi.url_scheme", "HTTP_HOST", "HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST")


def echo(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
    told = {name: environ[name] for name in ASKED if name in environ}
    told["body"] = environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0)).decode()
    content = json.dumps(told).encode()
    start("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(content)))])
    return [content]


def running(server: Server) -> int:
    threading.Thread(target=server.serve, daemon=True).start()
    return int(server.socket.getsockname()[1])


@pytest.fixture
def served(tmp_path: Path) -> Served:
    return ensure_served(tmp_path / "trust", "van", ("van.local",), datetime.now(UTC))


@pytest.fixture
def encrypted(served: Served) -> Iterator[tuple[int, Encrypted]]:
    door = Encrypted(served.file)
    server = listen(echo, "127.0.0.1", 0, largest_bytes=LARGEST, encrypted=door)
    yield running(server), door
    server.stop()


def trusting(served: Served) -> ssl.SSLContext:
    """Trust this one root, and nothing else of this machine."""
    return ssl.create_default_context(cadata=served.authority.root.public_bytes(Encoding.PEM).decode())


def test_a_client_that_trusts_the_root_alone_is_answered_over_tls(
    served: Served, encrypted: tuple[int, Encrypted]
) -> None:
    with httpx.Client(verify=trusting(served), base_url=f"https://localhost:{encrypted[0]}") as client:
        answer = client.post("/", content=b"a reading")
        assert answer.json()["wsgi.url_scheme"] == "https"
        assert answer.json()["REMOTE_ADDR"] == "127.0.0.1"
        assert answer.json()["body"] == "a reading"
        assert client.get("/").status_code == 200, "the connection is kept"
        assert client.post("/", content=b"x" * (LARGEST + 1)).status_code == 413


def test_a_client_that_does_not_is_not(encrypted: tuple[int, Encrypted]) -> None:
    with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
        httpx.get(f"https://localhost:{encrypted[0]}/")


def test_old_protocols_are_refused(served: Served, encrypted: tuple[int, Encrypted]) -> None:
    port, door = encrypted
    assert door.context.minimum_version >= ssl.TLSVersion.TLSv1_2
    with (
        socket.create_connection(("127.0.0.1", port)) as line,
        trusting(served).wrap_socket(line, server_hostname="localhost") as inside,
    ):
        assert inside.version() == "TLSv1.3"


def test_who_connects_and_says_nothing_keeps_nobody_waiting(
    served: Served, encrypted: tuple[int, Encrypted]
) -> None:
    silent = [socket.create_connection(("127.0.0.1", encrypted[0])) for _ in range(3)]
    begins = time.monotonic()
    answer = httpx.get(f"https://localhost:{encrypted[0]}/", verify=trusting(served), timeout=20)
    assert answer.status_code == 200
    # Each silent one is given half a minute: had it been waited for, the client would have given up.
    assert time.monotonic() - begins < 20
    for one in silent:
        one.close()


def test_plain_words_on_the_encrypted_port_and_noise_end_nothing(
    served: Served, encrypted: tuple[int, Encrypted]
) -> None:
    for words in (b"GET / HTTP/1.1\r\nHost: van.local\r\n\r\n", b"\x16\x03\x01\x00\x05hello", bytes(300)):
        with socket.create_connection(("127.0.0.1", encrypted[0]), timeout=20) as line:
            line.sendall(words)
            answer = b"".join(iter(lambda line=line: _received(line), b""))
        assert b"200 OK" not in answer
    assert httpx.get(f"https://localhost:{encrypted[0]}/", verify=trusting(served)).status_code == 200


def _received(line: socket.socket) -> bytes:
    try:
        return line.recv(4096)
    except ConnectionError:
        return b""


def test_a_body_without_a_length_is_refused_in_words(
    served: Served, encrypted: tuple[int, Encrypted]
) -> None:
    def parts() -> Iterator[bytes]:
        yield b"a "
        yield b"reading"

    answer = httpx.post(f"https://localhost:{encrypted[0]}/", content=parts(), verify=trusting(served))
    assert answer.status_code == 411
    assert "Content-Length" in answer.text


def test_another_address_is_certified_while_the_program_runs(tmp_path: Path) -> None:
    told: list[tuple[str, ...]] = []
    doors = Doors(tmp_path, ("192.168.7.4", "van.local"), told.append)
    server = listen(echo, "127.0.0.1", 0, largest_bytes=LARGEST, encrypted=doors.encrypted)
    port, context = running(server), trusting(doors.served)
    now = datetime.now(UTC)
    assert held(port, context) == {"192.168.7.4", "van.local"}
    assert not doors.look(now, ("192.168.7.4", "van.local"))
    assert not doors.look(now, ()), "out of the network for a moment"
    assert doors.look(now, ("172.20.10.2", "van.local"))
    assert told == [("172.20.10.2", "van.local")]
    assert held(port, context) == {"172.20.10.2", "van.local"} == set(served_names(tmp_path))
    server.stop()


def held(port: int, context: ssl.SSLContext) -> set[str]:
    with (
        socket.create_connection(("127.0.0.1", port)) as line,
        context.wrap_socket(line, server_hostname="localhost") as inside,
    ):
        shown = inside.getpeercert() or {}
    return {str(value) for _, value in shown["subjectAltName"]} - {"localhost", "127.0.0.1"}


def test_what_anybody_says_of_forwarding_is_dropped() -> None:
    server = listen(believing(echo, ()), "127.0.0.1", 0, largest_bytes=LARGEST)
    port = running(server)
    claims = {
        "X-Forwarded-For": "203.0.113.9",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "bank.example",
        "X_Forwarded_For": "203.0.113.9",
        "Forwarded": "for=203.0.113.9;proto=https",
    }
    told = httpx.get(f"http://127.0.0.1:{port}/", headers=claims).json()
    server.stop()
    assert told == {
        "REMOTE_ADDR": "127.0.0.1",
        "wsgi.url_scheme": "http",
        "HTTP_HOST": f"127.0.0.1:{port}",
        "body": "",
    }


@pytest.mark.parametrize(
    ("claimed", "address"),
    [
        ("", "127.0.0.2"),
        ("10.0.0.1", "127.0.0.2"),
        ("127.0.0.1, 127.0.0.1", "127.0.0.2"),
    ],
)
def test_a_named_proxy_over_tls_is_believed_and_claims_before_it_are_not(
    tmp_path: Path, served: Served, claimed: str, address: str
) -> None:
    server = listen(believing(echo, ("127.0.0.1",)), "127.0.0.1", 0, largest_bytes=LARGEST)
    headers = {"X-Forwarded-For": claimed, "X-Forwarded-Proto": "http"} if claimed else {}
    with tls_proxy(running(server), served.file) as port:
        far = httpx.HTTPTransport(verify=trusting(served), local_address=address)
        with httpx.Client(transport=far) as client:
            told = client.post(f"https://localhost:{port}/", headers=headers, content=b"x").json()
    server.stop()
    assert told == {
        "REMOTE_ADDR": address,
        "wsgi.url_scheme": "https",
        "HTTP_HOST": f"localhost:{port}",
        "body": "x",
    }


def test_a_named_proxy_that_says_nothing_makes_nobody_this_machine(served: Served) -> None:
    server = listen(believing(echo, ("127.0.0.1",)), "127.0.0.1", 0, largest_bytes=LARGEST)
    with tls_proxy(running(server), served.file, tells=False) as port:
        told = httpx.get(f"https://localhost:{port}/", verify=trusting(served)).json()
    server.stop()
    assert told["REMOTE_ADDR"] == ""
    assert told["wsgi.url_scheme"] == "http"


def test_a_proxy_of_another_address_is_not_believed(served: Served) -> None:
    server = listen(believing(echo, ("192.0.2.80",)), "127.0.0.1", 0, largest_bytes=LARGEST)
    with tls_proxy(running(server), served.file) as port:
        told = httpx.get(f"https://localhost:{port}/", verify=trusting(served)).json()
    server.stop()
    assert told["REMOTE_ADDR"] == "127.0.0.1"
    assert told["wsgi.url_scheme"] == "http"


def test_another_practices_root_is_not_enough(encrypted: tuple[int, Encrypted]) -> None:
    other = make_authority("elsewhere", datetime.now(UTC))
    context = ssl.create_default_context(cadata=other.root.public_bytes(Encoding.PEM).decode())
    with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
        httpx.get(f"https://localhost:{encrypted[0]}/", verify=context)
