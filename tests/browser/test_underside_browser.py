"""A scan of an upturned saddle is brought from the saddle's page, looked at, and recorded."""

import re
from pathlib import Path

import pytest
import trimesh
from browser_program import LONG_WORK_MS, Look, follow, sign_in
from playwright.sync_api import Page, expect
from saddle_numbers import take_numbers

from saddlebench.demo.saddles import ALL_ROUND, BADLY_FLOCKED
from saddlebench.engine.saddle.numbers import model_from_numbers
from support.upturned import underside_of, upturned

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = upturned(underside_of(model_from_numbers(BADLY_FLOCKED, 2000), spacing=3.0), 7, noise_mm=1.0)
    path = tmp_path_factory.mktemp("scan") / "saddle.ply"
    trimesh.Trimesh(made.vertices / 1000.0, made.faces, process=False).export(path)
    return path


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


def test_a_scan_becomes_a_version_of_the_saddle(page: Page, look: Look, scan: Path) -> None:
    sign_in(page)
    page.goto("/saddles/")
    address = follow(page, page.get_by_role("link", name=re.compile("Juniper's brown jumping")))
    take_numbers(page, address, ALL_ROUND)
    page.goto(address)
    page.get_by_role("link", name="Scan the underside").click()
    expect(page.get_by_role("heading", name="Scan of")).to_be_visible()
    look(page, "underside-new")
    page.get_by_label("Scan", exact=True).set_input_files(str(scan))
    page.get_by_label("Its unit").select_option("m")
    page.get_by_role("button", name="Look for the underside").click()
    expect(page.get_by_role("heading", name="Found in the scan")).to_be_visible(timeout=LONG_WORK_MS)
    expect(page.locator("main")).to_contain_text("Channel")
    look(page, "underside-found")
    page.get_by_role("button", name="Record it as a new version").click()
    expect(page.get_by_role("heading", name="as measured")).to_be_visible()
    look(page, "underside-recorded")
