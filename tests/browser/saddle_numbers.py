"""A saddle's numbers typed into its page, as a fitter does before a scan or tracings of it are brought."""

import re

from playwright.sync_api import Page, expect

from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.web.capture.saddle_form import texts_of_record


def take_numbers(page: Page, address: str, numbers: PanelledNumbers) -> None:
    record = SaddleRecord(label="", numbers=numbers, alterable=usual_alterations(numbers, "not known"))
    page.goto(f"{address}measure/")
    page.evaluate("document.querySelectorAll('main details').forEach(one => one.open = true)")
    for path, text in texts_of_record(record).items():
        field = page.locator(f"input[name='{path}'][inputmode='decimal']")
        if text and field.count() == 1:
            field.fill(text)
    page.get_by_role("button", name="Record this saddle").click()
    expect(page.get_by_text(re.compile(r"recorded as version \d"))).to_be_visible()
