"""Two fresh installs: measured, sent by a link, rebuilt, proved, tried on three saddles, answered.

All of it on pages, each practice in a browser of its own: the fitter on a phone, the workshop on a laptop.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from browser_program import LONG_WORK_MS, PASSWORD, Look, Program, context_of, follow, free_port
from playwright.sync_api import Browser, Page, expect

from saddlebench.demo.day import DAY
from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.files import write_table
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.records import SettingsDocument, parse_document

pytestmark = pytest.mark.browser
HORSE = YARD[0]
MEASURED_WITH, SET_ON, PROVED_WITH = "comb-41x10", "comb-24x15-foot", "comb-41x10"


def running(home: Path) -> Iterator[Program]:
    home.parent.mkdir()
    program = Program(home=home, port=free_port())
    program.start()
    yield program
    program.kill()


@pytest.fixture
def fitter(chromium: str, tmp_path: Path) -> Iterator[Program]:
    yield from running(tmp_path / "fitter" / "home")


@pytest.fixture
def workshop(chromium: str, tmp_path: Path) -> Iterator[Program]:
    yield from running(tmp_path / "workshop" / "home")


def opened(browser: Browser, program: Program, width: int) -> Page:
    context = context_of(
        browser,
        program.url,
        viewport={"width": width, "height": 860},
        locale="en-GB",
        reduced_motion="reduce",
        is_mobile=width < 600,
        has_touch=width < 600,
    )
    return context.new_page()


def found_practice(page: Page, practice: str, person: str) -> None:
    page.goto("/")
    page.get_by_label("Name of the practice").fill(practice)
    page.get_by_label("Your name").fill(person)
    page.get_by_label("Your e-mail address").fill(f"{person.split(maxsplit=1)[0].lower()}@invented.example")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("link", name="Horses").first).to_be_visible()


def key_in(page: Page, numbers: list[float]) -> None:
    """Type readings on the number pad by keyboard, to its end."""
    expect(page.locator(".pad-number")).to_be_visible()
    for number in numbers:
        page.keyboard.type(f"{number:g}")
        page.keyboard.press("Enter")
    expect(page.get_by_role("button", name=re.compile("^Next: "))).to_be_visible()


def bring_readings(page: Page, table: Path) -> None:
    page.get_by_text("Measure again, add a section, bring in a table").click()
    page.get_by_role("link", name="Bring in readings from a table").click()
    page.get_by_label("The table", exact=True).set_input_files(table)
    page.get_by_role("button", name="Bring in").click()
    expect(page.get_by_text("sections came in from the table")).to_be_visible()


def mark(page: Page) -> None:
    """Type the marks, and how it stood."""
    marks = HORSE.shape.landmarks
    follow(page, page.get_by_role("link", name=re.compile("Marks")).first)
    key_in(
        page,
        [
            one.value_mm
            for one in (
                marks.withers, marks.lowest, marks.last_rib, marks.shoulder_left, marks.shoulder_right
            )
        ],
    )  # fmt: skip
    page.get_by_role("button", name=re.compile("^Next: ")).click()
    expect(page.get_by_role("heading", name=re.compile("^Stance|stands", re.IGNORECASE))).to_be_visible()
    key_in(page, [0.0, 0.0, 4.0])
    page.get_by_role("link", name="All parts").click()
    expect(page.get_by_text("Parts, in the order of the work")).to_be_visible()


def measure(page: Page, folder: Path) -> None:
    """The fitter at the yard: a horse in no record yet, its readings from a table, its marks by hand."""
    tool = example_instrument(MEASURED_WITH)
    readings = measured_at(HORSE.shape, tool, HORSE.stations_mm, np.random.default_rng(5))
    write_table(readings, folder / "readings.csv")
    page.goto("/measure/new/")
    page.get_by_label("Or a horse that is in no record yet").fill("Bramble (invented)")
    page.get_by_label("Instrument", exact=True).select_option(MEASURED_WITH)
    page.get_by_role("button", name="Begin", exact=True).click()
    bring_readings(page, folder / "readings.csv")
    mark(page)
    page.get_by_role("button", name=re.compile("^Finish and record")).click()
    expect(page.get_by_text("recorded as version 1")).to_be_visible()


def pack_and_link(page: Page, look: Look) -> tuple[str, str]:
    """Choose, see first, make, and link; return the link and the fingerprint as it is read out."""
    page.goto("/horses/")
    page.get_by_role("link", name=re.compile("Bramble")).first.click()
    page.get_by_role("link", name="Hand over").click()
    page.get_by_label("Message").fill("Please build for this back.")
    page.get_by_role("button", name="See first what goes in").click()
    expect(page.get_by_text("Nothing is made yet.")).to_be_visible()
    look(page, "two-preview")
    page.get_by_role("button", name="Make the pack").click()
    link = made_link(page)
    page.goto("/packs/key/")
    return link, page.locator("p.lead strong").inner_text()


def made_link(page: Page) -> str:
    expect(page.get_by_role("link", name="Download it")).to_be_visible(timeout=LONG_WORK_MS)
    page.get_by_role("button", name="Make a link").click()
    return page.get_by_label("Link", exact=True).input_value()


def fetch_and_take(page: Page, link: str, fingerprint: str, look: Look, name: str) -> None:
    page.goto("/packs/")
    page.get_by_label("Or the link that you were given").fill(link)
    page.get_by_role("button", name="Fetch and look at it").click()
    expect(page.get_by_text("Every byte is as it was signed.")).to_be_visible()
    expect(page.get_by_text(fingerprint)).to_be_visible()
    page.get_by_label(re.compile("I compared every digit")).check()
    look(page, name)
    page.get_by_role("button", name="Take it").click()
    expect(page.get_by_role("heading", name=re.compile("^Taken from"))).to_be_visible()


def set_it(page: Page, look: Look, folder: Path) -> Path:
    """The workshop sets the back on its own instrument, part by part; returns the settings that it set."""
    page.get_by_role("link", name="Rebuild it elsewhere").click()
    page.get_by_role("link", name="Set it on an instrument").click()
    page.get_by_label("The instrument it is set on").select_option(SET_ON)
    page.get_by_role("button", name="Work out the settings").click()
    with page.expect_download() as held:
        page.get_by_role("link", name="For machines (JSON)").click()
    held.value.save_as(folder / "settings.json")
    follow(page, page.get_by_role("link", name=re.compile("^Set: ")))
    for _ in range(40):
        page.evaluate(
            "document.querySelectorAll('#bench input[type=checkbox]').forEach(one => one.checked = true)"
        )
        onward = page.get_by_role("button", name=re.compile("^On to|^Keep, and see all parts"))
        is_last = onward.inner_text().startswith("Keep")
        here = page.url
        onward.click()
        if is_last:
            break
        # Boxes ticked on the page that is being left would be lost.
        page.wait_for_url(lambda url, left=here: url != left)
    expect(page.get_by_text("Everything is set")).to_be_visible()
    look(page, "two-set")
    return folder / "settings.json"


def measured_rebuild(settings: Path, table: Path) -> None:
    """Write what the proving instrument reads on the rebuild, which is what the settings make of it."""
    held = parse_document(SettingsDocument, settings.read_text("utf-8"), "settings")
    as_set = BackRecord(
        label="rebuild",
        measured_on=DAY,
        instrument=example_instrument(SET_ON),
        readings=held.readings(),
        landmarks=HORSE.shape.landmarks,
    )
    on_it = settings_for(measured(as_set).estimated, example_instrument(PROVED_WITH))
    write_table(on_it.readings, table)


def prove(page: Page, folder: Path, look: Look) -> None:
    page.get_by_role("link", name="Prove the rebuild").click()
    page.get_by_label("With", exact=True).select_option(PROVED_WITH)
    page.get_by_role("button", name="Begin measuring").click()
    bring_readings(page, folder / "rebuild.csv")
    mark(page)
    page.get_by_role("button", name="Finish and compare with the record").click()
    expect(page.get_by_role("heading", level=1, name=re.compile("Rebuild check"))).to_be_visible(
        timeout=LONG_WORK_MS
    )
    look(page, "two-proved")


STOCK = """number;label;where;seat_in;price;currency
R1;Rack 1 (invented);rack;17;450;GBP
R2;Rack 2 (invented);rack;17,5;500;GBP
R3;Rack 3 (invented);van;17;550;GBP
"""
WIDTHS = {"Rack 1 (invented)": "270", "Rack 2 (invented)": "281", "Rack 3 (invented)": "292"}
"""Between the insides of the points [mm]."""
NUMBERS = {
    "tree.depth": "165",
    "tree.angle": "83",
    "tree.rise": "51",
    "panel.length": "430",
    "panel.channel.front": "76",
    "panel.channel.waist": "72",
    "panel.channel.rear": "76",
}


def bring_stock(page: Page, look: Look) -> None:
    """The workshop's own stock: its list as a table, then each saddle measured on its page."""
    page.goto("/stock/bring-in/")
    table = {"name": "stock.csv", "mimeType": "text/csv", "buffer": STOCK.encode()}
    page.get_by_label("The table", exact=True).set_input_files(table)
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_text("3 taken on, 0 changed")).to_be_visible()
    look(page, "two-stock")
    for label, width in WIDTHS.items():
        page.goto("/saddles/")
        page.get_by_role("link", name=label).first.click()
        expect(page.get_by_role("heading", name=label)).to_be_visible()
        page.get_by_role("link", name="Measure the saddle").click()
        for path, text in {"tree.width": width, **NUMBERS}.items():
            page.locator(f"input[name='{path}']").fill(text)
        page.get_by_role("button", name="Record this saddle").click()
        expect(page.get_by_text(re.compile(r"recorded as version 1"))).to_be_visible()


