"""Fetching a pack by a link: in bounds, and going on where it was broken off."""

import re
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import httpx

from saddlebench.engine.errors import InputProblemsError, input_problem
from saddlebench.exchange.packs.container import PackLimits

_TRIES, _TIMEOUT_S = 5, 30.0
_RANGE = re.compile(r"bytes (\d+)-(\d+)/(\d+)")
_WORDS = {
    404: "the link leads nowhere: it was ended, has run out, or is not whole",
    410: "the link was used as often as it may be",
    429: "too many wrong links came from here; wait a quarter of an hour",
}
Told = Callable[[int, int], None]


def _untold(got: int, of: int) -> None:
    del got, of


def fetch_pack(
    link: str,
    path: Path,
    *,
    told: Told = _untold,
    limits: PackLimits | None = None,
    transport: httpx.BaseTransport | None = None,
) -> int:
    """Fetch a pack, and return its size; one use of the link, however often it is broken off.

    Parameters
    ----------
    link : as the sender gave it
    path : where the pack is written, whole or not at all
    told : how many bytes there are so far, and of how many
    limits : how large it may be
    transport : how to reach the server, if not over the network

    Raises
    ------
    InputProblemsError
        If the link is none, leads nowhere, or the server breaks off again and again.
    OSError
        If the file cannot be written.
    """
    parts = urlsplit(link)
    if parts.scheme not in ("https", "http") or not parts.hostname or "/handover/" not in parts.path:
        raise input_problem("this is no link to a pack", "Copy the whole link, from https:// to its end.")
    draft = path.with_name(f".{path.name}.part")
    draft.unlink(missing_ok=True)
    try:
        with httpx.Client(timeout=_TIMEOUT_S, follow_redirects=False, transport=transport) as client:
            size = _fetched(client, link.rstrip("/") + "/pack/", draft, limits or PackLimits(), told)
        draft.chmod(0o600)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
    return size


def _fetched(client: httpx.Client, begin: str, draft: Path, limits: PackLimits, told: Told) -> int:
    try:
        first = client.get(begin)
    except httpx.HTTPError as error:
        raise input_problem(f"there is no answer: {error}", "Check the link, and try again.") from None  # noqa: EM102
    if first.status_code != 302:
        raise _refused(first.status_code)
    address = urljoin(begin, first.headers["Location"])
    if urlsplit(address).netloc != urlsplit(begin).netloc:
        raise input_problem("the server sends us somewhere else", "Do not use this link.")
    for _ in range(_TRIES):
        try:
            return _go_on(client, address, draft, limits, told)
        except httpx.TransportError:
            continue
    raise input_problem("the server breaks off again and again", "Try again later.")


def _go_on(client: httpx.Client, address: str, draft: Path, limits: PackLimits, told: Told) -> int:
    got = draft.stat().st_size if draft.exists() else 0
    while True:
        before = got
        with client.stream("GET", address, headers={"Range": f"bytes={got}-"}) as answer:
            of = _whole(answer, got)
            if of > limits.file_bytes:
                msg = f"the pack is larger than {limits.file_bytes >> 20} MB"
                raise input_problem(msg, "Ask for it in parts.")
            with draft.open("ab") as out:
                for block in answer.iter_bytes():
                    out.write(block)
                    got += len(block)
                    if got > of:
                        raise input_problem("the server sends more than it says", "Do not use this link.")
                    told(got, of)
        if got == of:
            return got
        if got == before:
            raise input_problem("the server gives nothing any more", "Try again later.")


def _whole(answer: httpx.Response, got: int) -> int:
    match = _RANGE.fullmatch(answer.headers.get("Content-Range", ""))
    if answer.status_code != 206 or match is None or int(match[1]) != got:
        raise _refused(answer.status_code)
    return int(match[3])


def _refused(status: int) -> InputProblemsError:
    what = _WORDS.get(status, f"the server answered {status}")
    return input_problem(what, "Ask the sender for another link.")
