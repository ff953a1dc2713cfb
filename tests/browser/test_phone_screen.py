"""The screen for measuring with one hand on a horse, held against what is asked of it, line by line."""

import re
import time

import pytest
from browser_program import BUNDLE, Look, sign_in
from phone_page import begin_back, journal, kept_on_phone, photo_of, ready, start_visit, tap
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
HALF_A_DAY_MS = 12 * 3600 * 1000
# What the phone's own parts were asked to do, written down instead of felt.
WRITTEN_DOWN = """
  window.felt = { buzzes: [], awake: 0, asleep: 0, said: [], sounds: 0 };
  navigator.vibrate = (pattern) => { window.felt.buzzes.push(pattern); return true; };
  Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
    window.felt.awake += kind === "screen" ? 1 : 0;
    return { release: () => { window.felt.asleep += 1; } };
  } } });
  speechSynthesis.speak = (one) => window.felt.said.push([one.text, one.volume]);
  for (const name of ["AudioContext", "Audio"]) {
    const made = window[name];
    window[name] = class extends made { constructor(...given) { super(...given); window.felt.sounds += 1; } };
  }
"""
SIDE = """() => {
  const side = document.querySelector(".pad-side");
  return { words: side.textContent, align: getComputedStyle(side).textAlign };
}"""


@pytest.fixture
def pad(phone: Page) -> Page:
    """The pad at the first section of a back, begun with a horse's name and nothing else, with no signal."""
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    phone.add_init_script(WRITTEN_DOWN)
    phone.clock.install(time=time.time())
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Sedge")
    begin_back(phone, count="3")
    phone.goto(f"{phone.url}/part/s1r0")
    expect(phone.locator(".pad-number")).to_be_visible()
    return phone


def felt(page: Page) -> dict[str, object]:
    told: dict[str, object] = page.evaluate("window.felt")
    return told


def last_readings(page: Page) -> dict[str, object]:
    return {row["field"]: row["value"] for row in journal(page) if row["kind"] == "reading"}


def test_one_number_fills_the_screen_and_the_side_is_told_twice(pad: Page, look: Look) -> None:
    sizes = pad.eval_on_selector_all(".pad-key", "all => all.map(k => [k.offsetWidth, k.offsetHeight])")
    assert len(sizes) == 16
    assert min(min(one) for one in sizes) >= 60
    number = pad.locator(".pad-number").evaluate("one => parseFloat(getComputedStyle(one).fontSize)")
    others = pad.eval_on_selector_all(
        ".pad-words, .pad-side, h1", "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert number > 1.5 * max(others)
    below = pad.locator('.pad-key[data-key="next"]').evaluate("one => one.getBoundingClientRect().bottom")
    assert below <= 844, "the thumb need not scroll"
    look(pad, "phone-pad-begun")

    near = pad.evaluate(SIDE)
    tap(pad, "12")
    kept_on_phone(pad)
    pad.get_by_role("button", name="Rest of this side not read").tap()
    expect(pad.locator(".pad-side")).to_contain_text("OFF")
    off = pad.evaluate(SIDE)
    assert near["words"].startswith("NEAR")
    assert off["words"].startswith("OFF")
    assert near["align"] in {"left", "start"}
    assert off["align"] in {"right", "end"}
    look(pad, "phone-pad-off")

    # Called out by the fitter, keyed in by somebody else on a keyboard.
    pad.keyboard.type("12,5")
    pad.keyboard.press("Enter")
    kept_on_phone(pad)
    assert last_readings(pad)["s1r0/off/1"] == 12.5


def test_it_vibrates_never_sounds_keeps_awake_and_reads_back_only_when_asked(pad: Page, look: Look) -> None:
    tap(pad, "12")
    kept_on_phone(pad)
    told = felt(pad)
    assert told["buzzes"] == [10, 10, 10]
    assert (told["awake"], told["asleep"], told["said"]) == (1, 0, [])
    tap(pad, "9999")
    expect(pad.get_by_text("is outside")).to_be_visible()
    assert [60, 50, 60] in felt(pad)["buzzes"]  # type: ignore[operator]
    for _ in range(4):
        pad.locator('.pad-key[data-key="back"]').tap()
    switch = pad.get_by_role("button", name=re.compile("Reading back aloud"))
    expect(switch).to_have_attribute("aria-pressed", "false")
    switch.tap()
    expect(switch).to_have_attribute("aria-pressed", "true")
    tap(pad, "-3")
    [[words, volume]] = felt(pad)["said"]  # type: ignore[misc]
    assert words == "near minus 3"
    assert volume < 1

    kept_on_phone(pad)
    pad.get_by_role("button", name="Horse moved").tap()
    expect(pad.get_by_text("Read this section again from its first reading")).to_be_visible()
    expect(pad.locator(".pad-number")).to_have_class(re.compile("empty"))
    expect(pad.locator(".pad-hint")).to_contain_text("1 of 24")
    last = last_readings(pad)
    assert last["s1r0/moved"] == 1
    assert {last[f"s1r0/near/{joint}"] for joint in (1, 2)} == {None}
    look(pad, "phone-pad-moved")
    pad.get_by_role("link", name="All parts").tap()
    expect(pad.get_by_role("heading", name="Parts")).to_be_visible()
    assert felt(pad)["asleep"] == 1
    assert felt(pad)["sounds"] == 0
    assert pad.locator("audio, video").count() == 0

    # Remembered: asked for once, it is on at the next part, and after the page was loaded anew.
    pad.go_back()
    pad.reload()
    expect(pad.get_by_role("button", name="Reading back aloud: on")).to_have_attribute("aria-pressed", "true")


def test_a_section_ends_with_square_and_evidence_and_the_repeat_is_never_filled_in(
    pad: Page, look: Look
) -> None:
    tap(pad, "12")
    pad.get_by_role("button", name="Read no further here").tap()
    pad.get_by_role("button", name="Yes, square").tap()
    pad.locator(".pad-end input[type=file]").set_input_files(photo_of(8))
    expect(pad.locator(".pad-end .camera")).to_contain_text("kept on this phone")
    expect(pad.locator(".bar-line strong")).to_contain_text("1 photo")
    look(pad, "phone-pad-end")
    assert (last_readings(pad)["s1r0/square"], last_readings(pad)["s1r0/done"]) == (True, True)

    pad.goto(re.sub(r"part/.*", "part/s1r1", pad.url))
    expect(pad.get_by_role("heading", name="Section 1 again")).to_be_visible()
    expect(pad.locator(".pad-number")).to_have_class(re.compile("empty"))
    pad.locator('.pad-key[data-key="4"]').tap()
    pad.clock.fast_forward(HALF_A_DAY_MS)
    expect(pad.locator(".pad-number")).to_have_text("4")
    tap(pad, "2")
    kept_on_phone(pad)
    assert last_readings(pad)["s1r1/near/1"] == 42
