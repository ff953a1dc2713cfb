"""Seven photographed sheets become a measuring on a phone; a point is moved by keyboard."""

from pathlib import Path

import pytest
from browser_program import Look, sign_in
from playwright.sync_api import Page, expect

from saddlebench.demo import shapes
from saddlebench.demo.traced import STATIONS_MM, TOPLINE_STARTS_MM, traced_photos, write_photos

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    return write_photos(traced_photos(shapes.PLAIN), tmp_path_factory.mktemp("sheets"))


def test_seven_photos_become_a_measuring_on_a_phone(
    phone: Page, look: Look, photos: tuple[Path, ...]
) -> None:
    page = phone
    page.set_default_timeout(120_000)
    sign_in(page)
    page.goto("/horses/")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Read tracings on paper").click()
    expect(page.get_by_role("heading", name="Tracings of Juniper")).to_be_visible()
    look(page, "tracing-new")
    page.get_by_label("Photos").set_input_files([str(path) for path in photos])
    page.get_by_label("Stations 1, 2, 3").fill(" ".join(f"{one:g}" for one in STATIONS_MM))
    page.get_by_label("Topline’s long line").fill(f"{TOPLINE_STARTS_MM:g}")
    page.get_by_role("button", name="Read the photos").click()
    expect(page.get_by_role("heading", name="Tracings: Juniper")).to_be_visible(timeout=400_000)
    look(page, "tracing-read")
    page.get_by_role("link", name="Station 1").click()
    handle = page.locator(".handle").nth(3)
    handle.focus()
    page.keyboard.press("Shift+ArrowDown")
    expect(page.locator("[data-moved-said]")).to_contain_text("Moved 0 to the right and 8 down")
    page.keyboard.press("Shift+ArrowUp")
    box = page.locator(".handle .reach").nth(3).bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 43.5
    look(page, "tracing-photo")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("heading", name="Station 2")).to_be_visible()
    page.get_by_role("link", name="All photos").click()
    page.get_by_role("button", name="All lines are right: keep them").click()
    expect(page.get_by_role("heading", name="The back of Juniper")).to_be_visible()
