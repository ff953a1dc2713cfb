"""One visit's whole way: begun at the office, captured in flight mode through two reloads and a crash.

It is finished on another phone, and ends on the laptop whole, once, with its fit check run.
"""

import json
import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from browser_program import BUNDLE, LONG_WORK_MS, Look, Program, context_of, follow, free_port, sign_in
from phone_killing import kill, sign_in_again, started
from phone_page import begin_back, in_tables, journal, kept_on_phone, photo_of, ready, sent
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect, sync_playwright

# First of all, so that the program finds compiled code where every other test keeps it.
import saddlebench  # noqa: F401

_WEB = Path(__file__).resolve().parent.parent / "web"
sys.path.insert(0, str(_WEB / "capture"))

from capture_readings import MARKS  # noqa: E402

from saddlebench.demo.fieldwork import measured_at  # noqa: E402
from saddlebench.demo.shapes import PLAIN  # noqa: E402
from saddlebench.exchange.instruments import example_instrument  # noqa: E402
from saddlebench.web.capture.readings import values_of_readings  # noqa: E402

pytestmark = pytest.mark.browser
CHAIN = "chain-8-uneven"
KEYS = {".": "point", "-": "minus"}
PRESS = "keys => keys.forEach(key => document.querySelector(`[data-key='${key}']`).click())"
PLACES = (0.0, 85.0, 170.0, 255.0, 340.0, 425.0)
SECTIONS = ("s1r0", "s2r0", "s3r0", "s4r0", "s5r0", "s6r0", "s1r1")
BEFORE_THE_CRASH = ("marks", "stance", "topline", "s1r0")
HALF = 5
FAR_PERSON = "fitter@tussock.example"


