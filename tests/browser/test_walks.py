"""The two walks of a newcomer, each click and line typed counted: the demo, and an empty practice."""

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from browser_program import PASSWORD, SCREENSHOTS, Look, Program, all_pictures, context_of, follow, free_port
from playwright.sync_api import Browser, Locator, Page, expect

# First of all, so that the programs find compiled code where every other test keeps it.
import saddlebench  # noqa: F401

_WEB = Path(__file__).resolve().parent.parent / "web"
sys.path.insert(0, str(_WEB / "capture"))

from capture_readings import MARKS, invented_readings, invented_values  # noqa: E402

from saddlebench.demo.files import write_table  # noqa: E402

pytestmark = pytest.mark.browser
CHAIN = "chain-8-uneven"
KEYS = {".": "point", "-": "minus"}
SIZES = {"phone": (390, 844), "laptop": (1440, 900)}
SADDLE = {
    "tree.width": "265",
    "tree.depth": "160",
    "tree.angle": "88",
    "tree.rise": "60",
    "panel.length": "400",
    "panel.channel.front": "76",
    "panel.channel.waist": "72",
    "panel.channel.rear": "76",
}


@dataclass
class Hand:
    """What a person does, counted."""

    page: Page
    clicks: int = 0
    lines: int = 0

    def click(self, what: Locator) -> None:
        self.clicks += 1
        what.click()

    def follow(self, what: Locator) -> None:
        """Click what leads to another page, and wait until it is there."""
        self.clicks += 1
        follow(self.page, what)

    def line(self, what: Locator, text: str) -> None:
        self.lines += 1
        what.fill(text)

    def keys(self, number: float | None) -> None:
        """Key a number in on the pad, and go on."""
        text = "" if number is None else f"{number:.6g}"
        pressed = [*(KEYS.get(one, one) for one in text), "next"]
        self.clicks += len(pressed)
        self.page.evaluate(
            "keys => keys.forEach(key => document.querySelector(`[data-key='${key}']`).click())", pressed
        )


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> Iterator[Program]:
    yard = tmp_path_factory.mktemp("yard")
    subprocess.run([sys.executable, str(Path(__file__).with_name("demo_yard.py")), str(yard)], check=True)
    more = ("--demo", "--demo-folder", str(yard))
    running = Program(home=yard / "elsewhere", port=free_port(), more=more, warms=True)
    running.start()
    yield running
    running.kill()


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> Iterator[Callable[[], Program]]:
    """Serve a folder in which there is nothing yet, a fresh one each time."""
    started: list[Program] = []

    def serve() -> Program:
        running = Program(home=tmp_path_factory.mktemp("empty") / "home", port=free_port())
        running.start()
        started.append(running)
        return running

    yield serve
    for one in started:
        one.kill()


