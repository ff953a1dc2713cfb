"""Seven photographed sheets become a measuring on a phone; a point is moved by keyboard."""

from pathlib import Path

import pytest
from browser_program import LONG_WORK_MS, Look, Touch, follow, sign_in
from playwright.sync_api import Page, expect

from saddlebench.demo import shapes
from saddlebench.demo.traced import STATIONS_MM, TOPLINE_STARTS_MM, traced_photos, write_photos
from support.traced_paper import plain_photo

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    return write_photos(traced_photos(shapes.PLAIN), tmp_path_factory.mktemp("sheets"))


def dragged_by_thumb(page: Page, number: int) -> None:
    """Drag a point with a finger: the frame stays, a glass shows the place; and undo it."""
    reach = page.locator(".handle .reach").nth(number)
    reach.scroll_into_view_if_needed()
    frame = page.locator(".pan")
    before = frame.evaluate("pan => [pan.scrollLeft, pan.scrollTop]")
    box = reach.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch = Touch(page)
    touch.start((x, y))
    touch.move((x + 8.0, y + 8.0))
    touch.move((x + 30.0, y + 24.0))
    glass = page.locator(".glass")
    expect(glass).to_be_visible()
    seen = glass.bounding_box()
    assert seen is not None
    assert seen["y"] + seen["height"] < y or not seen["x"] < x < seen["x"] + seen["width"]
    expect(page.locator("[data-moved-said]")).not_to_contain_text("Moved 0 to the right and 0 down")
    touch.end()
    expect(glass).to_be_hidden()
    assert frame.evaluate("pan => [pan.scrollLeft, pan.scrollTop]") == before
    undo = page.get_by_role("button", name="Undo the last move")
    undo.click()
    expect(page.locator("[data-moved-said]")).to_contain_text("Moved 0 to the right and 0 down")


def test_seven_photos_become_a_measuring_on_a_phone(
    phone: Page, look: Look, photos: tuple[Path, ...]
) -> None:
    page = phone
    sign_in(page)
    page.goto("/horses/")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Read tracings on paper").click()
    expect(page.get_by_role("heading", name="Tracings of Juniper")).to_be_visible()
    look(page, "tracing-new")
    page.get_by_label("Photos").set_input_files([str(path) for path in photos])
    page.get_by_label("Stations 1, 2, 3").fill(" ".join(f"{one:g}" for one in STATIONS_MM))
    page.get_by_label("Topline’s long line").fill(f"{TOPLINE_STARTS_MM:g}")
    page.get_by_role("button", name="Read the photos").click()
    expect(page.get_by_role("heading", name="Tracings: Juniper")).to_be_visible(timeout=LONG_WORK_MS)
    look(page, "tracing-read")
    follow(page, page.get_by_role("link", name="Station 1"))
    handle = page.locator(".handle").nth(3)
    handle.focus()
    page.keyboard.press("Shift+ArrowDown")
    expect(page.locator("[data-moved-said]")).to_contain_text("Moved 0 to the right and 10 down")
    page.keyboard.press("Shift+ArrowUp")
    dragged_by_thumb(page, 3)
    box = page.locator(".handle .reach").nth(3).bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 43.5
    look(page, "tracing-photo")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("heading", name="Station 2")).to_be_visible()
    page.get_by_role("link", name="All photos").click()
    page.get_by_role("button", name="All lines are right: keep them").click()
    expect(page.get_by_role("heading", name="The back of Juniper")).to_be_visible()


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def number(page: Page, name: str) -> float:
    return float(page.locator(f"[name='{name}']").input_value())


def drag(page: Page, key: str, by: tuple[float, float]) -> None:
    """Take hold of a place on the photo and move it [px of the screen]."""
    handle = page.locator(f"[data-key='{key}'] .reach")
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 43.5
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by[0], y + by[1], steps=4)
    page.mouse.up()


def test_corners_are_dragged_stepped_and_typed_and_the_paper_is_read_by_them(
    page: Page, look: Look, tmp_path: Path
) -> None:
    content, corners = plain_photo()
    (tmp_path / "plain.jpg").write_bytes(content)
    sign_in(page)
    page.goto("/horses/?q=juniper")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Read tracings on paper").click()
    page.get_by_label("Photos").set_input_files(str(tmp_path / "plain.jpg"))
    page.get_by_label("Stations 1, 2, 3").fill("80")
    page.get_by_role("button", name="Read the photos").click()
    expect(page.get_by_text("No photo could be read by its square marks")).to_be_visible(timeout=LONG_WORK_MS)
    look(page, "tracing-unread")
    follow(page, page.get_by_role("link", name="Mark its corners"))
    before = number(page, "x-c1"), number(page, "y-c1")
    drag(page, "c1", (20.0, 12.0))
    after = number(page, "x-c1"), number(page, "y-c1")
    assert after[0] > before[0] + 10
    assert after[1] > before[1] + 5
    page.locator("[data-key='c2']").focus()
    stood = number(page, "x-c2")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowLeft")
    assert number(page, "x-c2") == stood - 11
    page.get_by_text("Places by numbers").click()
    for k, (x, y) in enumerate(corners, start=1):
        page.locator(f"[name='x-c{k}']").fill(f"{x:.1f}".replace(".", ","))
        page.locator(f"[name='y-c{k}']").fill(f"{y:.1f}")
    turned = page.locator("[data-key='c3']").get_attribute("transform") or ""
    assert f"{corners[2][1]:.1f}" in turned
    look(page, "tracing-corners")
    page.get_by_role("button", name="Read it by these corners").click()
    expect(page.get_by_role("heading", name="Station 1")).to_be_visible(timeout=LONG_WORK_MS)
    look(page, "tracing-by-corners")


def test_angles_are_laid_on_a_photo_of_the_horse(page: Page, look: Look, tmp_path: Path) -> None:
    content, _ = plain_photo()
    (tmp_path / "side.jpg").write_bytes(content)
    sign_in(page)
    page.goto("/horses/?q=juniper")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Photos", exact=True).first.click()
    page.locator("#file-other").set_input_files(str(tmp_path / "side.jpg"))
    page.locator(".thumbs a:has(img)").first.click()
    follow(page, page.get_by_role("link", name="Measure topline, shoulder, points"))
    page.locator("[name='use-shoulder']").check()
    drag(page, "shoulder-a", (-15.0, 10.0))
    page.locator("[name='use-upright']").check()
    page.locator("[name='mm-level']").fill("1800")
    page.locator("[name='mm-upright']").fill("1500")
    look(page, "photo-angles")
    page.locator("[name='use-upright']").uncheck()
    page.get_by_role("button", name="Measure, and keep the lines").click()
    expect(page.get_by_text("against the level line marked").first).to_be_visible()
    expect(page.get_by_text("Level line, 1800 mm long", exact=True)).to_be_visible()
    look(page, "photo-measured")
