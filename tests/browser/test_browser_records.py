"""A fitter signs in and takes on a horse, with one thumb and at a desk."""

import re

import pytest
from browser_program import Look, follow, sign_in
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_takes_on_a_horse(page: Page, look: Look) -> None:
    width = (page.viewport_size or {"width": 0})["width"]
    page.goto("/")
    look(page, "sign-in")
    sign_in(page)
    look(page, "today")
    page.get_by_role("link", name="Take on a horse").click()
    expect(page.get_by_role("heading", name="Take on a horse")).to_be_visible()
    page.get_by_label("Name needed", exact=False).first.fill(f"Sorrel {width}")
    page.get_by_label("Find: owner or client").fill("wilma")
    page.get_by_role("radio", name=re.compile("^Wilma Fernlea,")).check()
    page.get_by_label(re.compile("^Height")).fill("15.2 hh")
    page.get_by_label(re.compile("^Rider, dressed")).fill("1,234")
    look(page, "new-horse")
    page.get_by_role("button", name="Save").last.click()
    expect(page.get_by_text("can be read as 1234 or as 1.234")).to_be_visible()
    look(page, "new-horse-refused")
    page.get_by_label(re.compile("^Rider, dressed")).fill("70,5")
    page.get_by_role("button", name="Save").last.click()
    expect(page.get_by_role("heading", name=f"Sorrel {width}")).to_be_visible()
    expect(page.get_by_text(re.compile(r"Saved at \d\d:\d\d"))).to_be_visible()
    expect(page.get_by_text("70.5 kg")).to_be_visible()
    look(page, "horse")


PAGES = {
    "horses": "/horses/",
    "people": "/people/",
    "new-client": "/people/new/",
    "yards": "/yards/",
    "saddles": "/saddles/",
    "new-saddle": "/saddles/new/",
    "diary": "/diary/",
    "account": "/account/",
    "practice": "/practice/",
    "members": "/practice/members/",
    "withdrawn": "/withdrawn/",
    "jobs": "/jobs/",
    "crossing": "/crossing/",
    "not-here": "/nowhere/",
}


def test_every_list_and_form_is_fit_to_be_seen(page: Page, look: Look) -> None:
    sign_in(page)
    for name, path in PAGES.items():
        page.goto(path)
        look(page, name)


def test_every_record_is_fit_to_be_seen(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/horses/?q=juniper")
    horse = follow(page, page.get_by_role("link", name=re.compile("Juniper")))
    page.goto(f"{horse}edit/")
    look(page, "edit-horse")
    page.goto(f"{horse}timeline/")
    look(page, "timeline")
    follow(page, page.get_by_role("link", name=re.compile("^Fit check")))
    look(page, "versions-study")
    page.goto(horse)
    follow(page, page.get_by_role("link", name="Who entered what"))
    look(page, "entries")
    page.goto(horse)
    follow(page, page.get_by_role("link", name="Wilma Fernlea", exact=True))
    look(page, "client")
    follow(page, page.get_by_role("link", name="Erase for data protection"))
    look(page, "erase")
    page.goto("/saddles/")
    follow(page, page.get_by_role("link", name=re.compile("brown jumping")))
    look(page, "saddle")


def test_the_dark_is_as_readable(phone: Page, look: Look) -> None:
    phone.emulate_media(color_scheme="dark")
    sign_in(phone)
    for name, path in {"today": "/", "horses": "/horses/", "members": "/practice/members/"}.items():
        phone.goto(path)
        look(phone, f"dark-{name}")
    phone.goto("/people/new/")
    phone.get_by_role("button", name="Save").last.click()
    expect(phone.get_by_text("is needed and was left empty", exact=False)).to_be_visible()
    look(phone, "dark-new-client-refused")
