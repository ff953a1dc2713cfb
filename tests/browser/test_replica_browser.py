"""A back rebuilt elsewhere in a real browser: set at the bench, made as files, proved; at both widths."""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import Look, Program, all_pictures, follow, free_port, sign_in
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> tuple[Path, dict[str, str]]:
    """A data folder with a real back and rebuilds of it, and where they are."""
    home = tmp_path_factory.mktemp("rebuilt") / "home"
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("replica_home.py"))],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        check=True,
        capture_output=True,
        text=True,
    )
    return home, json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def program(
    filled: tuple[Path, dict[str, str]], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("served") / "home"
    shutil.copytree(filled[0], home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()


@pytest.fixture(params=["phone", "laptop"])
def page(request: pytest.FixtureRequest) -> Page:
    return request.getfixturevalue(request.param)


@pytest.fixture
def begun(filled: tuple[Path, dict[str, str]]) -> str:
    return f"/backs/{filled[1]['back']}/rebuild/"


def test_a_back_is_set_at_the_bench_from_its_own_page(page: Page, look: Look, begun: str) -> None:
    sign_in(page)
    page.goto(begun.removesuffix("rebuild/"))
    follow(page, page.get_by_role("link", name="Rebuild it elsewhere"))
    look(page, "replica-overview")
    page.get_by_role("link", name="Set it on an instrument").click()
    page.get_by_label("The instrument it is set on").select_option("chain-12x30")
    look(page, "replica-begin")
    follow(page, page.get_by_role("button", name="Work out the settings"))
    look(page, "replica-rebuild")
    follow(page, page.get_by_role("link", name=re.compile("Station 2")))
    expect(page.get_by_text("Nothing is set yet.")).to_be_visible()
    boxes = page.get_by_role("checkbox")
    for k in range(boxes.count()):
        boxes.nth(k).check()
    expect(page.get_by_text("Near enough.")).to_be_visible()
    typed = page.get_by_role("textbox", name=re.compile("joint 2, near: as set"))
    asked = page.locator(".set-reading").nth(1).inner_text().replace("−", "-")
    typed.fill(f"{float(asked) + 5:g}")
    typed.press("Tab")
    expect(page.get_by_text(re.compile("Move joint 2 on the near side by −5"))).to_be_visible()
    look(page, "replica-station")
    size = page.locator(".set-tick").first.bounding_box()
    assert size
    assert size["height"] >= 44
    # By the keyboard alone: the space bar takes a tick off, and the page says so.
    boxes.first.focus()
    boxes.first.press("Space")
    expect(page.get_by_text("1 still to set")).to_be_visible()
    page.reload()
    expect(page.get_by_text("1 still to set")).to_be_visible()
    assert boxes.nth(2).is_checked()
    assert typed.input_value() == f"{float(asked) + 5:g}"


@pytest.mark.parametrize("what", ["templates", "ribs", "solid"])
def test_a_part_is_drawn_before_it_is_made(page: Page, look: Look, begun: str, what: str) -> None:
    sign_in(page)
    page.goto(f"{begun}make/{what}/")
    all_pictures(page)
    assert page.evaluate("[...document.images].every(one => one.naturalWidth > 0)")
    look(page, f"replica-{what}")


def test_ribs_are_made_and_downloaded_one_by_one_and_in_one(page: Page, look: Look, begun: str) -> None:
    sign_in(page)
    page.goto(f"{begun}make/ribs/")
    page.get_by_label(re.compile("Board: how thick")).fill("60")
    page.get_by_role("button", name="Make the files").click()
    expect(page.get_by_text("outside 0.2 to 40 mm")).to_be_visible()
    page.get_by_label(re.compile("Board: how thick")).fill("4")
    page.get_by_role("button", name="Make the files").click()
    whole = page.get_by_role("link", name=re.compile("Everything in one file"))
    expect(whole).to_be_visible()
    look(page, "replica-made")
    with page.expect_download() as held:
        whole.click()
    assert held.value.suggested_filename == "juniper-ribs-2026-05-03.zip"
    with page.expect_download() as held:
        page.get_by_role("link", name=re.compile(r"\.dxf")).first.click()
    assert held.value.suggested_filename == "juniper-ribs-sheet-1.dxf"


def test_a_kit_is_asked_for_and_a_rebuild_proved(
    page: Page, look: Look, begun: str, filled: tuple[Path, dict[str, str]]
) -> None:
    sign_in(page)
    page.goto(f"{begun}make/kit/")
    look(page, "replica-kit")
    page.goto(f"{begun}prove/")
    look(page, "replica-prove")
    page.goto(filled[1]["check"])
    expect(page.get_by_text("Move station 4.")).to_be_visible()
    look(page, "replica-check")
    page.goto(f"{begun}prove/")
    page.get_by_role("button", name="Begin measuring").click()
    expect(page.get_by_role("heading", name="A rebuild of Juniper’s back")).to_be_visible()
    look(page, "replica-measuring")
