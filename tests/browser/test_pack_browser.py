"""A pack in a real browser, from one program to another: chosen, brought, looked at, taken, answered."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import PASSWORD, Look, Program, free_port
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> tuple[Path, str]:
    home = tmp_path_factory.mktemp("packs") / "home"
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("pack_home.py"))],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        check=True,
        capture_output=True,
        text=True,
    )
    return home, done.stdout.split()[-1]


def _running(filled: tuple[Path, str], folder: Path) -> Iterator[Program]:
    shutil.copytree(filled[0], folder / "home")
    running = Program(home=folder / "home", port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture
def program(filled: tuple[Path, str], tmp_path: Path) -> Iterator[Program]:
    """The sender's program."""
    (tmp_path / "sender").mkdir()
    yield from _running(filled, tmp_path / "sender")


@pytest.fixture
def other(filled: tuple[Path, str], tmp_path: Path) -> Iterator[Program]:
    """The recipient's program, with a folder of its own."""
    (tmp_path / "recipient").mkdir()
    yield from _running(filled, tmp_path / "recipient")


def sign_in(page: Page, url: str, email: str) -> None:
    page.goto(f"{url}/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{url}/")


@pytest.mark.parametrize("width", ["phone", "laptop"])
def test_a_back_goes_to_another_practice_and_is_answered(
    request: pytest.FixtureRequest,
    width: str,
    filled: tuple[Path, str],
    program: Program,
    other: Program,
    look: Look,
    tmp_path: Path,
) -> None:
    page: Page = request.getfixturevalue(width)
    sign_in(page, program.url, "una@gorse.example")
    page.goto(f"{program.url}/horses/{filled[1]}/")
    page.get_by_role("link", name="Hand over").click()
    page.get_by_label("Message").fill("Please look at the left shoulder.")
    page.locator("input[value^='photos:']").first.check()
    page.locator("input[value^='saddles:']").first.check()
    look(page, "pack-new")
    page.get_by_role("button", name="Make the pack").click()
    expect(page.get_by_role("link", name="Download it")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download it").click()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    assert re.fullmatch(r"sorrel-\d{4}-\d\d-\d\d\.zip", file.name)
    page.get_by_role("button", name="Make a link").click()
    link = page.get_by_label("Link", exact=True).input_value()
    look(page, "pack-sent")
    page.goto(link)
    expect(page.get_by_role("link", name="Fetch it")).to_be_visible()
    look(page, "pack-landing")
    page.goto(f"{program.url}/packs/key/")
    fingerprint = page.locator("p.lead strong").inner_text()
    look(page, "pack-key")

    # Another host name: cookies know no ports, and these are two programs.
    there = other.url.replace("127.0.0.1", "localhost")
    sign_in(page, there, "orla@tussock.example")
    page.goto(f"{there}/packs/")
    look(page, "packs-empty")
    page.get_by_label("Pack", exact=True).set_input_files(file)
    page.get_by_role("button", name="Look at it", exact=True).click()
    expect(page.get_by_text("Nothing is written yet")).to_be_visible()
    expect(page.get_by_text(fingerprint)).to_be_visible()
    look(page, "pack-look")
    page.get_by_role("button", name="Take it").click()
    expect(page.get_by_role("alert").first).to_contain_text("Nothing was taken")
    page.get_by_label(re.compile("I compared every digit")).check()
    page.get_by_label("it is another one").check()
    page.get_by_role("button", name="Take it").click()
    expect(page.get_by_role("heading", name=re.compile("Taken from Gorse"))).to_be_visible()
    look(page, "pack-taken")
    page.get_by_role("link", name="Answer it").click()
    page.get_by_label(re.compile("What was done")).fill("Rebuilt and proved\nThree saddles tried")
    page.get_by_label(re.compile("What you ask")).fill("May we see her ridden?")
    look(page, "pack-answer")
    page.get_by_role("button", name="Make the answer").click()
    expect(page.get_by_role("link", name="Download it")).to_be_visible()
    page.goto(f"{there}/packs/")
    look(page, "packs")
