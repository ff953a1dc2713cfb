"""A visit in a real browser: by keyboard alone, by thumb, with the connection gone in the middle."""

import io
import re
from pathlib import Path

import numpy as np
import pytest
from browser_program import SCREENSHOTS, Look, context_of, follow, sign_in
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

pytestmark = pytest.mark.browser
TOO_SMALL = """() => [...document.querySelectorAll(
  'main a, main button, main summary, main label:has(input), main input[type=text]')]
  .filter(one => one.offsetParent && !one.classList.contains('unseen'))
  .map(one => [one.textContent.trim(), one.getBoundingClientRect()])
  .filter(([, box]) => box.height && (box.height < 44 || box.width < 44))
  .map(([text, box]) => `${text} ${box.width}×${box.height}`)"""
SAVED = re.compile(r"saved at \d\d:\d\d")


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def invented_photo(seed: int) -> bytes:
    """Return a picture with edges enough to be sharp, and nothing real in it."""
    rng = np.random.default_rng(seed)
    blocks = rng.integers(60, 220, (30, 40, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(blocks).resize((1600, 1200), Image.Resampling.NEAREST).save(out, "JPEG", quality=70)
    return out.getvalue()


def start(page: Page, name: str) -> str:
    """Start a visit with a name alone; return its address."""
    page.goto("/visits/new/")
    page.get_by_label("The horse's name").fill(name)
    page.get_by_role("button", name="Start now").click()
    page.wait_for_url("**/step/reason/")
    return page.url.removesuffix("step/reason/")


def answer(page: Page, name: str) -> Locator:
    return page.locator(f'[id="field-{name}"]')


def choice(within: Locator, words: str) -> Locator:
    """Return a choice as a finger meets it: the whole button, not the words in it."""
    return within.locator("label", has_text=words).first


def tab_to(page: Page, selector: str) -> None:
    """Press the tabulator until the focus is where it is wanted; a place it never comes to fails here."""
    for _ in range(150):
        if page.evaluate("s => document.activeElement?.matches(s) ?? false", selector):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"the tabulator does not come to {selector}")


def test_a_visit_is_done_by_keyboard_alone(laptop: Page) -> None:
    page = laptop
    sign_in(page)
    tab_to(page, '.main-nav a[href="/visits/"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/visits/")
    tab_to(page, 'main a[href="/visits/new/"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/visits/new/")
    tab_to(page, "#in-label")
    page.keyboard.type("Keyboard cob")
    tab_to(page, 'main form[method="post"] .deeds button')
    page.keyboard.press("Enter")
    page.wait_for_url("**/step/reason/")
    tab_to(page, "#in-reason")
    page.keyboard.type("Bucks at canter")
    tab_to(page, "#in-history")
    expect(answer(page, "reason").get_by_text(SAVED)).to_be_visible()
    tab_to(page, 'button[form="step-form"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/step/stance/")
    tab_to(page, 'input[name="stance"]')
    page.keyboard.press("Space")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    expect(answer(page, "stance").get_by_text(SAVED)).to_be_visible()
    tab_to(page, "details.group-scores > summary")
    page.keyboard.press("Enter")
    tab_to(page, 'input[name="condition_score"]')
    for _ in range(5):
        page.keyboard.press("ArrowLeft")
    expect(page.locator('input[name="condition_score"][value="5"]')).to_be_checked()
    expect(answer(page, "condition_score").get_by_text(SAVED)).to_be_visible()
    tab_to(page, "details.group-weight > summary")
    page.keyboard.press("Enter")
    tab_to(page, "#in-heart_girth_cm")
    page.keyboard.type("190,5")
    page.keyboard.press("Enter")
    expect(answer(page, "heart_girth_cm").get_by_text("190.5 cm saved at")).to_be_visible()
    tab_to(page, "#in-body_length_cm")
    page.keyboard.type("165")
    page.keyboard.press("Enter")
    expect(page.locator("#worked-out")).to_contain_text("Carroll")
    tab_to(page, "#place-palpation")
    page.keyboard.press("ArrowDown")
    tab_to(page, "#marks-palpation .mark-form button")
    page.keyboard.press("Enter")
    expect(page.locator("#marks-palpation .mark-list")).to_contain_text("Sore: Neck, off")
    tab_to(page, "#marks-palpation .mark-list button")
    page.keyboard.press("Enter")
    expect(page.locator("#marks-palpation")).to_contain_text("Nothing is marked")
    visit = page.url.removesuffix("step/stance/")
    page.goto(f"{visit}step/saddles/")
    tab_to(page, "main .sheet details > summary")
    page.keyboard.press("Enter")
    tab_to(page, "#new-saddle")
    page.keyboard.type("Old brown")
    page.keyboard.press("Enter")
    page.wait_for_url("**/condition/")
    tab_to(page, 'input[name="tree_squeeze"]')
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    page.goto(f"{visit}step/decision/")
    tab_to(page, "#said")
    page.keyboard.type("Leave it two weeks")
    tab_to(page, "#advice button")
    page.keyboard.press("Enter")
    expect(page.locator("#advice .rows")).to_contain_text("Leave it two weeks")
    page.goto(f"{visit}step/next/")
    tab_to(page, 'form[action$="/finish/"] button')
    page.keyboard.press("Enter")
    page.wait_for_url("**/summary/")
    expect(page.get_by_role("article")).to_contain_text("Bucks at canter")
    expect(page.get_by_role("article")).to_contain_text("Leave it two weeks")


def test_a_visit_is_done_by_thumb(phone: Page, look: Look) -> None:
    page = phone
    sign_in(page)
    visit = start(page, "Thumb pony")
    page.goto(f"{visit}step/stance/")
    choice(answer(page, "stance"), "Square").tap()
    expect(answer(page, "stance").get_by_text(SAVED)).to_be_visible()
    page.locator("details.group-scores > summary").tap()
    choice(answer(page, "condition_score"), "5").tap()
    expect(answer(page, "condition_score").get_by_text(SAVED)).to_be_visible()
    small = page.evaluate(TOO_SMALL)
    assert small == []
    page.locator("#marks-palpation svg").tap(position={"x": 100, "y": 150})
    expect(page.locator("#marks-palpation .mark-list li")).to_have_count(1)
    choice(page.locator("#marks-muscle"), "Hollow").tap()
    page.locator("#marks-muscle svg").tap(position={"x": 200, "y": 250})
    expect(page.locator("#marks-muscle .mark-list")).to_contain_text("Hollow")
    page.goto(f"{visit}step/photos/")
    page.locator("#file-near_side").set_input_files(
        {"name": "near.jpg", "mimeType": "image/jpeg", "buffer": invented_photo(1)}
    )
    expect(page.locator("#shot-near_side img")).to_be_visible()
    page.goto(f"{visit}step/stop/")
    choice(page.locator("main"), "Lame or unsteady").tap()
    expect(page.locator("#stops")).to_contain_text("Stop, vet first")
    page.reload()
    choice(page.locator("main"), "It was declined").tap()
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#advice .rows")).to_contain_text("declined")
    look(page, "visit-stopped")


def test_nothing_is_lost_when_the_connection_goes_in_the_middle(phone: Page, look: Look) -> None:
    page = phone
    sign_in(page)
    visit = start(page, "Dead spot mare")
    page.get_by_label("Why today").fill("First words")
    page.get_by_label("History").focus()
    expect(answer(page, "reason").get_by_text(SAVED)).to_be_visible()
    page.context.set_offline(True)
    page.get_by_label("History").fill("Written without a connection")
    page.get_by_label("What changed since last time").fill("This too")
    page.get_by_label("Why today").fill("Second words")
    page.get_by_label("History").focus()
    expect(page.locator("#unsent")).to_contain_text("3 entries wait in this browser")
    expect(answer(page, "history")).to_contain_text("Not saved yet: no connection")
    # Going on is not possible, and says so instead of losing the page.
    page.get_by_role("button", name=re.compile("^Save, and on to")).tap()
    expect(page.get_by_label("History")).to_have_value("Written without a connection")
    look_at = page.url
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_empty()
    expect(answer(page, "history").get_by_text(SAVED)).to_be_visible()
    page.goto(look_at)
    for label, text in (("Why today", "Second words"), ("History", "Written without a connection")):
        expect(page.get_by_label(label)).to_have_value(text)
    # Locked in the middle of a word, without a connection, and the page gone: it is there again.
    page.locator("summary", has_text="Why today").tap()
    page.context.set_offline(True)
    page.get_by_label("History").press("Control+End")
    page.get_by_label("History").press_sequentially(", and")
    page.context.set_offline(False)
    page.goto(f"{visit}step/reason/")
    expect(page.get_by_label("History")).to_have_value("Written without a connection, and")
    expect(answer(page, "history").get_by_text(SAVED)).to_be_visible()
    page.reload()
    expect(page.get_by_label("History")).to_have_value("Written without a connection, and")


def test_two_people_at_one_field_are_shown_both(browser: Browser, laptop: Page, look: Look) -> None:
    page = laptop
    sign_in(page)
    visit = start(page, "Two of us")
    context = context_of(browser, page.url)
    other = context.new_page()
    sign_in(other, "fitter@tussock.example")
    other.goto(f"{visit}step/reason/")
    other.get_by_label("Why today").fill("Theirs")
    other.get_by_label("History").focus()
    expect(answer(other, "reason").get_by_text(SAVED)).to_be_visible()
    page.get_by_label("Why today").fill("Mine")
    page.get_by_label("History").focus()
    expect(answer(page, "reason")).to_contain_text("Fitter Invented entered “Theirs”")
    expect(page.get_by_label("Why today")).to_have_value("Mine")
    look(page, "visit-two-people")
    page.get_by_role("button", name="Keep what stands here").click()
    expect(answer(page, "reason").get_by_text(SAVED)).to_be_visible()
    page.reload()
    expect(page.get_by_label("Why today")).to_have_value("Mine")
    context.close()


STEPS = ("reason", "stance", "photos", "back", "saddles", "fit", "decision", "next", "stop")


def test_every_page_of_a_visit_is_fit_to_be_seen(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/horses/?q=juniper")
    address = follow(page, page.get_by_role("link", name=re.compile("Juniper")))
    horse = address.rstrip("/").rsplit("/", 1)[1]
    page.goto(f"/visits/new/?horse={horse}")
    look(page, "visit-new")
    page.get_by_role("button", name="Start now").click()
    page.wait_for_url("**/step/reason/")
    visit = page.url.removesuffix("step/reason/")
    page.get_by_label("Why today").fill("New saddle, a little wide behind the shoulder")
    page.get_by_label("History").focus()
    expect(answer(page, "reason").get_by_text(SAVED)).to_be_visible()
    page.goto(f"{visit}step/saddles/")
    page.get_by_role("button", name=re.compile("^Look at it")).first.click()
    page.wait_for_url("**/condition/")
    saddle = page.url.removesuffix("condition/")
    for part in ("condition", "states", "ridden"):
        page.goto(f"{saddle}{part}/")
        page.evaluate("document.querySelectorAll('details.group').forEach(one => one.open = true)")
        look(page, f"visit-saddle-{part}")
    page.goto(f"{visit}step/photos/")
    for name, seed in (("near_side", 2), ("off_side", 3)):
        page.locator(f"#file-{name}").set_input_files(
            {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": invented_photo(seed)}
        )
        expect(page.locator(f"#shot-{name} img")).to_be_visible()
    for step in STEPS:
        page.goto(f"{visit}step/{step}/")
        page.evaluate("document.querySelectorAll('details.group').forEach(one => one.open = true)")
        look(page, f"visit-{step}")
    for name, path in (("visit", visit), ("visit-summary", f"{visit}summary/"), ("visits", "/visits/")):
        page.goto(path)
        look(page, name)
    page.goto(f"{visit}summary/")
    page.emulate_media(media="print")
    width = (page.viewport_size or {"width": 0})["width"]
    for hidden in (".top", ".main-nav", ".no-print"):
        expect(page.locator(hidden)).to_be_hidden()
    expect(page.get_by_role("article")).to_be_visible()
    page.screenshot(path=SCREENSHOTS / f"visit-printed-{width}.png", full_page=True)
    page.emulate_media(media="screen")


def test_photos_are_drawn_on_and_laid_side_by_side(page: Page, look: Look, tmp_path: Path) -> None:
    sign_in(page)
    page.goto("/horses/?q=juniper")
    horse = follow(page, page.get_by_role("link", name=re.compile("Juniper")))
    page.goto(f"/visits/new/?horse={horse.rstrip('/').rsplit('/', 1)[1]}")
    page.get_by_role("button", name="Start now").click()
    page.wait_for_url("**/step/reason/")
    page.goto(page.url.replace("/reason/", "/photos/"))
    dark = io.BytesIO()
    Image.new("RGB", (1600, 1200), (12, 12, 12)).save(dark, "JPEG")
    for name, content in (("front", invented_photo(4)), ("behind", dark.getvalue())):
        page.locator(f"#file-{name}").set_input_files(
            {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": content}
        )
        expect(page.locator(f"#shot-{name} img")).to_be_visible()
    expect(page.locator("#shot-behind")).to_contain_text("Too dark")
    page.locator("#shot-behind").get_by_role("button", name="Keep anyway").click()
    expect(page.locator("#shot-behind")).not_to_contain_text("Too dark")
    follow(page, page.locator("#shot-front").get_by_role("link").first)
    canvas = page.locator("svg[data-draw]")
    canvas.focus()
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator(".drawn-list")).to_contain_text("Line, level")
    choice(page.locator(".kinds"), "Known length").click()
    page.get_by_label("Known length mm").fill("200")
    box = canvas.bounding_box()
    assert box is not None
    for x, y in ((0.2, 0.8), (0.6, 0.8)):
        canvas.click(position={"x": box["width"] * x, "y": box["height"] * y})
    expect(page.locator(".drawn-list")).to_contain_text("Known length of 200 mm")
    choice(page.locator(".kinds"), "Distance").click()
    for x, y in ((0.2, 0.3), (0.4, 0.3)):
        canvas.click(position={"x": box["width"] * x, "y": box["height"] * y})
    expect(page.locator(".drawn-list")).to_contain_text(re.compile("Distance of (99|100|101) mm"))
    look(page, "photo")
    page.goto(f"{horse}photos/")
    look(page, "photos-of-horse")
    boxes = page.get_by_role("checkbox")
    boxes.nth(0).check()
    boxes.nth(1).check()
    follow(page, page.get_by_role("button", name="Lay two side by side"))
    slide = page.get_by_label("How much of the earlier one")
    slide.focus()
    page.keyboard.press("ArrowRight")
    expect(slide).to_have_value("51")
    shown = page.evaluate("document.querySelector('[data-compare]').style.getPropertyValue('--shown')")
    assert shown == "51%"
    look(page, "photos-compared")
    page.goto("/photos/shots/")
    look(page, "shot-list")
