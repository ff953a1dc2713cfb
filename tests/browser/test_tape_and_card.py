"""A section by tape keyed in by thumb, drawn as it grows; the yard card chosen for a visit and for a day."""

import re

import pytest
from browser_program import Look, follow, sign_in
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
READ = ("110", "320", "57", "55")
"""Two widths, then near and off."""


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    found: Page = request.getfixturevalue(request.param)
    sign_in(found)
    return found


def begin(page: Page) -> None:
    page.goto("/measure/new/")
    page.get_by_label("Or a horse that is in no record yet").fill("Sorrel (invented)")
    page.get_by_label("Instrument", exact=True).select_option("tape-hand")
    page.get_by_label("First").fill("0")
    page.get_by_label(re.compile("^Apart")).fill("130")
    page.get_by_label("Sections", exact=True).fill("4")
    page.get_by_label("Typed in from a yard card").check()


def key_in(page: Page, number: str) -> None:
    for digit in number:
        page.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Next", exact=True).click()


def test_a_section_by_tape_is_keyed_in_and_drawn(page: Page, look: Look) -> None:
    begin(page)
    look(page, "tape-start")
    page.get_by_role("button", name="Begin", exact=True).last.click()
    expect(page.get_by_text("Not enough to work with yet")).to_be_visible()
    page.goto(f"{page.url}part/s1r0/")
    expect(page.get_by_text("Width 30 mm down").first).to_be_visible()
    look(page, "tape-pad")
    for number in READ:
        key_in(page, number)
    picture = page.locator("[data-picture] svg")
    expect(picture).to_have_attribute("aria-label", re.compile("6 points read"))
    look(page, "tape-section")
    page.goto(re.sub(r"part/.*", "", page.url))
    look(page, "tape-overview")


def test_the_tapes_description_is_drawn(page: Page, look: Look) -> None:
    page.goto("/instruments/new/?from=tape-hand")
    expect(page.get_by_role("img", name=re.compile("widths 30 and 150 mm below"))).to_be_visible()
    look(page, "tape-instrument")


def test_a_card_is_chosen_for_a_visit_and_for_its_day(page: Page, look: Look) -> None:
    page.goto("/visits/new/")
    page.get_by_label("The horse's name").fill("Sorrel (invented)")
    page.get_by_role("button", name="Only plan it").click()
    follow(page, page.get_by_role("link", name="Yard card"))
    look(page, "card-visit")
    page.get_by_label("Instrument taken along").select_option("tape-hand")
    # A browser without a window saves a PDF instead of showing it.
    address = page.locator("form[action$='card.pdf']").get_attribute("action")
    answer = page.request.get(f"{address}?instrument=tape-hand&part=back")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF-")
    page.goto("/diary/")
    page.get_by_role("link", name="Yard cards for a day").click()
    expect(page.get_by_role("heading", name="One card for each")).to_be_visible()
    look(page, "card-day")
