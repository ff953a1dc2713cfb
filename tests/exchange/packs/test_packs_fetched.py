"""Fetching by a link: one use however often it breaks off, in bounds, and never somewhere else."""

import os
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import PackLimits
from saddlebench.exchange.packs.fetching import fetch_pack

LINK = "https://yard.example/handover/secret/"
PACK = os.urandom(5000)
Answer = Callable[[httpx.Request], httpx.Response]


class Server:
    """A server that gives at most `most` bytes at once, and breaks off now and then."""

    def __init__(self, most: int = 2000, breaks: int = 0) -> None:
        self.most, self.breaks = most, breaks
        self.begun, self.asked = 0, []

    def __call__(self, request: httpx.Request) -> httpx.Response:
        if request.url.path.endswith("/pack/"):
            self.begun += 1
            return httpx.Response(302, headers={"Location": "/handover/secret/pack/ticket/"})
        first = int(request.headers["Range"].removeprefix("bytes=").removesuffix("-"))
        self.asked.append(first)
        if self.breaks and len(self.asked) % 2 == 0:
            self.breaks -= 1
            msg = "broken off"
            raise httpx.ReadError(msg)
        part = PACK[first : first + self.most]
        where = f"bytes {first}-{first + len(part) - 1}/{len(PACK)}"
        return httpx.Response(206, content=part, headers={"Content-Range": where})


def fetched(answer: Answer, path: Path, **more: object) -> int:
    return fetch_pack(LINK, path, transport=httpx.MockTransport(answer), **more)


def test_it_comes_in_parts_and_goes_on_where_it_broke_off(tmp_path: Path) -> None:
    server, told = Server(breaks=2), []
    size = fetched(server, tmp_path / "x.zip", told=lambda got, of: told.append((got, of)))
    assert (tmp_path / "x.zip").read_bytes() == PACK
    assert size == len(PACK)
    assert server.begun == 1
    assert server.asked == [0, 2000, 2000, 4000, 4000]
    assert told == [(2000, 5000), (4000, 5000), (5000, 5000)]
    assert (tmp_path / "x.zip").stat().st_mode & 0o777 == 0o600


def test_a_server_that_always_breaks_off_is_given_up(tmp_path: Path) -> None:
    def answer(request: httpx.Request) -> httpx.Response:
        if request.url.path.endswith("/pack/"):
            return httpx.Response(302, headers={"Location": "ticket/"})
        msg = "broken off"
        raise httpx.ReadError(msg)

    with pytest.raises(InputProblemsError, match="again and again"):
        fetched(answer, tmp_path / "x.zip")
    assert list(tmp_path.iterdir()) == []


def always(response: httpx.Response) -> Answer:
    def answer(request: httpx.Request) -> httpx.Response:
        if request.url.path.endswith("/pack/"):
            return httpx.Response(302, headers={"Location": "ticket/"})
        return response

    return answer


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (lambda _: httpx.Response(404), "leads nowhere"),
        (lambda _: httpx.Response(410), "as often as it may"),
        (lambda _: httpx.Response(429), "quarter of an hour"),
        (lambda _: httpx.Response(200, text="<html>"), "answered 200"),
        (lambda _: httpx.Response(302, headers={"Location": "https://else.example/x"}), "somewhere else"),
        (always(httpx.Response(200, content=PACK)), "answered 200"),
        (always(httpx.Response(206, headers={"Content-Range": "bytes 7-9/20"}, content=b"abc")), "206"),
        (
            always(httpx.Response(206, headers={"Content-Range": "bytes 0-9/4"}, content=b"0123456789")),
            "more than",
        ),
        (always(httpx.Response(206, headers={"Content-Range": "bytes 0-9/20"})), "gives nothing"),
        (always(httpx.Response(206, headers={"Content-Range": "bytes 0-9/9999999"}, content=b"x")), "larger"),
    ],
)
def test_odd_answers_are_said_and_leave_nothing(tmp_path: Path, answer: Answer, said: str) -> None:
    with pytest.raises(InputProblemsError, match=said):
        fetched(answer, tmp_path / "x.zip", limits=PackLimits(file_bytes=100_000))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "link", ["", "ftp://yard.example/handover/x", "https:///handover/x", "https://yard.example/"]
)
def test_what_is_no_link_is_said(tmp_path: Path, link: str) -> None:
    with pytest.raises(InputProblemsError, match="no link to a pack"):
        fetch_pack(link, tmp_path / "x.zip", transport=httpx.MockTransport(Server()))
