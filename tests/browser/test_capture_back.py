"""A back measured by number pad with one thumb, the program killed in the middle; and by keyboard alone."""

import re
import sys
from pathlib import Path

import pytest
from browser_program import Look, Program, follow, sign_in
from playwright.sync_api import Page, expect

_WEB = Path(__file__).resolve().parent.parent / "web"
sys.path.insert(0, str(_WEB / "capture"))

from capture_readings import invented_values  # noqa: E402

pytestmark = pytest.mark.browser
NAMES = {",": "Decimal comma", ".": "Decimal point", "-": "Minus"}
KEYS = {".": "point", "-": "minus"}
CHAIN = "chain-8-uneven"
SAVED = re.compile(r"saved at \d\d:\d\d")


@pytest.fixture(scope="module")
def values() -> dict[str, float]:
    return {name: float(v) for name, v in invented_values(CHAIN).items() if not isinstance(v, bool | str)}


def readings_of(values: dict[str, float], section: str) -> list[float | None]:
    """Return what was read, joint by joint; None where a joint hung in the air."""
    return [values.get(f"{section}/{side}/{j}") for side in ("near", "off") for j in range(1, 9)]


def text_of(number: float) -> str:
    return f"{number:.6g}"


def thumb(page: Page, number: float | None, mark: str = ".") -> None:
    """Key a number in as a thumb does; Next alone passes over what was not read."""
    for one in "" if number is None else text_of(number).replace(".", mark):
        page.get_by_role("button", name=NAMES.get(one, one), exact=True).click()
    page.get_by_role("button", name="Next", exact=True).click()


def quick_thumb(page: Page, number: float | None) -> None:
    """Press the same keys one after another without waiting for each to be seen."""
    pressed = [KEYS.get(one, one) for one in ("" if number is None else text_of(number))]
    page.evaluate(
        "keys => keys.forEach(key => document.querySelector(`[data-key='${key}']`).click())",
        [*pressed, "next"],
    )


def keys(page: Page, number: float | None) -> None:
    """Type a number on a keyboard, with a decimal comma."""
    page.keyboard.type("" if number is None else text_of(number).replace(".", ","))
    page.keyboard.press("Enter")


def tab_to(page: Page, name: str) -> None:
    """Go on by the tabulator until something of this name has the focus."""
    here = """() => {
        const at = document.activeElement;
        return (at.labels?.[0]?.textContent || at.textContent).trim();
    }"""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate(here).startswith(name):
            return
    pytest.fail(f"“{name}” is not reached by the tabulator")


def begin(page: Page, horse: str) -> None:
    page.goto("/measure/new/")
    page.get_by_label("Or a horse that is in no record yet").fill(horse)
    page.get_by_label("Instrument", exact=True).select_option(CHAIN)
    page.get_by_label("First").fill("0")
    page.get_by_label(re.compile("^Apart")).fill("100")
    page.get_by_label("Sections", exact=True).fill("5")


def read_part(page: Page, readings: list[float | None], enter: object = thumb) -> None:
    for number in readings:
        enter(page, number)  # type: ignore[operator]


def on(page: Page) -> None:
    page.get_by_role("button", name=re.compile("^Next: ")).click()
    expect(page.locator(".pad-number")).to_be_visible()


