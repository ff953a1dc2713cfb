"""The phone alone: how soon it starts, a key's way to the curve, sending on a thin line, killings.

Chromium with its CPU slowed four times and its network narrowed, on this machine; the line is “slow 3G” as
400 kbit/s each way with 400 ms to and fro. Every horse and reading is invented.
"""

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Browser, CDPSession, Page, expect, sync_playwright

TESTS = Path(__file__).resolve().parent.parent / "tests"
sys.path[:0] = [str(TESTS / "browser"), str(TESTS / "web"), str(TESTS)]

from browser_program import BUNDLE, QUIET, Program, free_port, sign_in  # noqa: E402
from phone_killing import kill_and_look  # noqa: E402
from phone_page import begin_back, in_tables, journal, ready, sent, start_visit  # noqa: E402

SLOWER = 4
READINGS = 200
PHOTOS, CUTS = 40, 4
KILLS = int(os.environ.get("SADDLEBENCH_BENCH_KILLS", "50"))
SLOW_3G = {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
THIN = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 200_000}
CUT = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
IMPORTED = re.compile(r"""(?:from|import)\s*["']\./(part-\w+\.js)["']""")
SHOWN = """() => {
  const marks = performance.getEntriesByName("shown");
  return marks.length ? marks[0].startTime : 0;
}"""
KEY_TO_CURVE = """async (key) => {
  const button = document.querySelector(`.pad-key[data-key="${key}"]`);
  const begins = performance.now();
  button.click();
  const drawn = performance.now();
  await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
  return [drawn - begins, performance.now() - begins];
}"""
KEEP_MANY = """async (n) => {
  const asked = await new Promise((resolve) => {
    const opened = indexedDB.open("saddlebench-phone");
    opened.onsuccess = () => resolve(opened.result);
  });
  const all = await new Promise((resolve) => {
    const rows = asked.transaction("journal").objectStore("journal").getAll();
    rows.onsuccess = () => resolve(rows.result);
  });
  const like = all.findLast((row) => row.kind === "reading");
  const change = asked.transaction("journal", "readwrite", { durability: "strict" });
  for (let i = 0; i < n; i += 1) {
    const { seq, ...row } = like;
    const next = { key: crypto.randomUUID(), field: `s2r0/near/${i + 1}`, value: i / 10 };
    change.objectStore("journal").add({ ...row, ...next });
  }
  await new Promise((resolve) => { change.oncomplete = resolve; });
  asked.close();
}"""
PICTURES = """async (n) => {
  const made = new DataTransfer();
  for (let i = 0; i < n; i += 1) {
    const canvas = new OffscreenCanvas(1200, 900);
    const pen = canvas.getContext("2d");
    const dots = pen.createImageData(1200, 900);
    for (let k = 0; k < dots.data.length; k += 1) {
      dots.data[k] = k % 4 === 3 ? 255 : (k * 7 + i * 31 + ((k >> 6) * 13) % 97) & 255;
    }
    pen.putImageData(dots, 0, 0);
    const blob = await canvas.convertToBlob({ type: "image/jpeg", quality: 0.3 });
    made.items.add(new File([blob], `${i}.jpg`, { type: "image/jpeg" }));
  }
  const input = document.querySelector("input[type=file]");
  input.files = made.files;
  input.dispatchEvent(new Event("change"));
}"""


def _page(browser: Browser, program: Program) -> tuple[Page, CDPSession]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, base_url=program.url
    )
    page = context.new_page()
    sign_in(page)
    ready(page)
    return page, context.new_cdp_session(page)


def _start_and_keys(browser: Browser, program: Program) -> None:
    page, wire = _page(browser, program)
    page.context.set_offline(True)
    start_visit(page, "Larch")
    begin_back(page, count="7")
    address = page.url
    page.evaluate(KEEP_MANY, READINGS)
    wire.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    starts = []
    for _ in range(5):
        page.goto("/phone/")
        expect(page.locator(".bar-line strong")).to_contain_text("not sent")
        starts.append(page.evaluate(SHOWN))
    print(f"start with no server, {READINGS} entries unsent, CPU {SLOWER} times slower:")
    print(
        f"  page on the screen after {statistics.median(starts):.0f} ms (slowest of 5: {max(starts):.0f} ms)"
    )
    page.goto(f"{address}/part/s1r0")
    work, frames = [], []
    for i in range(24):
        done, frame = page.evaluate(KEY_TO_CURVE, str(i % 9 + 1) if i % 3 else "next")
        if i % 3:
            work.append(done)
            frames.append(frame)
    print("key to drawn curve, the same:")
    print(f"  script {statistics.median(work):.0f} ms, on the screen {statistics.median(frames):.0f} ms")
    print(f"  slowest of {len(frames)}: {max(frames):.0f} ms")
    page.context.close()