@pytest.fixture(params=["phone", "laptop"])
def size(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def opened(browser: Browser, size: str, url: str) -> Page:
    width, height = SIZES[size]
    context = context_of(
        browser,
        url,
        viewport={"width": width, "height": height},
        is_mobile=size == "phone",
        has_touch=size == "phone",
        locale="en-GB",
        timezone_id="Europe/London",
        reduced_motion="reduce",
    )
    return context.new_page()


def told(what: str, size: str, hand: Hand) -> None:
    """Keep the count where the pictures are."""
    with (SCREENSHOTS / "walks.txt").open("a", encoding="utf-8") as kept:
        kept.write(f"{what}, {size}: {hand.clicks} clicks, {hand.lines} lines typed\n")


def test_from_the_demo_to_where_its_saddle_bridges(
    browser: Browser, demo: Program, size: str, look: Look
) -> None:
    log = demo.log.read_text(encoding="utf-8")
    printed = re.search(r"Sign in as (\S+) with the throw-away password (\S+)", log)
    assert printed
    hint = re.search(r"Where to look first: (\w+)", log)
    assert hint
    page = opened(browser, size, demo.url)
    hand = Hand(page)
    page.goto("/")
    hand.line(page.get_by_label("E-mail"), printed[1])
    hand.line(page.get_by_label("Password"), printed[2])
    hand.follow(page.get_by_role("button", name="Sign in"))
    look(page, "walk-demo-1-today")
    hand.follow(page.get_by_role("link", name=re.compile(f"^{hint[1]}")).first)
    look(page, "walk-demo-2-horse")
    hand.click(page.get_by_role("link", name=re.compile(f"on {hint[1]}")).first)
    expect(page.get_by_role("heading", name="Findings")).to_be_visible()
    all_pictures(page)
    look(page, "walk-demo-3-check")
    bridges = page.locator("table.findings tr", has_text="Bridges: a gap stays open")
    expect(bridges.locator(".f-verdict")).to_contain_text("not right")
    expect(bridges.locator(".f-number")).to_contain_text("mm")
    hand.click(page.get_by_role("button", name="Waist", exact=True))
    expect(page.locator("[data-section]")).to_have_js_property("complete", value=True)
    look(page, "walk-demo-4-section")
    told("Demo to where the saddle bridges", size, hand)
    assert hand.clicks <= 5
    page.context.close()


def test_from_an_empty_practice_to_a_finding_on_own_readings(
    browser: Browser, empty: Callable[[], Program], size: str, look: Look, tmp_path: Path
) -> None:
    page = opened(browser, size, empty().url)
    hand = Hand(page)
    page.goto("/")
    look(page, "walk-own-01-first-start")
    hand.line(page.get_by_label("Name of the practice"), "Own Practice (invented)")
    hand.line(page.get_by_label("Your name"), "Nell Newcomer (invented)")
    hand.line(page.get_by_label("Your e-mail address"), "nell@own.example")
    hand.line(page.get_by_label("Password"), PASSWORD)
    hand.click(page.get_by_role("button", name="Begin"))
    expect(page.get_by_role("link", name="Take on a horse")).to_be_visible()
    look(page, "walk-own-02-today")
    hand.click(page.get_by_role("link", name="Take on a horse"))
    hand.line(page.get_by_label("Name needed", exact=False).first, "Moss (invented)")
    hand.line(page.get_by_label(re.compile("^Rider, dressed")), "70")
    hand.click(page.get_by_role("button", name="Save").last)
    expect(page.get_by_role("heading", name="Moss (invented)")).to_be_visible()
    look(page, "walk-own-03-horse")

    hand.click(page.get_by_role("link", name="Measure the back"))
    page.get_by_label("Instrument", exact=True).select_option(CHAIN)
    hand.clicks += 2
    hand.line(page.get_by_label("First"), "0")
    hand.line(page.get_by_label(re.compile("^Apart")), "100")
    hand.line(page.get_by_label("Sections", exact=True), "5")
    look(page, "walk-own-04-measure")
    hand.follow(page.get_by_role("button", name="Begin", exact=True))
    look(page, "walk-own-05-parts")
    if size == "phone":
        _by_number_pad(hand)
    else:
        _by_table(hand, tmp_path)
    expect(page.locator(".quality .verdict")).to_contain_text("Good")
    look(page, "walk-own-06-good")
    hand.click(page.get_by_role("button", name="Finish and record"))
    expect(page.get_by_text("recorded as version 1")).to_be_visible()
    look(page, "walk-own-07-back")

    hand.follow(page.get_by_role("link", name="Check a saddle’s fit on it"))
    look(page, "walk-own-08-what-is-missing")
    hand.click(page.get_by_role("link", name="Add its saddle"))
    hand.line(page.get_by_label(re.compile("^Name it is called by")), "Old brown (invented)")
    page.get_by_label(re.compile("^Family")).select_option("panelled")
    hand.clicks += 2
    look(page, "walk-own-09-saddle")
    hand.click(page.get_by_role("button", name="Save").last)
    for path, text in SADDLE.items():
        hand.line(page.locator(f"input[name='{path}']"), text)
    look(page, "walk-own-10-numbers")
    hand.click(page.get_by_role("button", name="Record this saddle"))
    expect(page.get_by_text("recorded as version 1")).to_be_visible()
    look(page, "walk-own-11-measured")

    hand.click(page.get_by_role("link", name="Check its fit on Moss (invented)"))
    hand.click(page.get_by_label("I have no verdict of my own yet"))
    look(page, "walk-own-12-ask")
    hand.click(page.get_by_role("button", name="Run the fit check"))
    expect(page.get_by_role("heading", name="Findings")).to_be_visible()
    all_pictures(page)
    look(page, "walk-own-13-check")
    assert page.locator("table.findings .f-verdict").count() >= 15
    told("Empty practice to a finding on own readings", size, hand)
    page.context.close()


def _by_number_pad(hand: Hand) -> None:
    values = {name: v for name, v in invented_values(CHAIN).items() if isinstance(v, float)}

    def section(name: str) -> list[float | None]:
        return [values.get(f"{name}/{side}/{j}") for side in ("near", "off") for j in range(1, 9)]

    marks = ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right")
    parts: list[list[float | None]] = [
        [values[f"mark/{one}"] for one in marks],
        [0.0, 0.5, 4.0],
        [values[f"top/{row}/height"] for row in range(1, 6)],
        *(section(f"s{number}r0") for number in range(1, 6)),
        section("s1r1"),
    ]
    hand.click(hand.page.get_by_role("link", name="Begin: Marks"))
    for part in parts:
        expect(hand.page.locator(".pad-number")).to_be_visible()
        for number in part:
            hand.keys(number)
        here = hand.page.url
        hand.click(hand.page.get_by_role("button", name=re.compile("^Next: ")))
        # What is keyed in before the next part is there would go into this one.
        hand.page.wait_for_url(lambda url, here=here: url != here)  # type: ignore[misc]
    hand.click(hand.page.get_by_role("link", name="All parts"))


def _by_table(hand: Hand, folder: Path) -> None:
    """Bring the sections in by a table, and key in what no table holds: the marks."""
    _, readings = invented_readings(CHAIN)
    write_table(readings, folder / "monday.csv")
    page = hand.page
    overview = page.url
    hand.click(page.get_by_text("Measure again, add a section"))
    hand.click(page.get_by_role("link", name=re.compile("from a table")))
    hand.clicks += 2
    page.get_by_label("The table", exact=True).set_input_files(folder / "monday.csv")
    hand.click(page.get_by_role("button", name="Bring in"))
    expect(page.get_by_text("5 sections came in from the table")).to_be_visible()
    hand.click(page.get_by_role("link", name=re.compile("Marks")).first)
    expect(page.locator(".pad-number")).to_be_visible()
    for mark in MARKS.values():
        hand.keys(float(mark))
    here = page.url
    hand.click(page.get_by_role("button", name=re.compile("^Next: ")))
    # What was keyed in last is saved when the next part is there.
    page.wait_for_url(lambda url: url != here)
    page.goto(overview)
    hand.clicks += 1
