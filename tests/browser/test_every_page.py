"""Every page that the program has, at both widths: a picture kept, nothing wider than the screen, no barrier.

The list of pages comes from the program's own addresses, so that a new page cannot go without its picture.
"""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from browser_program import Look, Program, all_pictures, free_port, sign_in
from playwright.sync_api import Page

# First of all, so that the program finds compiled code where every other test keeps it.
import saddlebench  # noqa: F401

pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Everything:
    """A folder with one of everything, and where each page is."""

    home: Path
    pages: dict[str, str]
    wrong: list[str]


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> Everything:
    home = tmp_path_factory.mktemp("everything") / "home"
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("every_home.py"))],
        env={
            **os.environ,
            "SADDLEBENCH_HOME": str(home),
            "DJANGO_SETTINGS_MODULE": "saddlebench.web.settings",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4000:]
    told = json.loads(done.stdout)
    return Everything(home=home, pages=told["pages"], wrong=told["wrong"])


@pytest.fixture(scope="module")
def program(everything: Everything) -> Iterator[Program]:
    running = Program(home=everything.home, port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_no_page_is_left_out(everything: Everything) -> None:
    assert everything.wrong == [], "say in every_home.py which record fills these addresses"
    assert len(everything.pages) > 60


def test_every_page_is_fit_to_be_seen(page: Page, everything: Everything, look: Look) -> None:
    sign_in(page)
    wrong = []
    for name, address in everything.pages.items():
        answer = page.goto(address)
        if answer is None or answer.status not in {200, 422}:
            wrong.append(f"{name}: {answer.status if answer else 'no answer'} at {address}")
            continue
        page.evaluate("document.querySelectorAll('main details').forEach(one => one.open = true)")
        all_pictures(page)
        try:
            look(page, f"every-{name}")
        except AssertionError as error:
            wrong.append(f"{name}: {str(error)[:400]}")
    assert wrong == []
