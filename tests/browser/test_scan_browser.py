"""A scan becomes a back on a phone and on a laptop: looked at, a mark tapped, the unit asked, recorded."""

import re
from pathlib import Path

import pytest
import trimesh
from browser_program import Look, Program, Touch, sign_in
from playwright.sync_api import Locator, Page, expect

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.whole_horse import whole_horse

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    played = play_scan(*whole_horse(), seed=3, playing=Playing(scaled=False))
    path = tmp_path_factory.mktemp("scan") / "yard.glb"
    trimesh.Trimesh(played.vertices / 1000.0, played.faces, process=False).export(path)
    return path


@pytest.fixture(scope="module")
def brought() -> list[str]:
    """Addresses of scans that a test of this module brought: another may look at the same."""
    return []


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def bring(page: Page, scan: Path) -> None:
    page.get_by_label("Scan", exact=True).set_input_files(str(scan))
    page.get_by_role("button", name="Look at the scan").click()
    expect(page.get_by_text("Look whether this is the horse")).to_be_visible()
    page.locator("[data-pick] img").evaluate("image => image.decode()")


def take_a_scan(page: Page) -> None:
    sign_in(page)
    page.goto("/horses/")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Take a scan").click()
    expect(page.get_by_role("heading", name="Scan of Juniper")).to_be_visible()


def look_at_one(page: Page, scan: Path, brought: list[str]) -> None:
    """Look at a scan whose marks nobody touched, or touched and put back."""
    if not brought:
        take_a_scan(page)
        bring(page, scan)
        brought.append(page.url)
        return
    sign_in(page)
    page.goto(brought[0])


def said(page: Page) -> Locator:
    return page.locator("[data-pick] [data-said]")


def state_of(page: Page, mark: str) -> Locator:
    return page.locator(f"[data-mark={mark}] [data-state]")


def pin_of(page: Page, mark: str) -> tuple[float, float]:
    """Return where a mark stands on the screen."""
    place = page.locator(".pin", has_text=mark).evaluate(
        "pin => { const m = new DOMMatrix(getComputedStyle(pin).transform); return [m.e, m.f]; }"
    )
    canvas = page.locator(".stage canvas").bounding_box()
    assert canvas is not None
    return canvas["x"] + place[0], canvas["y"] + place[1]


def open_in_3d(page: Page) -> None:
    page.get_by_role("button", name="Set the marks in 3-D").click()
    expect(page.locator(".stage canvas[data-eye]")).to_be_visible()
    expect(page.locator(".pin")).to_have_count(4)
    page.locator(".stage canvas").scroll_into_view_if_needed()


def test_a_scan_becomes_a_back(page: Page, look: Look, scan: Path) -> None:
    take_a_scan(page)
    look(page, "scan-new")
    bring(page, scan)
    look(page, "scan-look")
    page.locator("input[name=mark][value=LOWEST]").check()
    box = page.locator("[data-pick] img").bounding_box()
    assert box is not None
    page.locator("[data-pick] img").click(position={"x": box["width"] * 0.55, "y": box["height"] * 0.2})
    expect(state_of(page, "LOWEST")).to_have_text("set by hand")

    # In 3-D, with the keyboard alone: the mark moves, is confirmed, and both are taken back.
    open_in_3d(page)
    page.locator("input[name=mark][value=LAST_RIB]").check()
    page.locator(".stage canvas").focus()
    before = pin_of(page, "D")
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    expect(said(page)).to_have_text("Last-rib mark: set.")
    expect(state_of(page, "LAST_RIB")).to_have_text("set by hand")
    assert pin_of(page, "D")[0] > before[0] + 4.0
    page.get_by_role("button", name="I felt for it there").click()
    expect(state_of(page, "LAST_RIB")).to_have_text("felt for")
    look(page, "scan-3d")
    page.get_by_role("button", name="Undo").click()
    expect(state_of(page, "LAST_RIB")).to_have_text("set by hand")
    page.get_by_role("button", name="Undo").click()
    expect(state_of(page, "LAST_RIB")).to_have_text("suggested")
    page.locator("input[name=unit][value=m]").check()
    page.get_by_role("button", name="Record the back").click()
    page.wait_for_url("**/jobs/**")


