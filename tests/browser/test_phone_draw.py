"""Drawing on a photo at the horse: by thumb and by keyboard, kept through a reload, sent with the photo."""

import json
import re

import pytest
from browser_program import BUNDLE, Look, Program, sign_in
from phone_page import in_tables, photo_of, ready, sent, start_visit
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def test_marks_are_drawn_without_signal_and_come_with_the_photo(
    phone: Page, program: Program, look: Look
) -> None:
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Rowan")
    phone.get_by_role("link", name="Photos").click()
    phone.locator("input[type=file]").first.set_input_files(photo_of(5))
    look(phone, "phone-photos")
    phone.get_by_text("Draw on a photo: 1 photo").tap()
    phone.get_by_role("link", name=re.compile("not sent: draw on it")).tap()
    surface = phone.locator("svg[data-draw]")
    expect(surface).to_be_visible()
    tap_at(phone, 0.2, 0.5)
    expect(phone.get_by_text("Point 1 set, 1 more.")).to_be_visible()
    tap_at(phone, 0.8, 0.4)
    expect(phone.get_by_text("✓ kept on this phone")).to_be_visible()
    expect(phone.locator(".drawn-list li")).to_have_count(1)

    # An angle by the keyboard alone: a cross is moved, each point set with Enter.
    phone.get_by_role("radio", name="Angle").check()
    surface.focus()
    for moves in ("ArrowLeft", "ArrowUp", "ArrowRight"):
        phone.keyboard.press(f"Shift+{moves}")
        phone.keyboard.press("Enter")
    expect(phone.locator(".drawn-list li")).to_have_count(2)

    phone.get_by_role("radio", name="Known length").check()
    phone.get_by_label("Known length, mm").fill("300")
    tap_at(phone, 0.1, 0.9)
    tap_at(phone, 0.5, 0.9)
    expect(phone.locator(".drawn-list li").last).to_contain_text("Known length of 300 mm")
    look(phone, "phone-draw")
    phone.reload()
    expect(phone.locator(".drawn-list li")).to_have_count(3)
    phone.locator(".drawn-list li").first.get_by_role("button", name="Rub off").tap()
    expect(phone.locator(".drawn-list li")).to_have_count(2)

    # While it is being drawn on, a photo waits, even with the server in reach.
    phone.context.set_offline(False)
    phone.evaluate("window.dispatchEvent(new Event('online'))")
    expect(phone.locator(".bar-line strong")).to_contain_text("1 photo not sent")
    phone.get_by_role("link", name="Done").tap()
    sent(phone)
    [(drawn,)] = in_tables(
        program, "select drawn from practice_photo where shot = 'near_side' order by id desc"
    )
    assert [one["kind"] for one in json.loads(drawn)] == ["angle", "known"]
    phone.get_by_text("Draw on a photo: 1 photo").tap()
    expect(phone.get_by_text("2 marks on it")).to_be_visible()


def tap_at(page: Page, across: float, down: float) -> None:
    box = page.locator("svg[data-draw]").bounding_box()
    assert box is not None
    page.locator("svg[data-draw]").tap(position={"x": box["width"] * across, "y": box["height"] * down})
