"""A scan becomes a back on a phone and on a laptop: looked at, a mark tapped, the unit asked, recorded."""

from pathlib import Path

import pytest
import trimesh
from browser_program import Look, sign_in
from playwright.sync_api import Page, expect

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.whole_horse import whole_horse

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    played = play_scan(*whole_horse(), seed=3, playing=Playing(scaled=False))
    path = tmp_path_factory.mktemp("scan") / "yard.glb"
    trimesh.Trimesh(played.vertices / 1000.0, played.faces, process=False).export(path)
    return path


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_a_scan_becomes_a_back(page: Page, look: Look, scan: Path) -> None:
    page.set_default_timeout(120_000)
    sign_in(page)
    page.goto("/horses/")
    page.get_by_role("link", name="Juniper").first.click()
    page.get_by_role("link", name="Take a scan").click()
    expect(page.get_by_role("heading", name="Scan of Juniper")).to_be_visible()
    look(page, "scan-new")
    page.get_by_label("Scan", exact=True).set_input_files(str(scan))
    page.get_by_role("button", name="Look at the scan").click()
    expect(page.get_by_text("Look whether this is the horse")).to_be_visible(timeout=300_000)
    page.locator("[data-pick] img").evaluate("image => image.decode()")
    look(page, "scan-look")
    page.get_by_label("C lowest point").check()
    box = page.locator("[data-pick] img").bounding_box()
    assert box is not None
    page.locator("[data-pick] img").click(position={"x": box["width"] * 0.55, "y": box["height"] * 0.2})
    expect(page.get_by_text("set by hand")).to_be_visible()
    page.locator("input[name=unit][value=m]").check()
    page.get_by_role("button", name="Record the back").click()
    page.wait_for_url("**/jobs/**")