def test_a_whole_back_by_number_pad_with_the_program_killed_in_the_middle(
    phone: Page, program: Program, look: Look, values: dict[str, float]
) -> None:
    page = phone
    sign_in(page)
    begin(page, "Bracken (invented)")
    look(page, "measure-start")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("heading", name="The back of Bracken (invented)")).to_be_visible()
    look(page, "measure-begun")
    follow(page, page.get_by_role("link", name="Begin: Marks"))
    smallest = page.eval_on_selector_all(
        ".pad-key", "keys => Math.min(...keys.flatMap(k => [k.offsetWidth, k.offsetHeight]))"
    )
    assert smallest >= 60
    read_part(page, [values[f"mark/{one}"] for one in ("withers", "lowest", "last_rib")])
    look(page, "pad-marks")
    read_part(page, [values["mark/shoulder_left"], values["mark/shoulder_right"]])
    on(page)
    read_part(page, [0.0, 0.5, 4.0])
    on(page)
    read_part(page, [values[f"top/{row}/height"] for row in range(1, 6)])
    on(page)

    first = readings_of(values, "s1r0")
    for number in first[:3]:
        thumb(page, number, ",")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    program.kill()
    for number in first[3:6]:
        thumb(page, number)
    page.get_by_role("button", name="7", exact=True).click()
    expect(page.locator("[data-saved]")).to_contain_text("3 readings kept in this browser")
    look(page, "pad-unsent")
    program.start()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    page.reload()
    expect(page.locator(".pad-number")).to_have_text("7")
    page.get_by_role("button", name="Take the last digit back").click()
    read_part(page, first[6:8])
    expect(page.locator(".pad-side")).to_have_text("OFF (right)")
    read_part(page, first[8:12])
    look(page, "pad-section")
    page.get_by_role("button", name="Horse moved").click()
    expect(page.get_by_text("Read this section again from its first reading")).to_be_visible()
    expect(page.locator(".pad-number")).to_have_class(re.compile("empty"))
    read_part(page, first)
    page.get_by_role("button", name="Yes, square").click()
    look(page, "pad-end")
    for station in range(2, 6):
        on(page)
        read_part(page, readings_of(values, f"s{station}r0"), quick_thumb)
    on(page)
    expect(page.get_by_role("heading", name="Section 1 again")).to_be_visible()
    assert page.locator("input[data-on-pad]").first.input_value() == ""
    read_part(page, readings_of(values, "s1r1"), quick_thumb)
    look(page, "pad-repeat-end")
    on(page)
    page.get_by_role("link", name="All parts").click()
    expect(page.locator(".quality .verdict")).to_have_text("✓ Good")
    expect(page.get_by_text("measured again differs by")).to_contain_text("1.0 mm")
    look(page, "measure-good")
    page.get_by_role("button", name="Finish and record").click()
    expect(page.get_by_text("recorded as version 1")).to_be_visible()
    expect(page.get_by_text("Section 1: the horse moved once")).to_be_visible()
    look(page, "back")


def test_a_back_by_keyboard_alone(laptop: Page, look: Look, values: dict[str, float]) -> None:
    page = laptop
    sign_in(page)
    begin(page, "Furze (invented)")
    look(page, "measure-start")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The back of Furze (invented)")).to_be_visible()
    look(page, "measure-begun")
    tab_to(page, "Begin: Marks")
    page.keyboard.press("Enter")
    parts = [
        [
            values[f"mark/{one}"]
            for one in ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right")
        ],
        [0.0, 0.5, 4.0],
        [values[f"top/{row}/height"] for row in range(1, 6)],
        *(readings_of(values, f"s{station}r0") for station in range(1, 6)),
        readings_of(values, "s1r1"),
    ]
    for i, part in enumerate(parts):
        expect(page.locator(".pad-number")).to_be_focused()
        for number in part[:1]:
            page.keyboard.type("99")
            page.keyboard.press("Backspace")
            page.keyboard.press("Backspace")
            keys(page, number)
        read_part(page, part[1:-1], keys)
        if i == 3:
            look(page, "pad-section")
        keys(page, part[-1])
        if i >= 3:
            tab_to(page, "Yes, square") if i == 3 else None
            page.keyboard.press("Enter") if i == 3 else None
        if i == 3:
            tab_to(page, "Next: ")
        expect(page.get_by_role("button", name=re.compile("^Next: "))).to_be_focused()
        page.keyboard.press("Enter")
    expect(page.locator(".pad-number")).to_be_focused()
    tab_to(page, "All fields as a list")
    page.keyboard.press("Enter")
    look(page, "part-as-list")
    page.keyboard.press("Home")
    page.goto(re.sub(r"part/.*", "", page.url))
    expect(page.locator(".quality .verdict")).to_have_text("✓ Good")
    look(page, "measure-good")
    tab_to(page, "Finish and record")
    page.keyboard.press("Enter")
    expect(page.get_by_text("recorded as version 1")).to_be_visible()
    look(page, "back")


def test_what_can_be_read_two_ways_is_asked_about_and_what_is_out_of_range_said_at_once(
    phone: Page, look: Look
) -> None:
    page = phone
    sign_in(page)
    begin(page, "Teasel (invented)")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.get_by_role("link", name="Begin: Marks").click()
    expect(page.locator(".pad-number")).to_be_focused()
    page.keyboard.type("1,234")
    page.keyboard.press("Enter")
    expect(page.get_by_text("“1,234” can be read two ways. Which is it?")).to_be_visible()
    look(page, "pad-asks")
    page.get_by_role("button", name="1.234", exact=True).click()
    expect(page.locator(".pad-words")).to_have_text("Lowest point of the topline")
    page.keyboard.type("4000")
    page.keyboard.press("Enter")
    expect(page.get_by_text("4000 is outside -100 to 900 mm")).to_be_visible()
    look(page, "pad-out-of-range")
    for _ in range(4):
        page.keyboard.press("Backspace")
    page.keyboard.type("240")
    page.keyboard.press("Enter")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    page.reload()
    assert page.locator("input[name='mark/withers']").input_value() == "1.234"
    assert page.locator("input[name='mark/lowest']").input_value() == "240"
