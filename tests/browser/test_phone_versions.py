"""Two builds of the program, one after the other on the same data folder, and a phone with pages of either.

The other build is a copy of this one with another protocol and other styles, so that its pages, its service
worker and what it understands of entries are another's in earnest.
"""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import BUNDLE, Look, Program, context_of, free_port, sign_in
from phone_page import in_tables, journal, ready, sent, start_visit
from playwright.sync_api import Browser, Page, expect

import saddlebench
from saddlebench.web.phone.protocol import PROTOCOL

pytestmark = pytest.mark.browser
NEWER = PROTOCOL + 1
ONLINE = "window.dispatchEvent(new Event('online'))"


@pytest.fixture(scope="module")
def newer_source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where a build lies that speaks a protocol more."""
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    folder = tmp_path_factory.mktemp("newer")
    package = folder / "saddlebench"
    ignored = shutil.ignore_patterns("__pycache__")
    shutil.copytree(Path(saddlebench.__file__).parent, package, ignore=ignored)
    spoken = package / "web" / "phone" / "protocol.py"
    text = spoken.read_text(encoding="utf-8")
    assert text.count(f"\nPROTOCOL = {PROTOCOL}\n") == 1
    spoken.write_text(text.replace(f"\nPROTOCOL = {PROTOCOL}\n", f"\nPROTOCOL = {NEWER}\n"), encoding="utf-8")
    with (package / "web" / "phone" / "static" / "phone" / "phone.css").open("a", encoding="utf-8") as styles:
        styles.write("\n/* Another build. */\n")
    return folder


@pytest.fixture
def builds(practice_home: Path, tmp_path: Path, newer_source: Path) -> Iterator[tuple[Program, Program]]:
    """This build and the newer one, on one data folder and at one address; neither is started."""
    home, port = tmp_path / "home", free_port()
    shutil.copytree(practice_home, home)
    this, newer = Program(home=home, port=port), Program(home=home, port=port, source=newer_source)
    yield this, newer
    this.kill()
    newer.kill()


@pytest.fixture
def opened(browser: Browser, builds: tuple[Program, Program]) -> Iterator[Page]:
    context = context_of(
        browser, builds[0].url, viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True
    )
    yield context.new_page()
    context.close()


def renew(page: Page) -> None:
    """Take the pages of the program that runs, once the browser has them."""
    expect(page.locator(".bar-trouble")).to_contain_text("was renewed")
    page.locator(".bar-trouble").tap()
    page.get_by_role("button", name="Renew the pages").first.tap()


def spoken_by(page: Page, protocol: int) -> None:
    expect(page.locator(f'body[data-protocol="{protocol}"]')).to_be_attached()


def fill_in(page: Page, horse: str, girth: str) -> None:
    page.goto("/phone/")
    page.get_by_role("link", name=re.compile(horse)).first.tap()
    page.get_by_role("link", name=re.compile("Stance and condition")).tap()
    page.get_by_label("Heart girth [cm]").fill(girth)
    page.get_by_label("Heart girth [cm]").blur()
    expect(page.locator('[data-field="heart_girth_cm"] .kept-line')).to_contain_text("kept on this phone")


def horses_named(program: Program, name: str) -> int:
    return len(in_tables(program, "select id from practice_horse where label = ?", name))


def keys_of(page: Page) -> list[str]:
    return [row["key"] for row in journal(page)]


def test_what_older_pages_kept_is_taken_and_renewing_them_throws_nothing_away(
    builds: tuple[Program, Program], opened: Page, look: Look
) -> None:
    this, newer = builds
    this.start()
    sign_in(opened)
    ready(opened)
    spoken_by(opened, PROTOCOL)
    opened.context.set_offline(True)
    start_visit(opened, "Hazel")
    assert len(journal(opened)) == 2
    this.kill()

    newer.start()
    sent(opened)
    assert horses_named(newer, "Hazel") == 1
    # Nobody's screen changes by itself.
    spoken_by(opened, PROTOCOL)
    # The newer pages wait. What is entered meanwhile is there after they are taken, with no server in reach.
    expect(opened.locator(".bar-trouble")).to_contain_text("was renewed")
    opened.context.set_offline(True)
    fill_in(opened, "Hazel", "181,5")
    kept = keys_of(opened)
    assert len(kept) == 1
    opened.goto("/phone/#/unsent")
    look(opened, "phone-renew")
    renew(opened)
    spoken_by(opened, NEWER)
    expect(opened.locator(".bar-line strong")).to_contain_text("1 entry not sent")
    assert keys_of(opened) == kept
    opened.goto("/phone/")
    expect(opened.get_by_role("link", name=re.compile("Hazel"))).to_be_visible()
    sent(opened)
    stands = in_tables(newer, "select value from practice_entry where field = 'heart_girth_cm'")
    assert stands == [("181.5",)]


def test_an_older_program_takes_nothing_of_newer_pages_and_nothing_is_lost(
    builds: tuple[Program, Program], opened: Page, tmp_path: Path
) -> None:
    this, newer = builds
    newer.start()
    sign_in(opened)
    ready(opened)
    opened.context.set_offline(True)
    start_visit(opened, "Alder")
    kept = keys_of(opened)
    newer.kill()

    this.start()
    opened.context.set_offline(False)
    opened.evaluate(ONLINE)
    expect(opened.locator(".bar-trouble")).to_contain_text("older than the pages on this phone")
    assert keys_of(opened) == kept
    assert horses_named(this, "Alder") == 0
    # Neither by the file: refused whole, in words.
    opened.goto("/phone/#/unsent")
    with opened.expect_download() as coming:
        opened.get_by_role("button", name="Save as a file").tap()
    coming.value.save_as(tmp_path / "unsent.jsonl")
    opened.goto("/phone/read-in/")
    opened.get_by_label("File that the phone saved").set_input_files(tmp_path / "unsent.jsonl")
    opened.get_by_role("button", name="Read in").tap()
    expect(opened.get_by_text("the file is of a newer version than this program")).to_be_visible()
    assert horses_named(this, "Alder") == 0

    # With the older program's own pages one goes on; what newer pages entered waits, and says so.
    opened.goto("/phone/#/unsent")
    opened.get_by_role("button", name="Renew the pages").first.tap()
    spoken_by(opened, PROTOCOL)
    expect(opened.locator(".bar-trouble")).to_contain_text("made with newer pages than these")
    opened.goto("/phone/")
    start_visit(opened, "Rowan")
    expect(opened.locator(".bar-line strong")).to_contain_text("2 entries not sent")
    assert keys_of(opened) == kept
    assert horses_named(this, "Rowan") == 1
    this.kill()

    newer.start()
    opened.evaluate(ONLINE)
    renew(opened)
    spoken_by(opened, NEWER)
    expect(opened.locator(".bar-line strong")).to_have_text("Everything is sent")
    assert (horses_named(newer, "Alder"), horses_named(newer, "Rowan")) == (1, 1)
    [(keys, different)] = in_tables(newer, "select count(key), count(distinct key) from practice_entry")
    assert keys == different
