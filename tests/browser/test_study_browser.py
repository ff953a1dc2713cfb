"""A fit check in a real browser: asked for, read, turned with two fingers, slid along, changed, printed."""

import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from browser_program import QUIET, SCREENSHOTS, Look, Program, context_of, follow, free_port, sign_in, until
from browser_program import all_pictures as fetch_all
from playwright.sync_api import Browser, Page, expect, sync_playwright

# First of all, so that the program finds compiled code where every other test keeps it.
import saddlebench  # noqa: F401

pytestmark = pytest.mark.browser
AT_FIRST = 5
"""So many findings are not folded away on a phone."""


@pytest.fixture(scope="module")
def program(checked_home: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("served") / "home"
    shutil.copytree(checked_home[0], home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    # Drawing in three dimensions by the processor alone: the machines that test have no graphics card.
    with sync_playwright() as playwright:
        flags = [*QUIET, "--enable-unsafe-swiftshader"]
        started = playwright.chromium.launch(executable_path=chromium, args=flags)
        yield started
        started.close()


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


@pytest.fixture
def check(checked_home: tuple[Path, str]) -> str:
    return f"/checks/{checked_home[1]}/"


def all_pictures(page: Page) -> None:
    """Wait until every picture is there; one that did not come is a failure here."""
    fetch_all(page)
    assert page.evaluate("[...document.images].every(one => one.naturalWidth > 0)")


def unfold(page: Page) -> None:
    """Open what a phone folds."""
    page.evaluate("document.querySelectorAll('details[data-fold]').forEach(one => one.open = true)")


def test_a_check_is_asked_for_watched_and_read(page: Page, look: Look) -> None:
    sign_in(page)
    page.goto("/horses/?q=juniper")
    follow(page, page.get_by_role("link", name=re.compile("^Juniper")).first)
    page.goto(f"{page.url}check/")
    look(page, "check-new")
    page.get_by_role("button", name="Run the fit check").click()
    expect(page.get_by_role("alert").first).to_contain_text("your own verdict comes first")
    page.get_by_label(re.compile("^Rider, dressed")).fill("72,5")
    page.get_by_role("group", name="Rocking").get_by_label("Fine").check()
    page.get_by_role("group", name=re.compile("near .left. panel")).get_by_label("Slack").check()
    page.get_by_role("button", name="Run the fit check").click()
    expect(page.get_by_role("heading", name="Findings")).to_be_visible()
    unfold(page)
    expect(page.get_by_text("Rider 72.5 kg")).to_be_visible()
    expect(page.get_by_role("row", name=re.compile("Rocking")).first).to_be_visible()
    expect(page.get_by_text("before the check was run")).to_be_visible()


def test_a_finding_is_read_in_words_and_found_by_its_verdict(page: Page, look: Look, check: str) -> None:
    sign_in(page)
    page.goto(check)
    all_pictures(page)
    look(page, "check")
    unfold(page)
    rows = page.locator("table.findings tbody tr")
    total = rows.count()
    order = ["not right", "borderline", "cannot tell", "fine"]
    said = [text.strip()[2:] for text in page.locator("table.findings .f-verdict").all_inner_texts()]
    assert said == sorted(said, key=order.index)
    page.get_by_role("navigation", name="Which findings").get_by_role(
        "link", name=re.compile("cannot tell")
    ).click()
    expect(rows).not_to_have_count(total)
    assert set(page.locator("table.findings .f-verdict").all_inner_texts()) == {"? cannot tell"}
    first = rows.first
    expect(first).to_contain_text(re.compile("limit|measured|model|sit", re.IGNORECASE))
    first.locator("summary").click()
    expect(first.get_by_role("listitem").first).to_be_visible()
    width = (page.viewport_size or {"width": 0})["width"]
    assert first.evaluate("one => getComputedStyle(one).display") == ("table-row" if width > 800 else "grid")


def test_a_phone_shows_verdict_picture_and_the_worst_first(phone: Page, check: str, look: Look) -> None:
    sign_in(phone)
    phone.goto(check)
    all_pictures(phone)
    look(phone, "check-folded")
    screen = (phone.viewport_size or {"height": 0})["height"]
    first = phone.locator("#findings tbody tr:visible, #findings summary:visible").first
    assert (first.bounding_box() or {"y": 1e9})["y"] < 2 * screen
    folded = phone.evaluate("document.documentElement.scrollHeight")
    assert phone.locator("table.findings tbody tr:visible").count() <= AT_FIRST
    unfold(phone)
    assert folded < phone.evaluate("document.documentElement.scrollHeight") / 2


def test_what_is_folded_opens_by_keyboard_by_its_link_and_on_paper(phone: Page, check: str) -> None:
    sign_in(phone)
    phone.goto(check)
    folds = phone.locator("details[data-fold]")
    assert folds.evaluate_all("all => all.every(one => !one.open)")
    summary = folds.first.locator("summary").first
    summary.focus()
    summary.press("Enter")
    expect(folds.first.locator("tbody tr, li, td").first).to_be_visible()
    phone.get_by_role("navigation", name="On this page").get_by_role("link", name="Load").click()
    expect(phone.locator("#load img")).to_be_visible()
    phone.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert folds.evaluate_all("all => all.every(one => one.open)")
    phone.evaluate("dispatchEvent(new Event('afterprint'))")
    assert folds.evaluate_all("all => all.filter(one => one.open).length") == 2


def test_what_is_folded_is_there_without_script(
    browser: Browser, program: Program, phone: Page, check: str
) -> None:
    sign_in(phone)
    state = phone.context.storage_state()
    context = context_of(
        browser,
        program.url,
        java_script_enabled=False,
        storage_state=state,
        viewport={"width": 390, "height": 844},
    )
    page = context.new_page()
    page.goto(check)
    folds = page.locator("details[data-fold]")
    assert folds.count() > 6
    for fold in folds.all():
        fold.locator("summary").first.click()
        assert (fold.bounding_box() or {"height": 0.0})["height"] > 100
    context.close()


def test_the_section_follows_the_slider_by_keyboard(laptop: Page, check: str) -> None:
    sign_in(laptop)
    laptop.goto(check)
    image = laptop.locator("[data-section]")
    before = image.get_attribute("src") or ""
    slider = laptop.get_by_role("slider")
    at = int(slider.input_value())
    slider.focus()
    slider.press("ArrowRight")
    slider.press("ArrowRight")
    expect(image).to_have_attribute("src", re.compile(rf"&s={at + 20}$"))
    assert image.get_attribute("src") != before
    expect(image).to_have_attribute("alt", re.compile(f"{at + 20} mm behind"))
    laptop.get_by_role("button", name="Rear", exact=True).click()
    expect(image).not_to_have_attribute("src", re.compile(rf"&s={at + 20}$"))


def eye(page: Page) -> list[float]:
    return [float(part) for part in (page.locator("#stage canvas").get_attribute("data-eye") or "").split()]


def open_shape(page: Page) -> None:
    page.get_by_role("button", name="Turn it in 3-D").click()
    page.wait_for_selector("#stage canvas[data-eye]")


class Fingers:
    """Fingers on the glass, as the device reports them."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)

    def __call__(self, kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(places)]
        self._session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_two_fingers_turn_and_one_scrolls_the_page(phone: Page, check: str) -> None:
    fetched: list[str] = []
    phone.on("request", lambda request: fetched.append(request.url))
    sign_in(phone)
    phone.goto(check)
    all_pictures(phone)
    assert not [url for url in fetched if "shape.bin" in url], "the 3-D view is fetched unasked"
    open_shape(phone)
    assert phone.locator("#stage canvas").count() == 1
    phone.locator("#stage").scroll_into_view_if_needed()
    box = phone.locator("#stage canvas").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    phone.screenshot(path=SCREENSHOTS / "check-turned-390.png")

    fingers = Fingers(phone)
    turned, _, away = eye(phone)
    fingers("touchStart", (x - 30, y), (x + 30, y))
    for step in range(1, 6):
        fingers("touchMove", (x - 30 - 8 * step, y), (x + 30 + 8 * step, y))
    fingers("touchEnd")
    until(phone, lambda: eye(phone)[2] < away - 0.1, "coming closer")
    assert phone.evaluate("visualViewport.scale") == 1, "the pinch zoomed the page and not the view"

    fingers("touchStart", (x, y))
    for step in range(1, 8):
        fingers("touchMove", (x + 8 * step, y))
    fingers("touchEnd")
    until(phone, lambda: abs(eye(phone)[0] - turned) > 0.1, "turning")

    before, scrolled = eye(phone), phone.evaluate("scrollY")
    fingers("touchStart", (x, y))
    for step in range(1, 12):
        fingers("touchMove", (x, y - 10 * step))
        phone.wait_for_timeout(16)
    fingers("touchEnd")
    until(phone, lambda: phone.evaluate("scrollY") > scrolled + 40, "scrolling")
    assert eye(phone) == before, "scrolling the page turned the view"


def test_the_view_turns_by_keyboard_changes_its_layer_and_leaves_the_picture(
    laptop: Page, look: Look, check: str
) -> None:
    sign_in(laptop)
    laptop.goto(check)
    all_pictures(laptop)
    open_shape(laptop)
    before = eye(laptop)
    laptop.locator("#stage canvas").press("ArrowRight")
    until(laptop, lambda: eye(laptop)[0] != before[0], "turning")
    look(laptop, "check-turned")
    for layer in ("Clearance under the panels", "Left against right"):
        laptop.get_by_label(re.compile(layer)).check()
        expect(laptop.get_by_role("heading", name=re.compile(f"^{layer}"))).to_be_visible()
    expect(laptop.get_by_text("both sides alike")).to_be_visible()
    look(laptop, "check-left-against-right")
    laptop.get_by_role("button", name="From behind").click()
    # The device takes the context away: the picture is there, and the page says so.
    laptop.evaluate(
        "const c = document.querySelector('#stage canvas');"
        "(c.getContext('webgl2')).getExtension('WEBGL_lose_context').loseContext()"
    )
    expect(laptop.get_by_text("took the 3-D view away")).to_be_visible()
    expect(laptop.locator("#stage canvas")).to_have_count(0)
    expect(laptop.locator("#stage img")).to_be_visible()
    open_shape(laptop)
    laptop.get_by_role("button", name="Back to the picture").click()
    expect(laptop.get_by_role("button", name="Turn it in 3-D")).to_be_focused()


def test_one_thing_is_changed_and_two_places_are_set_side_by_side(page: Page, look: Look, check: str) -> None:
    sign_in(page)
    page.goto(check)
    page.get_by_role("link", name=re.compile("^Change one thing")).click()
    page.get_by_label(re.compile("The front arch")).check()
    page.get_by_label(re.compile("so many")).fill("14,5")
    page.get_by_role("button", name="Compute").click()
    expect(page.get_by_role("heading", name="Front arch 14.5 mm wider")).to_be_visible()
    all_pictures(page)
    look(page, "check-changed")
    page.goto(f"{check}beside/")
    all_pictures(page)
    look(page, "check-beside")
    page.goto("/checks/agreement/")
    look(page, "check-agreement")


def test_the_page_is_printed(laptop: Page, check: str) -> None:
    sign_in(laptop)
    laptop.goto(check)
    all_pictures(laptop)
    laptop.evaluate("window.print = () => { document.body.dataset.printed = 'yes' }")
    laptop.get_by_role("button", name="Print this page").click()
    laptop.wait_for_selector("body[data-printed=yes]")
    printed = laptop.pdf(format="A4", print_background=True)
    (SCREENSHOTS / "check-printed.pdf").write_bytes(printed)
    assert printed.startswith(b"%PDF")


def test_a_report_is_asked_for_and_taken_away(page: Page, look: Look, check: str) -> None:
    sign_in(page)
    page.goto(check)
    unfold(page)
    form = page.locator("#report")
    form.scroll_into_view_if_needed()
    for name, wanted in (
        ("For", "Workshop: every number, drawings"),
        ("Language", "German (Deutsch)"),
        ("Lengths", "Inches"),
        ("Paper", "Letter"),
    ):
        form.get_by_label(name, exact=True).select_option(label=wanted)
    look(page, "check-report")
    with page.expect_download() as taken:
        form.get_by_role("button", name="Make the PDF").press("Enter")
    document = Path(taken.value.path()).read_bytes()
    assert document.startswith(b"%PDF")
    assert taken.value.suggested_filename.startswith("fit-check-workshop-")
    assert "Für die Werkstatt" in pypdf.PdfReader(io.BytesIO(document)).pages[0].extract_text()


def test_the_same_run_again_comes_out_the_same(laptop: Page, look: Look, check: str) -> None:
    sign_in(laptop)
    laptop.goto(check)
    laptop.get_by_role("button", name="Run again: the same result?").click()
    expect(laptop.get_by_text("The same result, byte for byte")).to_be_visible()
    look(laptop, "check-again")
