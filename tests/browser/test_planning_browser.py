"""What to do, in a real browser: steppers under the thumb, the result at once, orders and stock looked at."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import Look, Program, follow, free_port, sign_in
from playwright.sync_api import Page, expect

# First of all, so that the program finds compiled code where every other test keeps it.
import saddlebench  # noqa: F401

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def program(checked_home: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("served") / "home"
    shutil.copytree(checked_home[0], home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_the_steppers_move_by_what_can_be_worked_and_the_result_follows(
    page: Page, checked_home: tuple[Path, str], look: Look
) -> None:
    sign_in(page)
    page.goto(f"/checks/{checked_home[1]}/")
    follow(page, page.get_by_role("link", name="What to do", exact=True))
    look(page, "what-to-do")
    follow(page, page.get_by_role("link", name="Try it by hand"))
    more = page.get_by_role("button", name="near front: more", exact=True)
    field = page.locator("#in-near-front")
    more.click()
    expect(field).to_have_value("3")
    expect(page.locator(".result-line")).to_contain_text("better")
    more.click()
    expect(field).to_have_value("4")
    page.get_by_role("button", name="near front: less", exact=True).click()
    page.get_by_role("button", name="near front: less", exact=True).click()
    expect(field).to_have_value("0")
    expect(page.locator("#result .empty")).to_be_visible()
    # By the keyboard alone: typed, and left.
    field.fill("99")
    field.press("Tab")
    expect(page.locator("#result [role=alert]")).to_contain_text("near front")
    look(page, "try-by-hand")


def test_orders_and_stock_fit_the_screen(page: Page, look: Look) -> None:
    sign_in(page)
    for path, name in (
        ("/orders/", "orders"),
        ("/stock/", "stock"),
        ("/stock/season/", "season"),
        ("/stock/rules/", "choosing-rules"),
    ):
        page.goto(path)
        look(page, name)
