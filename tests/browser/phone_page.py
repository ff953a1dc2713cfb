"""What the tests of the phone's page share: opening it, keying in, and reading what it keeps."""

import io
import re
import sqlite3
from typing import Any

import numpy as np
from browser_program import Program
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

IN_CHARGE = """() => new Promise((resolve) => {
  const workers = navigator.serviceWorker;
  if (workers.controller) resolve(true);
  else workers.addEventListener("controllerchange", () => resolve(true));
})"""
UNSENT = "document.querySelector('.bar-line strong').textContent"


def ready(page: Page) -> None:
    """Open the phone's page, signed in, with everything carried and the service worker in charge."""
    page.goto("/phone/")
    page.evaluate(IN_CHARGE)
    expect(page.get_by_role("heading", name="Visits", exact=True)).to_be_visible()
    expect(page.locator(".bar-line strong")).to_have_text("Everything is sent")


def start_visit(page: Page, horse: str) -> None:
    page.get_by_role("link", name="Start a visit").click()
    page.get_by_label("Horse").fill(horse)
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_role("heading", name=horse)).to_be_visible()


def begin_back(
    page: Page, tool: str = "chain-12x30", count: str = "3", *, first: str = "-80", apart: str = "80"
) -> None:
    page.get_by_role("link", name="Measure the back").click()
    page.get_by_label("Instrument").select_option(tool)
    page.get_by_label(re.compile("^First section")).fill(first)
    page.get_by_label("Apart, mm").fill(apart)
    page.get_by_label("Sections").fill(count)
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("heading", name="Parts")).to_be_visible()


def tap(page: Page, text: str) -> None:
    """Key a number in, as a thumb does."""
    names = {".": "point", ",": "comma", "-": "minus"}
    for one in text:
        page.locator(f'.pad-key[data-key="{names.get(one, one)}"]').tap()
    page.locator('.pad-key[data-key="next"]').tap()


def kept_on_phone(page: Page) -> None:
    expect(page.locator(".saved-line")).to_contain_text("kept on this phone")
    expect(page.locator(".saved-line")).not_to_contain_text("being kept")


def in_tables(program: Program, question: str, *given: object) -> list[Any]:
    database = next(program.home.glob("*.sqlite3"))
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as tables:
        return tables.execute(question, given).fetchall()


def journal(page: Page) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(
        """() => new Promise((resolve) => {
          const asked = indexedDB.open("saddlebench-phone");
          asked.onsuccess = () => {
            const all = asked.result.transaction("journal").objectStore("journal").getAll();
            all.onsuccess = () => { asked.result.close(); resolve(all.result); };
          };
        })"""
    )
    return found


def sent(page: Page) -> None:
    """Let the server be in reach again, and wait until everything is sent."""
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".bar-line strong")).to_have_text("Everything is sent")


def photo_of(seed: int, blocks: int = 30) -> FilePayload:
    """Return an invented photo as a camera gives it: edges enough to be sharp, and nothing real in it."""
    drawn = np.random.default_rng(seed).integers(60, 220, (blocks, blocks * 4 // 3, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(drawn).resize((1600, 1200), Image.Resampling.NEAREST).save(out, "JPEG", quality=70)
    return {"name": f"{seed}.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
