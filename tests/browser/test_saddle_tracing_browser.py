"""Two photographed sheets of a twisted saddle are read, looked at and recorded on a phone."""

import re
from pathlib import Path

import pytest
from browser_program import LONG_WORK_MS, Look, follow, sign_in
from playwright.sync_api import Page, expect
from saddle_numbers import take_numbers

from saddlebench.demo.saddles import ALL_ROUND, TWISTED
from saddlebench.demo.traced import write_photos
from saddlebench.demo.traced_saddle import leans_deg, traced_saddle_photos
from saddlebench.engine.saddle.numbers import model_from_numbers

pytestmark = pytest.mark.browser
STATIONS = (20.0, 120.0, 240.0, 350.0)


def test_tracings_of_a_saddle_become_its_version_on_a_phone(phone: Page, look: Look, tmp_path: Path) -> None:
    model = model_from_numbers(TWISTED, 800)
    photos = write_photos(traced_saddle_photos(model, behind_mm=STATIONS), tmp_path)
    page = phone
    sign_in(page)
    page.goto("/saddles/")
    address = follow(page, page.get_by_role("link", name=re.compile("Juniper's brown jumping")))
    take_numbers(page, address, ALL_ROUND)
    page.goto(address)
    page.get_by_role("link", name="Trace the underside on paper").click()
    expect(page.get_by_role("heading", name="Tracings of")).to_be_visible()
    look(page, "saddle-tracing-new")
    page.get_by_label("Photos").set_input_files([str(path) for path in photos])
    page.get_by_label("Stations 1, 2, 3").fill(" ".join(f"{one:g}" for one in STATIONS))
    page.get_by_label("Lean of a rule").fill(" ".join(f"{one:.1f}" for one in leans_deg(model, STATIONS)))
    page.get_by_role("button", name="Read the photos").click()
    expect(page.get_by_role("heading", name="What the tracings say")).to_be_visible(timeout=LONG_WORK_MS)
    expect(page.locator("main")).to_contain_text("near side up as it sits")
    look(page, "saddle-tracing-read")
    page.set_viewport_size({"width": 1440, "height": 900})
    look(page, "saddle-tracing-read")
    page.set_viewport_size({"width": 390, "height": 844})
    follow(page, page.get_by_role("link", name="Stations 1, 2"))
    box = page.locator(".handle .reach").nth(2).bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 43.5
    page.get_by_label("Inner edge on the left").first.fill("43,5")
    look(page, "saddle-tracing-photo")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("heading", name="Stations 3, 4")).to_be_visible()
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("button", name="Record it as a new version").click()
    expect(page.get_by_text(re.compile(r"recorded as version \d+, underside from tracings"))).to_be_visible()
