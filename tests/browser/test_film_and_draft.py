"""A film that really plays, and a saddle begun on one device and recorded on another."""

import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from browser_program import Look, Program, context_of, follow, sign_in, until
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser
FRAMES, PER_SECOND = 30, 10.0
REST = {
    "tree.depth": "155",
    "tree.angle": "88",
    "tree.rise": "60",
    "panel.channel.front": "76",
    "panel.channel.waist": "72",
    "panel.channel.rear": "76",
}


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """Return a film of three seconds as OpenCV's own codec writes it, each frame brighter than the last."""
    path = tmp_path / "trot.webm"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"VP80"), PER_SECOND, (320, 240))
    for number in range(FRAMES):
        writer.write(np.full((240, 320, 3), 60 + 6 * number, dtype=np.uint8))
    writer.release()
    return path


def juniper(page: Page) -> str:
    page.goto("/horses/?q=juniper")
    return follow(page, page.get_by_role("link", name=re.compile("^Juniper")))


def test_a_film_of_a_horse_is_kept_without_a_visit_and_plays(phone: Page, look: Look, film: Path) -> None:
    page = phone
    sign_in(page)
    page.goto(f"{juniper(page)}photos/")
    page.locator("#file-other").set_input_files(film)
    shown = page.locator("#shot-other video")
    expect(shown).to_be_visible()
    page.reload()
    video = page.locator("ul.thumbs video").first
    expect(video).to_be_visible()
    look(page, "film-of-horse")
    video.evaluate("one => { one.muted = true; return one.play(); }")
    until(page, lambda: video.evaluate("one => one.currentTime") > 0.5, "playing")
    size = video.evaluate("one => [one.videoWidth, one.videoHeight]")
    assert size == [320, 240]
    assert video.evaluate("one => one.duration") == pytest.approx(FRAMES / PER_SECOND, abs=0.3)
    # To its end, and back into its middle: a part is asked for and comes.
    until(page, lambda: bool(video.evaluate("one => one.ended")), "coming to its end")
    video.evaluate("one => { one.currentTime = 1.5; }")
    until(page, lambda: not video.evaluate("one => one.seeking"), "going back into it")
    assert video.evaluate("one => one.currentTime") == pytest.approx(1.5, abs=0.2)
    assert video.evaluate("one => one.error") is None


def test_a_saddle_begun_on_the_phone_is_recorded_on_the_laptop(
    phone: Page, browser: Browser, program: Program, look: Look
) -> None:
    page = phone
    sign_in(page)
    page.goto("/saddles/")
    follow(page, page.get_by_role("link", name=re.compile("Juniper's brown jumping")))
    address = f"{page.url}measure/"
    page.goto(address)
    for path, text in (("tree.width", "262"), ("tree.depth", "15,5"), ("panel.length", "431")):
        page.locator(f"input[name='{path}']").fill(text)
    page.get_by_label("Notes").fill("Left half done at the yard")
    page.locator("input[name='tree.rise']").focus()
    expect(page.get_by_text("not recorded yet").first).to_be_visible()

    context = context_of(browser, program.url, viewport={"width": 1440, "height": 900})
    laptop = context.new_page()
    sign_in(laptop)
    laptop.goto(address)
    assert laptop.locator("input[name='tree.width']").input_value() == "262"
    assert laptop.locator("input[name='tree.depth']").input_value() == "15,5"
    assert laptop.get_by_label("Notes").input_value() == "Left half done at the yard"
    look(laptop, "saddle-draft-taken-up")
    for path, text in REST.items():
        laptop.locator(f"input[name='{path}']").fill(text)
    laptop.get_by_role("button", name="Record this saddle").click()
    expect(laptop.get_by_text(re.compile(r"recorded as version \d"))).to_be_visible()
    # Recorded there, it is no draft here any more.
    page.goto(address)
    assert page.locator("input[name='tree.depth']").input_value() == "155"
    context.close()
