"""A fitter's whole day on a phone with a slow network, the program killed in its middle, twice.

Signed in, a horse taken on, its back begun by number pad, a check run, a finding read, printed, signed out.
"""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import SCREENSHOTS, Look, Program, follow, free_port, sign_in
from playwright.sync_api import Page, expect

# First of all, so that the program finds compiled code where every other test keeps it.
import saddlebench  # noqa: F401

pytestmark = pytest.mark.browser
SAVED = re.compile(r"saved at \d\d:\d\d")
# A phone far from the mast: round trips of 300 ms, 50 kB/s down, 25 kB/s up.
SLOW = {"offline": False, "latency": 300, "downloadThroughput": 50_000, "uploadThroughput": 25_000}


@pytest.fixture(scope="module")
def program(checked_home: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("day") / "home"
    shutil.copytree(checked_home[0], home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()
    shutil.rmtree(home, ignore_errors=True)


def slow_down(page: Page) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW)


def thumb(page: Page, digits: str) -> None:
    for one in digits:
        page.get_by_role("button", name=one, exact=True).click()
    page.get_by_role("button", name="Next", exact=True).click()


def test_a_day_on_a_slow_network_with_the_program_killed(phone: Page, program: Program, look: Look) -> None:
    page = phone
    slow_down(page)
    sign_in(page)
    page.goto("/horses/new/")
    page.get_by_label(re.compile("^Name")).first.fill("Moss (invented)")
    page.get_by_role("button", name="Save").last.click()
    expect(page.get_by_role("heading", name="Moss (invented)")).to_be_visible()

    page.goto("/measure/new/")
    page.get_by_label("Or a horse that is in no record yet").fill("Moss (invented)")
    page.get_by_role("button", name="Begin", exact=True).click()
    follow(page, page.get_by_role("link", name="Begin: Marks"))
    thumb(page, "120")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    program.kill()
    thumb(page, "260")
    expect(page.locator("[data-saved]")).to_contain_text("kept in this browser")
    look(page, "slow-unsent")
    program.start()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    thumb(page, "430")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)

    page.goto("/horses/?q=juniper")
    follow(page, page.get_by_role("link", name=re.compile("^Juniper")).first)
    page.goto(f"{page.url}check/")
    page.get_by_label(re.compile("^Rider, dressed")).fill("72,5")
    page.get_by_role("group", name="Rocking").get_by_label("Fine").check()
    page.get_by_role("button", name="Run the fit check").click()
    # Killed before the check can be done: it is not lost, and says what became of it.
    page.wait_for_url("**/jobs/**")
    job = page.url
    program.kill()
    program.start()
    page.goto(job)
    again = page.get_by_role("button", name="Ask for it again")
    expect(again.or_(page.get_by_role("heading", name="Findings"))).to_be_visible()
    look(page, "job-interrupted")
    if again.is_visible():
        expect(page.get_by_text("Interrupted.")).to_be_visible()
        again.click()
    expect(page.get_by_role("heading", name="Findings")).to_be_visible()
    # A phone folds what is neither right nor wrong.
    page.evaluate("document.querySelectorAll('details[data-fold]').forEach(one => one.open = true)")
    expect(page.get_by_role("row", name=re.compile("Rocking")).first).to_contain_text(
        re.compile("fine|borderline|not right|cannot tell")
    )
    look(page, "slow-check")
    # Its picture taken, the page is folded as it was.
    page.evaluate("document.querySelectorAll('details[data-fold]').forEach(one => one.open = true)")
    expect(page.get_by_text("Rider 72.5 kg")).to_be_visible()
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    printed = page.pdf(format="A4", print_background=True)
    assert printed.startswith(b"%PDF")
    assert len(printed) > 20_000

    page.goto("/jobs/")
    expect(page.get_by_role("link", name=re.compile("Fit check"))).to_have_count(1)
    look(page, "jobs")
    page.goto("/horses/?q=juniper")
    follow(page, page.get_by_role("link", name=re.compile("^Juniper")).first)
    page.locator(".me summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
