"""Twelve hours with no signal, then forty photos over a thin line that is cut again: all there, once.

The hours pass by the phone's clock; the photos are JPEG files as a camera gives them, each another. The
benchmark `benchmarks.phone` sends larger ones and says how long it takes.
"""

import re
import time

import pytest
from browser_program import BUNDLE, Look, Program, sign_in
from phone_page import in_tables, photo_of, ready, start_visit
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
PHOTOS, CUTS, HOURS = 40, 3, 12
THIN = {"offline": False, "latency": 60, "downloadThroughput": 200_000, "uploadThroughput": 200_000}
CUT = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
ONLINE = "window.dispatchEvent(new Event('online'))"


def test_forty_photos_of_a_day_without_signal_arrive_once(phone: Page, program: Program, look: Look) -> None:
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    phone.clock.install(time=time.time() - HOURS * 3600)
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    start_visit(phone, "Alder")
    phone.get_by_role("link", name="Photos").click()
    files = [photo_of(seed, blocks=24) for seed in range(PHOTOS)]
    phone.locator("input[type=file]").first.set_input_files(files)
    bar = phone.locator(".bar-line strong")
    expect(bar).to_contain_text(f"{PHOTOS} photos not sent")
    phone.clock.fast_forward(HOURS * 3600 * 1000)
    expect(bar).to_contain_text(re.compile(f"oldest {HOURS} h old"))
    phone.reload()
    expect(bar).to_contain_text(f"{PHOTOS} photos not sent")
    look(phone, "phone-after-twelve-hours")

    wire = phone.context.new_cdp_session(phone)
    wire.send("Network.enable")
    phone.context.set_offline(False)
    before = PHOTOS
    for _ in range(CUTS):
        wire.send("Network.emulateNetworkConditions", THIN)
        phone.evaluate(ONLINE)
        before = fewer_than(phone, before)
        wire.send("Network.emulateNetworkConditions", CUT)
        expect(phone.locator(".bar-facts")).to_contain_text("no server in reach")
    assert 0 < before < PHOTOS, "the line was cut in the middle, not before or after"
    wire.send("Network.emulateNetworkConditions", THIN)
    phone.evaluate(ONLINE)
    expect(bar).to_have_text("Everything is sent")
    [(there, different)] = in_tables(
        program,
        "select count(*), count(distinct p.original_sha256) from practice_photo p"
        " join practice_horse h on h.id = p.horse_id where h.label = 'Alder'",
    )
    assert (there, different) == (PHOTOS, PHOTOS)


def fewer_than(phone: Page, before: int) -> int:
    """Wait until a photo more is sent, and return how many are left."""
    for _ in range(600):
        left = phone.evaluate(UNSENT_PHOTOS)
        if left < before:
            return int(left)
        time.sleep(0.05)
    pytest.fail("no photo was sent")


UNSENT_PHOTOS = """() => {
  const said = document.querySelector(".bar-line strong").textContent;
  return Number(/(\\d+) photo/.exec(said)?.[1] ?? 0);
}"""
