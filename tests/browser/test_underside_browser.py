"""A scan of an upturned saddle is brought from the saddle's page, looked at, and recorded."""

import re
from pathlib import Path

import pytest
import trimesh
from browser_program import Look, sign_in
from playwright.sync_api import Page, expect

from saddlebench.demo.saddles import ALL_ROUND, BADLY_FLOCKED
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.web.capture.saddle_form import texts_of_record
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


def _take_numbers(page: Page, address: str) -> None:
    record = SaddleRecord(label="", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known"))
    page.goto(f"{address}measure/")
    page.evaluate("document.querySelectorAll('main details').forEach(one => one.open = true)")
    for path, text in texts_of_record(record).items():
        field = page.locator(f"input[name='{path}'][inputmode='decimal']")
        if text and field.count() == 1:
            field.fill(text)
    page.get_by_role("button", name="Record this saddle").click()
    expect(page.get_by_text(re.compile(r"recorded as version \d"))).to_be_visible()


def test_a_scan_becomes_a_version_of_the_saddle(page: Page, look: Look, scan: Path) -> None:
    page.set_default_timeout(120_000)
    sign_in(page)
    page.goto("/saddles/")
    page.get_by_role("link", name=re.compile("Juniper's brown jumping")).click()
    address = page.url
    _take_numbers(page, address)
    page.goto(address)
    page.get_by_role("link", name="Scan the underside").click()
    expect(page.get_by_role("heading", name="Scan of")).to_be_visible()
    look(page, "underside-new")
    page.get_by_label("Scan", exact=True).set_input_files(str(scan))
    page.get_by_label("Its unit").select_option("m")
    page.get_by_role("button", name="Look for the underside").click()
    expect(page.get_by_role("heading", name="Found in the scan")).to_be_visible(timeout=400_000)
    expect(page.locator("main")).to_contain_text("Channel")
    look(page, "underside-found")
    page.get_by_role("button", name="Record it as a new version").click()
    expect(page.get_by_role("heading", name="as measured")).to_be_visible()
    look(page, "underside-recorded")