@pytest.fixture(scope="module")
def program(checked_home: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    """A practice with an invented horse whose saddle is measured."""
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    home = tmp_path_factory.mktemp("day") / "home"
    shutil.copytree(checked_home[0], home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()


Readings = dict[str, dict[str, float | None]]


def readings() -> Readings:
    """By part of the measuring: what the pad asks for in its order; None where nothing was read."""
    tool = example_instrument(CHAIN)
    read = values_of_readings(tool, measured_at(PLAIN, tool, PLACES, np.random.default_rng(7)))
    values = {name: float(value) for name, value in read.items() if type(value) is float}
    values |= {f"mark/{mark}": float(place) for mark, place in MARKS.items()}
    values |= {"stance/pitch": 0.0, "stance/roll": 0.5, "coat/mm": 4.0}
    marks = ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right")
    names = {
        "marks": [f"mark/{one}" for one in marks],
        "stance": ["stance/pitch", "stance/roll", "coat/mm"],
        "topline": [f"top/{row}/height" for row in range(1, 7)],
    }
    for section in SECTIONS:
        names[section] = [f"{section}/{side}/{joint}" for side in ("near", "off") for joint in range(1, 9)]
    return {part: {name: values.get(name) for name in asked} for part, asked in names.items()}


def key_in(page: Page, capture: str, part: str, values: list[float | None]) -> None:
    """Key readings in where the pad stands in a part; Next alone passes over what was not read."""
    page.goto(f"/phone/#/measure/{capture}/part/{part}")
    expect(page.locator(".pad-number")).to_be_visible()
    for value in values:
        pressed = [KEYS.get(one, one) for one in ("" if value is None else f"{value:.6g}")]
        page.evaluate(PRESS, [*pressed, "next"])
    kept_on_phone(page)


def test_a_visit_goes_its_whole_way_once(chromium: str, program: Program, tmp_path: Path, look: Look) -> None:
    profile, parts = tmp_path / "phone", readings()
    with sync_playwright() as playwright:
        office = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--headless=new"])
        laptop = context_of(office, program.url, viewport={"width": 1440, "height": 900}).new_page()
        visit = begun_at_the_office(laptop)

        context = started(playwright, chromium, program, profile)
        page = context.pages[0]
        sign_in(page)
        ready(page)
        context.set_offline(True)
        capture = captured_in_flight_mode(page, visit, parts)
        kill(profile)
        with suppress(Error):
            context.close()
        context = started(playwright, chromium, program, profile)
        context.set_offline(True)
        page = context.pages[0]
        nothing_is_lost(page, visit, capture, parts)
        context.set_offline(False)
        sign_in_again(page)
        sent(page)
        context.close()

        other = finished_on_another_phone(office, program, visit, capture, parts)
        look(other.pages[0], "phone-day-good")
        other.close()

        check_is_run(laptop, visit)
        look(laptop, "phone-day-check")
        office.close()
    whole_and_once(program, visit, capture, parts)


def begun_at_the_office(laptop: Page) -> str:
    sign_in(laptop)
    laptop.goto("/horses/?q=juniper")
    address = follow(laptop, laptop.get_by_role("link", name=re.compile("^Juniper")).first)
    horse = address.rstrip("/").rsplit("/", 1)[1]
    laptop.goto(f"/visits/new/?horse={horse}")
    laptop.get_by_role("button", name="Start now").click()
    laptop.wait_for_url("**/step/reason/")
    laptop.get_by_label("Why today").fill("Drops her back at canter")
    laptop.get_by_label("History").focus()
    expect(laptop.locator('[id="field-reason"]').get_by_text(re.compile("saved at"))).to_be_visible()
    return re.search(r"[0-9a-f-]{36}", laptop.url)[0]  # type: ignore[index]


def captured_in_flight_mode(page: Page, visit: str, parts: Readings) -> str:
    """Enter a field and half a back, through two reloads; leave a reading in the middle."""
    page.goto(f"/phone/#/visit/{visit}/step/stance")
    girth = page.get_by_label("Heart girth [cm]")
    girth.fill("188,5")
    girth.blur()
    expect(page.locator('[data-field="heart_girth_cm"] .kept-line')).to_contain_text("kept on this phone")
    page.goto(f"/phone/#/visit/{visit}/photos")
    page.locator("input[type=file]").first.set_input_files(photo_of(1))
    expect(page.locator(".shot").first).to_contain_text("1 photo kept, 1 not sent")
    page.reload()
    page.goto(f"/phone/#/visit/{visit}")
    page.get_by_label("Saddle to try").select_option("Juniper's brown jumping")
    page.get_by_role("button", name="Try this saddle").click()
    expect(page.get_by_role("link", name=re.compile("brown jumping: ")).first).to_be_visible()
    begin_back(page, CHAIN, "6", first="0", apart="85")
    capture = page.url.rsplit("/", 1)[1]
    for part in BEFORE_THE_CRASH:
        key_in(page, capture, part, list(parts[part].values()))
    page.reload()
    for value in list(parts["s2r0"].values())[:HALF]:
        key_in(page, capture, "s2r0", [value])
    page.locator('.pad-key[data-key="1"]').tap()
    return capture


def nothing_is_lost(page: Page, visit: str, capture: str, parts: Readings) -> None:
    page.goto("/phone/")
    expect(page.locator(".bar-line strong")).to_contain_text("1 photo not sent")
    held = {row["field"]: row["value"] for row in journal(page) if row["kind"] in {"value", "reading"}}
    said: dict[str, float] = {"heart_girth_cm": 188.5}
    for part in BEFORE_THE_CRASH:
        said |= {name: value for name, value in parts[part].items() if value is not None}
    said |= {name: value for name, value in list(parts["s2r0"].items())[:HALF] if value is not None}
    assert {name: held.get(name) for name in said} == said


def finished_on_another_phone(
    browser: Browser, program: Program, visit: str, capture: str, parts: Readings
) -> BrowserContext:
    other = context_of(
        browser, program.url, viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True
    )
    page = other.new_page()
    sign_in(page, FAR_PERSON)
    ready(page)
    other.set_offline(True)
    page.goto(f"/phone/#/visit/{visit}/step/stance")
    expect(page.get_by_label("Heart girth [cm]")).to_have_value("188.5")
    key_in(page, capture, "s2r0", list(parts["s2r0"].values())[HALF:])
    for part in SECTIONS[2:]:
        key_in(page, capture, part, list(parts[part].values()))
    page.goto(f"/phone/#/measure/{capture}")
    expect(page.locator(".verdict-card .lead")).to_have_text(re.compile("Good"))
    sent(page)
    return other


def check_is_run(laptop: Page, visit: str) -> None:
    """Finish the back on the laptop, and check the saddle's fit on it."""
    laptop.goto(f"/visits/{visit}/step/back/")
    laptop.get_by_role("link", name=re.compile("^Go on: Juniper")).click()
    expect(laptop.locator(".quality .verdict")).to_have_text("✓ Good")
    laptop.get_by_role("button", name="Finish and record").click()
    expect(laptop.get_by_text("recorded as version 1")).to_be_visible()
    laptop.goto(f"/visits/{visit}/step/fit/")
    laptop.get_by_role("link", name=re.compile("^Check the fit")).click()
    laptop.get_by_label(re.compile("^Rider, dressed")).fill("70")
    laptop.get_by_label("I have no verdict of my own yet").click()
    laptop.get_by_role("button", name="Run the fit check").click()
    # Computed, not looked up: on a machine with other work it takes its time.
    expect(laptop.get_by_role("heading", name="Findings")).to_be_visible(timeout=LONG_WORK_MS)
    assert laptop.locator("table.findings .f-verdict").count() >= 15


def whole_and_once(program: Program, visit: str, capture: str, parts: Readings) -> None:
    def asked(question: str, *given: object) -> list[tuple[object, ...]]:
        return [tuple(one) for one in in_tables(program, question, *given)]

    [(keys, different)] = asked("select count(key), count(distinct key) from practice_entry")
    assert keys == different
    every = {name: value for part in parts.values() for name, value in part.items() if value is not None}
    rows = asked(
        "select field, value from practice_entry where outcome = 'saved' and subject_uuid = ? order by id",
        plain(capture),
    )
    stands = {str(field): json.loads(str(value)) for field, value in rows}
    assert {name: stands.get(name) for name in every} == every
    twice = [name for name in every if sum(field == name for field, _ in rows) > 1]
    assert twice == []
    for table, one in (("visit", visit), ("capture", capture)):
        counted = f"select count(*) from practice_{table} where uuid = ?"  # noqa: S608
        assert asked(counted, plain(one)) == [(1,)]
    of_visit = "t join practice_visit v on v.id = t.visit_id where v.uuid = ?"
    for table in ("photo", "back", "study", "visitsaddle"):
        counted = f"select count(*) from practice_{table} {of_visit}"  # noqa: S608
        assert asked(counted, plain(visit)) == [(1,)], table


def plain(uuid: str) -> str:
    return uuid.replace("-", "")
