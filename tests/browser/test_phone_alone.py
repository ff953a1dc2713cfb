"""The phone with no server in reach, in a real browser: all kept, nothing doubled, both values shown."""

import json
import os
import re
import time
from pathlib import Path

import pytest
from browser_program import BUNDLE, Look, Program, context_of, sign_in
from phone_page import UNSENT, begin_back, in_tables, journal, kept_on_phone, ready, sent, start_visit, tap
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser
# As pages of a later program do: a store more, under a higher number.
NEWER_STORAGE = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.open("saddlebench-phone", 99);
  asked.onupgradeneeded = () => asked.result.createObjectStore("of_a_later_program");
  asked.onsuccess = () => { asked.result.close(); resolve(true); };
  asked.onerror = () => reject(asked.error);
})"""


@pytest.fixture(autouse=True)
def phone_scripts() -> None:
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")


def test_a_visit_in_flight_mode_through_reloads_then_sent_once(
    phone: Page, program: Program, look: Look
) -> None:
    sign_in(phone)
    ready(phone)
    look(phone, "phone-today")
    phone.context.set_offline(True)
    start_visit(phone, "Sorrel")
    look(phone, "phone-visit")
    phone.get_by_role("link", name=re.compile("Stance and condition")).click()
    phone.get_by_label("Heart girth [cm]").fill("181,5")
    phone.get_by_label("Heart girth [cm]").blur()
    expect(phone.locator('[data-field="heart_girth_cm"] .kept-line')).to_contain_text("kept on this phone")
    look(phone, "phone-step")
    phone.get_by_label("Weighed on a scale [kg]").fill("9000")
    phone.get_by_label("Weighed on a scale [kg]").blur()
    expect(phone.locator('[data-field="weighed_kg"] .kept-line')).to_contain_text("Not kept: 9000 is outside")
    phone.reload()
    expect(phone.get_by_label("Heart girth [cm]")).to_have_value("181.5")
    phone.goto("/phone/")
    phone.get_by_role("link", name=re.compile("Sorrel")).click()
    phone.get_by_role("link", name="Stop this fitting").click()
    phone.get_by_label("lame", exact=False).first.check()
    expect(phone.get_by_role("alert")).to_contain_text("stopped")
    phone.get_by_role("link", name="Back to the visit").click()
    begin_back(phone)
    look(phone, "phone-measure")
    phone.get_by_role("link", name=re.compile("Section 1 at|Section 1 80|Section 1")).first.click()
    for reading in ("12", "9.5", "8"):
        tap(phone, reading)
    kept_on_phone(phone)
    phone.locator('.pad-key[data-key="7"]').tap()
    expect(phone.locator(".pad-number")).to_have_text("7")
    look(phone, "phone-pad")
    phone.reload()
    expect(phone.locator(".pad-number")).to_have_text("7")
    assert "not sent" in phone.evaluate(UNSENT)
    sent(phone)
    assert journal(phone) == []
    read = in_tables(
        program,
        "select field, value from practice_entry"
        " where field like 's1r0/near/%' and outcome = 'saved' order by id",
    )
    assert [(field, json.loads(value)) for field, value in read] == [
        ("s1r0/near/1", 12),
        ("s1r0/near/2", 9.5),
        ("s1r0/near/3", 8),
    ]
    assert len(in_tables(program, "select id from practice_horse where label = 'Sorrel'")) == 1
    phone.goto("/phone/#/unsent")
    look(phone, "phone-unsent")


def test_two_phones_on_one_visit_are_shown_both_values(
    browser: Browser, phone: Page, program: Program, look: Look
) -> None:
    sign_in(phone)
    ready(phone)
    other = context_of(
        browser, program.url, viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True
    )
    far = other.new_page()
    sign_in(far, "fitter@tussock.example")
    ready(far)
    for page, value in ((phone, "118"), (far, "122")):
        page.context.set_offline(True)
        page.get_by_role("link", name=re.compile("Juniper")).first.click()
        page.get_by_role("link", name=re.compile("The back")).click()
        page.get_by_label("Girth size [cm]").fill(value)
        page.get_by_label("Girth size [cm]").blur()
        expect(page.locator('[data-field="girth_size_cm"] .kept-line')).to_contain_text("kept on this phone")
    sent(phone)
    far.context.set_offline(False)
    far.evaluate("window.dispatchEvent(new Event('online'))")
    expect(far.locator(".bar-trouble")).to_contain_text("needs a decision")
    far.locator(".bar-trouble").click()
    decision = far.locator(".decision")
    expect(decision).to_contain_text("122")
    expect(decision).to_contain_text("118")
    expect(decision).to_contain_text("Orla Invented")
    look(far, "phone-conflict")
    far.get_by_role("button", name="Enter mine over it").click()
    expect(far.locator(".bar-line strong")).to_have_text("Everything is sent")
    stands = in_tables(
        program,
        "select value from practice_entry where field = 'girth_size_cm' and outcome = 'saved' order by id",
    )
    assert [json.loads(one) for (one,) in stands] == [118, 122]
    other.close()


def test_a_clock_that_was_set_back_is_said_and_the_order_stays(phone: Page) -> None:
    phone.clock.install(time=time.time())
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Bracken")
    phone.clock.set_system_time(time.time() - 5 * 3600)
    phone.get_by_role("link", name=re.compile("Stance and condition")).click()
    phone.get_by_label("Heart girth [cm]").fill("180")
    phone.get_by_label("Heart girth [cm]").blur()
    expect(phone.locator(".bar-trouble")).to_contain_text("clock was set back")
    rows = journal(phone)
    assert [one["seq"] for one in rows] == sorted(one["seq"] for one in rows)
    assert rows[-1]["at"] < rows[0]["at"]
    assert rows[-1]["field"] == "heart_girth_cm"
    phone.goto("/phone/#/unsent")
    expect(phone.get_by_text("set back by 5 h")).to_be_visible()
    # Sent, there is nothing left whose age could be wrong.
    sent(phone)
    expect(phone.locator(".bar-trouble")).to_have_count(0)


def test_no_room_left_is_said_and_what_was_kept_stays(phone: Page, program: Program) -> None:
    # Before anything is kept: a browser remembers for a while how much room there was.
    wire = phone.context.new_cdp_session(phone)
    wire.send("Storage.overrideQuotaForOrigin", {"origin": program.url, "quotaSize": 2_500_000})
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Teasel")
    before = len(journal(phone))
    phone.get_by_role("link", name="Photos").click()
    phone.locator("input[type=file]").first.set_input_files(
        {"name": "large.jpg", "mimeType": "image/jpeg", "buffer": os.urandom(3_000_000)}
    )
    expect(phone.locator(".shot").first.locator(".field-problem")).to_contain_text("NOT kept")
    assert len(journal(phone)) == before
    phone.goto("/phone/")
    expect(phone.get_by_role("link", name=re.compile("Teasel"))).to_be_visible()
    expect(phone.locator(".bar-line strong")).not_to_contain_text("photo")


def test_storage_of_newer_pages_is_opened_as_it_is(phone: Page) -> None:
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Yarrow")
    before = journal(phone)
    phone.evaluate(NEWER_STORAGE)
    phone.reload()
    expect(phone.get_by_role("heading", name="Yarrow")).to_be_visible()
    assert journal(phone) == before
    phone.get_by_role("link", name=re.compile("Stance and condition")).click()
    phone.get_by_label("Heart girth [cm]").fill("180")
    phone.get_by_label("Heart girth [cm]").blur()
    expect(phone.locator('[data-field="heart_girth_cm"] .kept-line')).to_contain_text("kept on this phone")
    assert len(journal(phone)) == len(before) + 1


def test_a_saved_file_is_read_in_on_the_laptop(
    phone: Page, laptop: Page, program: Program, tmp_path: Path, look: Look
) -> None:
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Nettle")
    phone.goto("/phone/#/unsent")
    with phone.expect_download() as coming:
        phone.get_by_role("button", name="Save as a file").click()
    file = tmp_path / coming.value.suggested_filename
    coming.value.save_as(file)
    assert file.name.startswith("saddlebench-unsent-")
    sign_in(laptop)
    laptop.goto("/phone/read-in/")
    laptop.get_by_label("File that the phone saved").set_input_files(file)
    laptop.get_by_role("button", name="Read in").click()
    expect(laptop.get_by_text("Entries of the file that are here: 2. Photos: 0.")).to_be_visible()
    look(laptop, "phone-read-in")
    sent(phone)
    assert len(in_tables(program, "select id from practice_horse where label = 'Nettle'")) == 1
