"""A phone that trusts the practice's root and nothing else: the encrypted door, the start without a server.

Chromium takes the root as a person would add it, in a list of its own; one that lacks it shows a warning.
"""

import os
import re
import shutil
import ssl
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from browser_program import BUNDLE, QUIET, Look, Program, context_of, follow, free_port
from phone_page import journal, ready, sent, start_visit
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect, sync_playwright

from saddlebench.practice.keeping.certificates import (
    ensure_served,
    find_authority,
    served_names,
    trust_folder,
)
from saddlebench.web.doors import own_addresses
from support.trusting import is_possible, trust_root

pytestmark = pytest.mark.browser
LINES = re.compile(r"(?:^[0-9A-F]{2}(?: [0-9A-F]{2}){7}\n){4}", re.MULTILINE)


@pytest.fixture(scope="module")
def name() -> str:
    """The machine's name in its network, which browsers here are told to look for on this machine."""
    if not is_possible():
        pytest.skip("NO NSS: no list of roots can be made for a browser; trusting is not tested (libnss3)")
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    found = [one for one in own_addresses() if one.endswith(".local")]
    return found[0]


@pytest.fixture(scope="module")
def secured(practice_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Program, int]]:
    home = tmp_path_factory.mktemp("trusted") / "home"
    shutil.copytree(practice_home, home)
    port = free_port()
    running = Program(home=home, port=free_port(), more=("--phone", "--secure-port", str(port)))
    running.start()
    yield running, port
    running.kill()


def started(chromium: str, name: str, home: Path) -> Iterator[Browser]:
    home.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium,
            args=[*QUIET, f"--host-resolver-rules=MAP {name} 127.0.0.1"],
            env={**os.environ, "HOME": str(home)},
        )
        yield browser
        browser.close()


@pytest.fixture
def trusting(chromium: str, name: str, secured: tuple[Program, int], tmp_path: Path) -> Iterator[Browser]:
    """A browser whose list of roots holds what the trust page gives, and nothing else of this machine."""
    root = tmp_path / "root.crt"
    with urllib.request.urlopen(f"{secured[0].url}/trust/saddlebench-trust.crt", timeout=30) as answer:
        root.write_bytes(answer.read())
    trust_root(tmp_path / "person", root)
    yield from started(chromium, name, tmp_path / "person")


@pytest.fixture
def doubting(chromium: str, name: str, tmp_path: Path) -> Iterator[Browser]:
    yield from started(chromium, name, tmp_path / "stranger")


def phone_of(browser: Browser, base: str) -> BrowserContext:
    return context_of(
        browser, base, viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, locale="en-GB"
    )


def signed_in(page: Page) -> None:
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill("orla@tussock.example")
    page.get_by_label("Password").fill("invented-pass-phrase")
    follow(page, page.get_by_role("button", name="Sign in"))


def test_a_trusting_phone_starts_without_the_server_and_loses_nothing(
    trusting: Browser, name: str, secured: tuple[Program, int]
) -> None:
    program, port = secured
    context = phone_of(trusting, f"https://{name}:{port}")
    page = context.new_page()
    signed_in(page)
    cookies = {one["name"]: one["secure"] for one in context.cookies()}
    assert cookies == {"__Host-saddlebench_session": True, "__Host-saddlebench_form": True}
    assert page.evaluate("isSecureContext")
    ready(page)
    program.kill()
    try:
        page.reload()
        expect(page.get_by_role("heading", name="At the horse")).to_be_visible()
        start_visit(page, "Fennel")
        assert len(journal(page)) == 2
        page.goto("/horses/")
        expect(page.get_by_text("No server answers")).to_be_visible()
        # The laptop was elsewhere meanwhile: what it served there does not hold for where it is now.
        folder = trust_folder(program.home)
        root = find_authority(folder)
        elsewhere = ensure_served(folder, "van", ("10.9.9.9",), datetime.now(UTC))
        assert elsewhere.was_renewed
    finally:
        program.start()
    page.goto("/phone/")
    sent(page)
    assert journal(page) == []
    assert name in served_names(folder)
    known = find_authority(folder)
    assert root is not None
    assert known is not None
    assert known.root == root.root
    context.close()


def test_a_phone_that_does_not_trust_is_warned_and_plain_pages_keep_nothing(
    doubting: Browser, name: str, secured: tuple[Program, int]
) -> None:
    program, port = secured
    context = phone_of(doubting, f"http://{name}:{program.port}")
    warned = context.new_page()
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        warned.goto(f"https://{name}:{port}/")
    # Chromium goes to its warning by itself, later: a page that is to go on is another one.
    warned.close()
    page = context.new_page()
    signed_in(page)
    page.goto("/phone/")
    expect(page.get_by_text("the connection is not encrypted")).to_be_visible()
    assert not page.evaluate("isSecureContext")
    page.get_by_role("link", name="Let this phone trust the laptop").tap()
    expect(page.get_by_role("heading", name="Let a phone trust this laptop")).to_be_visible()
    context.close()


def test_window_page_and_file_show_one_fingerprint(secured: tuple[Program, int]) -> None:
    program, _ = secured
    authority = find_authority(trust_folder(program.home))
    assert authority is not None
    shown = LINES.findall(program.log.read_text(encoding="utf-8"))
    assert {one.strip() for one in shown} == {authority.fingerprint}
    with urllib.request.urlopen(f"{program.url}/trust/", timeout=30) as answer:
        page = answer.read().decode()
    assert all(line in page for line in authority.fingerprint.splitlines())


def test_nothing_but_the_root_makes_the_connection_trusted(secured: tuple[Program, int]) -> None:
    _, port = secured
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(f"https://localhost:{port}/", context=ssl.create_default_context(), timeout=30)


def test_the_pages_look_right(phone: Page, laptop: Page, secured: tuple[Program, int], look: Look) -> None:
    for page in (phone, laptop):
        page.goto(f"{secured[0].url}/trust/")
        look(page, "trust-here")
