"""The program as a process, and what the browser tests share besides fixtures."""

import http.cookiejar
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener, urlopen

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page

# So that every program started finds compiled code where the other tests keep it, whatever its own folder.
import saddlebench  # noqa: F401
from support.served import NOT_WARMING, RUN

REPOSITORY = Path(__file__).resolve().parent.parent.parent
SCREENSHOTS = Path(os.environ.get("SADDLEBENCH_SCREENSHOTS") or REPOSITORY / "out" / "screenshots")
AXE = REPOSITORY / "node_modules" / "axe-core" / "axe.min.js"
BUNDLE = REPOSITORY / "src" / "saddlebench" / "web" / "base" / "static" / "bundle" / "base-main.js"
PASSWORD = "invented-pass-phrase"
OWNER = "orla@tussock.example"
PATIENT_MS = 300_000
"""How long a state is waited for: machines that run many tests at once are slow; no test here is of speed."""
LONG_WORK_MS = 600_000
"""The same for what the engine works out in the background."""
QUIET = (
    "--no-sandbox",
    "--headless=new",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-domain-reliability",
    "--disable-sync",
    "--no-first-run",
    "--no-pings",
    "--disable-features=OptimizationHints,Translate,MediaRouter,CertificateTransparencyComponentUpdater",
)
Look = Callable[[Page, str], None]


@dataclass
class Program:
    """`saddlebench serve` as a process, which can be killed and started again."""

    home: Path
    port: int
    more: tuple[str, ...] = ()
    source: Path | None = None
    """Where another build of the program lies, instead of the one under test."""
    warms: bool = False
    """Whether the engine is made ready beside the pages, as it is for people."""
    process: "subprocess.Popen[bytes] | None" = None
    log: Path = field(init=False)

    def __post_init__(self) -> None:
        self.log = self.home.parent / "program.log"

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-c", self._run(), "serve", "--port", str(self.port), *self.more],
                env={**os.environ, "SADDLEBENCH_HOME": str(self.home), **self._which()},
                stdout=log,
                stderr=log,
            )
        self._wait()

    def _run(self) -> str:
        return RUN if self.warms else NOT_WARMING + RUN

    def _which(self) -> dict[str, str]:
        return {} if self.source is None else {"PYTHONPATH": str(self.source)}

    def _wait(self) -> None:
        for _ in range(1800):
            assert self.process is not None
            if self.process.poll() is not None:
                pytest.fail(f"the program did not start:\n{self.log.read_text(encoding='utf-8')}")
            try:
                with urlopen(f"{self.url}/health/", timeout=5) as answer:
                    if answer.status == 200:
                        return
            except (URLError, ConnectionError, TimeoutError):
                time.sleep(0.1)
        pytest.fail(f"the program does not answer:\n{self.log.read_text(encoding='utf-8')}")

    def kill(self) -> None:
        """End it as a flat battery would: at once, without a word."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def until(page: Page, true: Callable[[], bool], what: str) -> None:
    """Wait until something holds; asked from outside, since pages let no text become a script."""
    for _ in range(PATIENT_MS // 50):
        if true():
            return
        page.wait_for_timeout(50)
    pytest.fail(f"{what} did not happen")


def follow(page: Page, what: Locator) -> str:
    """Click what leads to another address, wait until its page is there, and return the address."""
    what.wait_for()
    left = page.url
    what.click()
    page.wait_for_url(lambda url: url != left)
    return page.url


def context_of(browser: Browser, url: str, **how: Any) -> BrowserContext:
    """A person's browser at the program's address, which waits patiently."""
    context = browser.new_context(base_url=url, **how)
    context.set_default_timeout(PATIENT_MS)
    return context


def all_pictures(page: Page) -> None:
    """Let every picture be fetched, and wait until each is there, or cannot be."""
    # Each time anew: a page may only now have taken the place of another.
    there = """[...document.images].map(one => { one.loading = 'eager'; return one.complete; })
               .every(complete => complete)"""
    until(page, lambda: bool(page.evaluate(there)), "every picture")


def sign_in(page: Page, email: str = OWNER) -> None:
    """Sign in, in whatever language the browser asks for."""
    page.goto("/")
    page.locator("input[name='sign-in-email']").fill(email)
    page.locator("input[name='sign-in-password']").fill(PASSWORD)
    follow(page, page.locator("form[action^='/sign-in/'] button[type=submit]"))


class Caller:
    """A client that keeps its cookies, as a browser does over a restart of the program."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.jar = http.cookiejar.CookieJar()
        self.opener = build_opener(HTTPCookieProcessor(self.jar))

    def share(self, other: "Caller") -> None:
        """Be signed in as another caller is."""
        for cookie in list(other.jar):
            self.jar.set_cookie(cookie)

    def get(self, path: str) -> str:
        with self.opener.open(self.url + path, timeout=30) as answer:
            return str(answer.read().decode())

    def post(self, path: str, given: dict[str, str], token: str) -> str:
        data = urlencode({**given, "csrfmiddlewaretoken": token}).encode()
        with self.opener.open(self.url + path, data=data, timeout=30) as answer:
            return str(answer.read().decode())

    def token(self, path: str) -> str:
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.get(path))
        assert found
        return found[1]

    def sign_in(self) -> None:
        given = {"sign-in-email": OWNER, "sign-in-password": PASSWORD}
        self.post("/sign-in/", given, self.token("/sign-in/"))


class Touch:
    """One finger on the screen, as the browser gets it."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)

    def start(self, at: tuple[float, float]) -> None:
        self._send("touchStart", [at])

    def move(self, to: tuple[float, float]) -> None:
        self._send("touchMove", [to])

    def end(self) -> None:
        self._send("touchEnd", [])

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.start(start)
        for share in (0.25, 0.5, 0.75, 1.0):
            self.move((start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])))
        self.end()

    def _send(self, kind: str, points: list[tuple[float, float]]) -> None:
        touches = [{"x": x, "y": y} for x, y in points]
        self._session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})
