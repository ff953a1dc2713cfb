"""From the button to the picture: a fit check asked for in a real browser, warm, several times.

Measured: from the click on “Run the fit check” until the first picture stands on the screen, and until the
check's own page with its findings does. Wanted: a picture within 3 s. The program is a process of its own.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

# First of all, so that the program finds the code compiled where every other run keeps it.
import saddlebench  # noqa: F401

REPEATS = 5
WARMING_S = 15.0
_BROWSER_TESTS = Path(__file__).resolve().parent.parent / "tests" / "browser"


def main() -> None:
    """Serve an invented practice, ask for checks, print a table."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        print("no Chromium on this machine: not measured")
        return
    sys.path[:0] = [str(_BROWSER_TESTS), str(_BROWSER_TESTS.parent)]
    from browser_program import QUIET, Program, free_port  # noqa: PLC0415
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    folder = Path(tempfile.mkdtemp(prefix="saddlebench-button-"))
    home = folder / "home"
    environment = {**os.environ, "SADDLEBENCH_HOME": str(home)}
    filled = [sys.executable, str(_BROWSER_TESTS / "study_home.py")]
    subprocess.run(filled, env=environment, check=True, capture_output=True)  # noqa: S603
    program = Program(home=home, port=free_port(), warms=True)
    program.start()
    # What a person needs to sign in: the compiled parts are loaded beside it.
    time.sleep(WARMING_S)
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=list(QUIET))
            print(f"{'':16} {'first picture':>14} {'findings':>9}   median of {REPEATS} [s]; the first, cold")
            for name, width, height in (("phone, 390 px", 390, 844), ("laptop, 1440 px", 1440, 900)):
                page = browser.new_page(
                    viewport={"width": width, "height": height}, base_url=program.url, locale="en-GB"
                )
                _sign_in(page)
                times = [_once(page) for _ in range(REPEATS + 1)]
                first, found = (median(one[n] for one in times[1:]) for n in (0, 1))
                cold = " / ".join(f"{one:.1f}" for one in times[0])
                print(f"{name:16} {first:14.2f} {found:9.2f}   {cold}")
            browser.close()
    finally:
        program.kill()
        shutil.rmtree(folder, ignore_errors=True)


def _sign_in(page) -> None:
    from browser_program import sign_in  # noqa: PLC0415

    sign_in(page)


def _once(page) -> tuple[float, float]:
    page.goto("/horses/?q=juniper")
    page.get_by_role("link", name=re.compile("^Juniper")).first.click()
    page.goto(f"{page.url}check/")
    page.get_by_label(re.compile("^Rider, dressed")).fill("72,5")
    page.get_by_role("group", name="Rocking").get_by_label("Fine").check()
    button = page.get_by_role("button", name="Run the fit check")
    begun = time.perf_counter()
    button.click(no_wait_after=True)
    shown = 0.0
    images = "[...document.querySelectorAll('.so-far img, #stage img')]"
    there = f"{images}.some(one => one.complete && one.naturalWidth > 0)"
    while True:
        try:
            if not shown and page.evaluate(there):
                shown = time.perf_counter() - begun
            if shown and page.locator("#findings").count():
                return shown, time.perf_counter() - begun
        except Exception:  # noqa: BLE001, S110
            # Between two pages there is nothing to ask.
            pass
        time.sleep(0.02)


if __name__ == "__main__":
    main()