def try_three(page: Page, look: Look) -> None:
    page.goto("/horses/")
    page.get_by_role("link", name=re.compile("Bramble")).first.click()
    page.get_by_role("link", name="Find a saddle").click()
    expect(page.get_by_text("From 3 measured saddles of 3")).to_be_visible()
    page.get_by_label(re.compile("^Rider")).first.fill("70")
    look(page, "two-asked")
    page.get_by_role("button", name="Look for saddles").click()
    page.wait_for_url(re.compile("/choices/"), timeout=LONG_WORK_MS)
    look(page, "two-tried")


def test_a_back_goes_from_one_practice_to_another_and_an_answer_back(
    fitter: Program, workshop: Program, browser: Browser, look: Look, tmp_path: Path
) -> None:
    there, here = opened(browser, workshop, 1440), opened(browser, fitter, 390)
    found_practice(here, "Tussock Saddles (invented)", "Orla Invented")
    found_practice(there, "Gorse Saddlery (invented)", "Una Stranger")
    measure(here, tmp_path)
    link, fingerprint = pack_and_link(here, look)

    bring_stock(there, look)
    fetch_and_take(there, link, fingerprint, look, "two-look")
    taken = there.url
    there.get_by_role("link", name=re.compile("^Back record")).click()
    measured_rebuild(set_it(there, look, tmp_path), tmp_path / "rebuild.csv")
    prove(there, tmp_path, look)
    verdict = there.locator(".verdict").first.inner_text()
    assert "good" in verdict.lower()
    try_three(there, look)
    entries = there.locator("article.entry")
    assert 1 <= entries.count() <= 3

    there.goto(taken)
    there.get_by_role("link", name="Answer it").click()
    there.get_by_label(re.compile("What was done")).fill("Rebuilt on our own comb and proved: good")
    there.get_by_label(re.compile("What you ask")).fill("May we see her ridden in the first saddle?")
    there.get_by_role("button", name="Make the answer").click()
    answer = made_link(there)
    there.goto("/packs/key/")
    other = there.locator("p.lead strong").inner_text()
    assert other != fingerprint
    fetch_and_take(here, answer, other, look, "two-answer")
    expect(here.get_by_text("Rebuilt on our own comb and proved: good")).to_be_visible()
    expect(here.get_by_text("May we see her ridden in the first saddle?")).to_be_visible()
    expect(here.get_by_text(re.compile("answers your pack"))).to_be_visible()