def _send_readings(browser: Browser, program: Program) -> None:
    page, wire = _page(browser, program)
    page.context.set_offline(True)
    start_visit(page, "Rowan")
    begin_back(page)
    page.context.set_offline(False)
    sent(page)
    # Once the record is there, the readings of a whole back wait, and the line is thin.
    page.context.set_offline(True)
    page.goto(page.url + "/part/s1r0")
    page.locator('.pad-key[data-key="5"]').tap()
    page.locator('.pad-key[data-key="next"]').tap()
    expect(page.locator(".saved-line")).to_contain_text("kept on this phone")
    page.evaluate(KEEP_MANY, READINGS - 1)
    page.goto("/phone/")
    expect(page.locator(".bar-line strong")).to_contain_text(f"{READINGS} entries")
    page.context.set_offline(False)
    wire.send("Network.enable")
    wire.send("Network.emulateNetworkConditions", SLOW_3G)
    begins = time.perf_counter()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    while journal(page):
        time.sleep(0.02)
    print(f"sending {READINGS} readings on slow 3G, from the first request to the last one settled:")
    print(f"  {time.perf_counter() - begins:.2f} s")
    page.context.close()


def _send_photos(browser: Browser, program: Program) -> None:
    page, wire = _page(browser, program)
    page.context.set_offline(True)
    start_visit(page, "Alder")
    page.get_by_role("link", name="Photos").click()
    page.evaluate(PICTURES, PHOTOS)
    expect(page.locator(".bar-line strong")).to_contain_text(f"{PHOTOS} photos", timeout=60_000)
    page.context.set_offline(False)
    wire.send("Network.enable")
    wire.send("Network.emulateNetworkConditions", THIN)
    begins = time.perf_counter()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    for _ in range(CUTS):
        time.sleep(2.5)
        wire.send("Network.emulateNetworkConditions", CUT)
        time.sleep(0.5)
        wire.send("Network.emulateNetworkConditions", THIN)
        page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".bar-line strong")).to_have_text("Everything is sent", timeout=180_000)
    seconds = time.perf_counter() - begins
    [(n, different)] = in_tables(
        program,
        "select count(*), count(distinct p.original_sha256) from practice_photo p"
        " join practice_horse h on h.id = p.horse_id where h.label = 'Alder'",
    )
    size = in_tables(program, "select sum(size_bytes) from practice_photo")[0][0]
    print(f"{PHOTOS} photos ({size / 1e6:.1f} MB as kept) on 1.6 Mbit/s, cut {CUTS} times:")
    print(f"  {seconds:.0f} s; {n} photos here, {different} of them different")
    page.context.close()


def _shell() -> list[Path]:
    """Return the page's script and the service worker, with everything that they import."""
    found = [BUNDLE.with_name("phone-app.js"), BUNDLE.with_name("phone-worker.js")]
    for one in found:
        named = map(one.with_name, IMPORTED.findall(one.read_text(encoding="utf-8")))
        found += [other for other in named if other not in found]
    return found


def main() -> None:
    """Measure, and print."""
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    app = BUNDLE.with_name("phone-app.js")
    if chromium is None or not app.is_file():
        print("no Chromium, or the scripts are not built (make bundle)")
        return
    size = sum(Path(f"{one}.gz").stat().st_size for one in _shell())
    print(f"page code, compressed, with all that it imports: {size / 1e3:.1f} kB")
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        subprocess.run(  # noqa: S603
            [sys.executable, str(TESTS / "browser" / "fill_home.py")],
            env={**os.environ, "SADDLEBENCH_HOME": str(home)},
            check=True,
        )
        program = Program(home=home, port=free_port(), warms=True)
        program.start()
        try:
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=chromium, args=list(QUIET))
                _start_and_keys(browser, program)
                _send_readings(browser, program)
                _send_photos(browser, program)
                browser.close()
            rounds = kill_and_look(chromium, program, Path(folder) / "profile", KILLS)
            lost = sum(len(one.lost) for one in rounds)
            print(f"browser killed {len(rounds)} times by its process's id in the middle of an entry:")
            print(f"  {len(rounds[-1].acknowledged)} readings had been said to be kept, {lost} of them lost")
            print(f"  sent afterwards, each once: {rounds[-1].sent_once}")
        finally:
            program.kill()


if __name__ == "__main__":
    main()
