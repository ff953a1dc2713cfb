"""A running program and a real Chromium, on loopback only.

`program` serves an invented practice; `phone` and `laptop` are pages at 390 and 1440 px; `look` keeps a
screenshot under out/screenshots and lets the accessibility checker look at the page.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import AXE, BUNDLE, PATIENT_MS, QUIET, SCREENSHOTS, Look, Program, context_of, free_port
from playwright.sync_api import Browser, Page, expect, sync_playwright

expect.set_options(timeout=PATIENT_MS)
_BAR = "how => { const bar = document.querySelector('.main-nav'); if (bar) bar.style.position = how; }"


@pytest.fixture(scope="session")
def chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        pytest.skip(
            "NO CHROMIUM: the pages are not looked at in a browser; install it (apt-get install chromium)"
        )
    if not BUNDLE.is_file() or not AXE.is_file():
        pytest.skip("NO BUNDLE: the pages are not looked at in a browser; build it (make bundle)")
    return found


@pytest.fixture(scope="session")
def practice_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with the invented practice of the pages' tests, to be copied."""
    home = tmp_path_factory.mktemp("practice") / "home"
    subprocess.run(
        [sys.executable, str(Path(__file__).with_name("fill_home.py"))],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        check=True,
    )
    return home


@pytest.fixture(scope="session")
def checked_home(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> tuple[Path, str]:
    """A data folder with a fit check that the engine made, to be copied, and the check's uuid."""
    home = tmp_path_factory.mktemp("checked") / "home"
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("study_home.py"))],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        check=True,
        capture_output=True,
        text=True,
    )
    return home, done.stdout.split()[-1]


@pytest.fixture(scope="module")
def program(practice_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("served") / "home"
    shutil.copytree(practice_home, home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    # Ended with the module: while it runs, this thread has an event loop, and Django's tests must not see it.
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=list(QUIET))
        yield started
        started.close()


def _page(browser: Browser, width: int, height: int, *, is_phone: bool, url: str) -> Iterator[Page]:
    context = context_of(
        browser,
        url,
        viewport={"width": width, "height": height},
        is_mobile=is_phone,
        has_touch=is_phone,
        locale="en-GB",
        reduced_motion="reduce",
    )
    page = context.new_page()
    broken: list[str] = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    page.on(
        "console",
        lambda line: (
            broken.append(f"{line.text} {line.location}") if "Content Security Policy" in line.text else None
        ),
    )
    yield page
    context.close()
    assert broken == []


@pytest.fixture
def phone(browser: Browser, program: Program) -> Iterator[Page]:
    yield from _page(browser, 390, 844, is_phone=True, url=program.url)


@pytest.fixture
def laptop(browser: Browser, program: Program) -> Iterator[Page]:
    yield from _page(browser, 1440, 900, is_phone=False, url=program.url)


@pytest.fixture
def look(chromium: str) -> Look:
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    checker = AXE.read_text(encoding="utf-8")

    def looked(page: Page, name: str) -> None:
        width = (page.viewport_size or {"width": 0})["width"]
        # In a picture of the whole page the bar at the screen's lower edge would lie across its middle.
        page.evaluate("window.scrollTo(0, 0)")
        page.evaluate(_BAR, "static")
        page.screenshot(path=SCREENSHOTS / f"{name}-{width}.png", full_page=True)
        page.evaluate(_BAR, "")
        overflow = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert overflow <= 0, f"{name} is {overflow} px wider than the screen"
        page.evaluate(checker)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        grave = [
            f"{one['id']}: {one['help']} ({'; '.join(node['html'][:120] for node in one['nodes'][:3])})"
            for one in found["violations"]
            if one["impact"] in {"serious", "critical"}
        ]
        assert grave == [], f"{name} at {width} px"

    return looked
