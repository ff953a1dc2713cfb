"""A saddle's numbers beside their drawing, and an instrument described while it is drawn."""

import re

import pytest
from browser_program import Look, follow, sign_in
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
NUMBERS = {
    "tree.width": "265",
    "tree.depth": "160",
    "tree.angle": "88",
    "tree.rise": "60",
    "panel.length": "430",
    "panel.channel.front": "76",
    "panel.channel.waist": "72,5",
    "panel.channel.rear": "76",
}


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_a_saddle_is_taken_down_number_by_number(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/saddles/")
    page.get_by_role("link", name=re.compile("Juniper's brown jumping")).click()
    expect(page.get_by_role("heading", name="Juniper's brown jumping")).to_be_visible()
    page.goto(f"{page.url}measure/")
    look(page, "saddle-numbers")
    for path, text in NUMBERS.items():
        field = page.locator(f"input[name='{path}']")
        field.fill(text)
        expect(page.locator(".dim.now")).to_have_attribute("data-shows", path)
    page.locator("input[name='panel.length']").focus()
    look(page, "saddle-number-shown")
    page.locator("input[name='tree.width']").fill("26,5")
    page.get_by_role("button", name="Record this saddle").click()
    expect(page.locator(".field-problem", has_text="26.5 mm cannot be")).to_be_visible()
    look(page, "saddle-refused")
    page.locator("input[name='tree.width']").fill("265")
    page.get_by_label("Thickness").first.fill("12")
    page.get_by_label("Notes").focus()
    expect(page.locator("#drawn svg")).to_be_visible()
    page.get_by_role("button", name="Record this saddle").click()
    expect(page.get_by_text(re.compile(r"recorded as version \d"))).to_be_visible()
    expect(page.locator(".saddle-picture")).to_be_visible()
    look(page, "saddle-measured")


def test_an_instrument_is_drawn_while_it_is_described(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/instruments/")
    look(page, "instruments")
    follow(page, page.get_by_role("link", name=re.compile("24 pins of 15 mm")))
    look(page, "instrument-shipped")
    page.get_by_role("link", name="Describe ours, starting from this").click()
    expect(page.get_by_role("img", name=re.compile("24 pins"))).to_be_visible()
    page.get_by_label("Number of pins").fill("30")
    page.get_by_label("Pin over the midline").fill("15,5")
    page.get_by_label("Pin over the midline").press("Tab")
    expect(page.get_by_role("img", name=re.compile("30 pins"))).to_be_visible()
    page.get_by_label("Pin over the midline").fill("40")
    page.get_by_role("button", name="Keep this instrument").click()
    expect(page.locator(".has-problem")).to_have_count(1)
    look(page, "instrument-refused")
    page.get_by_label("Pin over the midline").fill("15,5")
    page.get_by_label("What you call it").fill("our long comb")
    page.get_by_role("button", name="Keep this instrument").click()
    expect(page.get_by_text("our long comb: kept.")).to_be_visible()


def test_chain_and_curve_are_drawn(laptop: Page, look: Look) -> None:
    sign_in(laptop)
    for name in ("chain-8-uneven", "curve-mm"):
        laptop.goto(f"/instruments/new/?from={name}")
        look(laptop, f"instrument-{name}")


def test_readings_come_in_from_a_table_or_every_problem_is_listed(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/measure/new/")
    page.get_by_label("Or a horse that is in no record yet").fill("Bramble (invented)")
    page.get_by_label("Instrument", exact=True).select_option("comb-41x10")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.get_by_text("Measure again, add a section").click()
    page.get_by_role("link", name=re.compile("from a table")).click()
    rows = "station,distance,L1,L2,R1,R2\n1,0,10,twenty,11,22\n2,,10,20,11,1.234\n"
    page.get_by_label("The table", exact=True).set_input_files(
        {"name": "monday.csv", "mimeType": "text/csv", "buffer": rows.encode()}
    )
    page.get_by_role("button", name="Bring in").click()
    expect(page.get_by_text(re.compile("Nothing came in"))).to_be_visible()
    look(page, "table-refused")
    page.goto("/measure/")
    look(page, "measure")