def test_a_mark_is_put_and_dragged_with_the_thumb(phone: Page, scan: Path, brought: list[str]) -> None:
    look_at_one(phone, scan, brought)
    open_in_3d(phone)
    # A finger sideways turns the horse as long as no mark is in hand.
    touch = Touch(phone)
    eye = phone.locator(".stage canvas").get_attribute("data-eye")
    x, y = pin_of(phone, "D")
    touch.drag((x, y + 60.0), (x + 50.0, y + 60.0))
    expect(phone.locator(".stage canvas")).not_to_have_attribute("data-eye", str(eye))
    expect(state_of(phone, "LAST_RIB")).to_have_text("suggested")
    phone.get_by_role("button", name="From the near side").click()

    phone.locator("input[name=mark][value=LAST_RIB]").check()
    phone.locator(".stage canvas").scroll_into_view_if_needed()
    x, y = pin_of(phone, "D")
    # Tapped on the flank, far enough from where the mark was not to take hold of it.
    phone.touchscreen.tap(x - 10.0, y + 70.0)
    expect(state_of(phone, "LAST_RIB")).to_have_text("set by hand")
    put = pin_of(phone, "D")
    assert put == pytest.approx((x - 10.0, y + 70.0), abs=4.0)

    touch.start(put)
    touch.move((put[0] - 14.0, put[1] - 12.0))
    touch.move((put[0] - 30.0, put[1] - 20.0))
    expect(phone.locator(".loupe")).to_be_visible()
    scrolled = phone.evaluate("window.scrollY")
    touch.end()
    expect(phone.locator(".loupe")).to_be_hidden()
    expect(said(phone)).to_have_text("Last-rib mark: set.")
    assert pin_of(phone, "D") == pytest.approx((put[0] - 30.0, put[1] - 20.0), abs=4.0)
    assert phone.evaluate("window.scrollY") == scrolled
    for name in ("head", "tail", "off side", "near side", "I felt for it there", "Undo"):
        box = phone.get_by_role("button", name=name).first.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44.0, name


def test_without_webgl_the_picture_stays(laptop: Page, scan: Path, brought: list[str]) -> None:
    laptop.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    take_a_scan(laptop)
    bring(laptop, scan)
    laptop.get_by_role("button", name="Set the marks in 3-D").click()
    expect(said(laptop)).to_contain_text("cannot be shown on this device")
    expect(laptop.locator("[data-pick] img")).to_be_visible()


def test_a_scan_that_is_none_is_told_on_the_form(laptop: Page, tmp_path: Path) -> None:
    take_a_scan(laptop)
    wrong = tmp_path / "holiday.zip"
    wrong.write_bytes(b"PK\x03\x04" + b"\0" * 99)
    laptop.get_by_label("Scan", exact=True).set_input_files(str(wrong))
    laptop.get_by_role("button", name="Look at the scan").click()
    expect(laptop.get_by_role("alert").filter(has_text="a zip archive")).to_be_visible()
    expect(laptop.get_by_role("button", name="Look at the scan")).to_be_enabled()


def test_work_killed_in_the_middle_is_told_and_taken_up(laptop: Page, scan: Path, program: Program) -> None:
    take_a_scan(laptop)
    laptop.get_by_label("Scan", exact=True).set_input_files(str(scan))
    laptop.get_by_role("button", name="Look at the scan").click()
    expect(laptop.get_by_text(re.compile("^(Reading|Finding)"))).to_be_visible()
    address = laptop.url
    program.kill()
    program.start()
    laptop.goto(address)
    expect(laptop.get_by_role("alert")).to_contain_text("Interrupted")
    laptop.get_by_role("button", name="Ask for it again").click()
    expect(laptop.get_by_text("Look whether this is the horse")).to_be_visible()
